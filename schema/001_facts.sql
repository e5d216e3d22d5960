-- SPDX-License-Identifier: MIT
-- One event is one file. Everything in it is a fact that was told to the program, and facts are
-- only ever added: triggers refuse to change or delete them. Standings are worked out in memory
-- from these tables and are stored nowhere.
--
-- Units: *_ms are milliseconds since 1970-01-01T00:00:00Z; times of readings and values of
-- decisions are kept as they were written.

-- What was sent, whatever came of it: the raw body of every import and every write over HTTP.
CREATE TABLE upload (
    id          INTEGER PRIMARY KEY,
    received_ms INTEGER NOT NULL,           -- when it was complete
    source      TEXT NOT NULL               -- "import", or "http"
                CHECK (source IN ('import', 'http')),
    key_id      INTEGER REFERENCES key (id),-- whose key, NULL for an import
    kind        TEXT NOT NULL               -- what it was meant to be
                CHECK (kind IN ('event.json', 'entries.csv', 'starts.csv', 'readings', 'decisions',
                                'notice')),
    media_type  TEXT NOT NULL,              -- as sent
    body        BLOB NOT NULL               -- every byte of it
) STRICT;

-- Documents in force: the latest row of each name. The text is the upload's body.
CREATE TABLE document (
    id        INTEGER PRIMARY KEY,
    name      TEXT NOT NULL CHECK (name IN ('event.json', 'entries.csv', 'starts.csv')),
    upload_id INTEGER NOT NULL REFERENCES upload (id)
) STRICT;

-- Accepted readings, each field as it was written; an empty text is a field not given.
CREATE TABLE reading (
    seq       INTEGER PRIMARY KEY,          -- order of arrival, from 1
    id        TEXT NOT NULL UNIQUE,         -- given, or derived from the other fields
    given_id  TEXT NOT NULL,                -- as written, "" where derived
    point     TEXT NOT NULL,
    car       TEXT NOT NULL,
    time      TEXT NOT NULL,
    elapsed   TEXT NOT NULL,
    faults    TEXT NOT NULL,
    made_at   TEXT NOT NULL,                -- RFC 3339, when the record was made
    made_by   TEXT NOT NULL,
    replaces  TEXT NOT NULL,
    void      TEXT NOT NULL,
    reason    TEXT NOT NULL,
    extras    TEXT,                         -- JSON object of columns that nobody knows, or NULL
    upload_id INTEGER NOT NULL REFERENCES upload (id)
) STRICT;

-- Accepted decisions, each field as it was written.
CREATE TABLE decision (
    seq       INTEGER PRIMARY KEY,
    id        TEXT NOT NULL UNIQUE,
    given_id  TEXT NOT NULL,
    kind      TEXT NOT NULL,
    car       TEXT NOT NULL,
    point     TEXT NOT NULL,
    value     TEXT NOT NULL,
    reason    TEXT NOT NULL CHECK (reason <> ''),
    made_at   TEXT NOT NULL,
    made_by   TEXT NOT NULL,
    extras    TEXT,
    upload_id INTEGER NOT NULL REFERENCES upload (id)
) STRICT;

-- Keys for writing. Only a hash is kept: whoever reads this file cannot write with it.
CREATE TABLE key (
    id         INTEGER PRIMARY KEY,
    hash       BLOB NOT NULL UNIQUE,        -- BLAKE2b of the key, 32 bytes
    role       TEXT NOT NULL CHECK (role IN ('organiser', 'timekeeper')),
    points     TEXT NOT NULL,               -- comma-separated ids of points and items; "" for all
    label      TEXT NOT NULL,               -- whose, for people
    created_ms INTEGER NOT NULL
) STRICT;

CREATE TABLE key_revocation (
    key_id     INTEGER PRIMARY KEY REFERENCES key (id),
    revoked_ms INTEGER NOT NULL
) STRICT;

-- What is posted on the noticeboard.
CREATE TABLE notice (
    id        INTEGER PRIMARY KEY,          -- its number, from 1
    posted_ms INTEGER NOT NULL,
    title     TEXT NOT NULL CHECK (title <> ''),
    body      TEXT NOT NULL,
    upload_id INTEGER NOT NULL REFERENCES upload (id)
) STRICT;

-- A row a commit that changed anything. `office` counts them all; `public` counts those of which
-- the public could see something, so that what is hidden does not even show as a number.
CREATE TABLE revision (
    office       INTEGER PRIMARY KEY,
    public       INTEGER NOT NULL,
    committed_ms INTEGER NOT NULL
) STRICT;

CREATE INDEX document_by_name ON document (name, id);

CREATE TRIGGER upload_stays BEFORE UPDATE ON upload
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER upload_kept BEFORE DELETE ON upload
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
CREATE TRIGGER reading_stays BEFORE UPDATE ON reading
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER reading_kept BEFORE DELETE ON reading
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
CREATE TRIGGER decision_stays BEFORE UPDATE ON decision
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER decision_kept BEFORE DELETE ON decision
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
CREATE TRIGGER notice_stays BEFORE UPDATE ON notice
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER notice_kept BEFORE DELETE ON notice
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
CREATE TRIGGER key_stays BEFORE UPDATE ON key
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER key_kept BEFORE DELETE ON key
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
CREATE TRIGGER revocation_kept BEFORE DELETE ON key_revocation
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
