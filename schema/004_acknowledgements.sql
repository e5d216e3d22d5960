-- SPDX-License-Identifier: MIT
-- What the office has to know besides the facts themselves: rows that were refused, doubts that
-- somebody looked at and left as they are, and why a document was replaced.

-- A reading that was not taken, as it was written, and what its sender was told. Rules may change
-- later, so the reason could not be worked out again.
CREATE TABLE refusal (
    id         INTEGER PRIMARY KEY,
    upload_id  INTEGER NOT NULL REFERENCES upload (id),
    row        INTEGER NOT NULL,           -- of the upload's rows, from 1
    case_id    TEXT NOT NULL,              -- the same for the same row, reason and key
    point      TEXT NOT NULL,
    car        TEXT NOT NULL,
    time       TEXT NOT NULL,
    elapsed    TEXT NOT NULL,
    faults     TEXT NOT NULL,
    reading_id TEXT NOT NULL,              -- given, or what it would have been
    reason     TEXT NOT NULL CHECK (reason <> '')
) STRICT;

-- A doubtful thing that needs no ruling, looked at by a person. The latest row of a case counts.
-- The case follows from the evidence: other evidence is another case.
CREATE TABLE acknowledgement (
    id      INTEGER PRIMARY KEY,
    made_ms INTEGER NOT NULL,
    key_id  INTEGER REFERENCES key (id),   -- whose key, NULL where another server took it
    case_id TEXT NOT NULL,
    state   TEXT NOT NULL CHECK (state IN ('acknowledged', 'reopened')),
    car     TEXT NOT NULL,                 -- as the case names it; "" where it names none
    point   TEXT NOT NULL,
    title   TEXT NOT NULL,                 -- what was doubtful, in words
    made_by TEXT NOT NULL,
    reason  TEXT NOT NULL CHECK (reason <> '')
) STRICT;

-- Who replaced a document and why, and from which day on it is so (YYYY-MM-DD, or "").
CREATE TABLE change_note (
    upload_id INTEGER PRIMARY KEY REFERENCES upload (id),
    made_by   TEXT NOT NULL,
    reason    TEXT NOT NULL,
    since     TEXT NOT NULL
) STRICT;

CREATE INDEX acknowledgement_by_case ON acknowledgement (case_id, id);

CREATE TRIGGER refusal_stays BEFORE UPDATE ON refusal
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER refusal_kept BEFORE DELETE ON refusal
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
CREATE TRIGGER acknowledgement_stays BEFORE UPDATE ON acknowledgement
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER acknowledgement_kept BEFORE DELETE ON acknowledgement
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
CREATE TRIGGER note_stays BEFORE UPDATE ON change_note
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER note_kept BEFORE DELETE ON change_note
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
