-- SPDX-License-Identifier: MIT
-- Codes by which crews ask the office. None is stored: each is worked out from the event's secret,
-- the car's number and how often its code was renewed.

-- The latest row is in force; all codes change with it.
CREATE TABLE code_secret (
    id      INTEGER PRIMARY KEY,
    made_ms INTEGER NOT NULL,
    secret  BLOB NOT NULL UNIQUE CHECK (length (secret) = 32)
) STRICT;

-- Each row makes a new code for one car: the one before was lost, or seen by others.
CREATE TABLE code_renewal (
    id         INTEGER PRIMARY KEY,
    car        INTEGER NOT NULL,           -- its number
    serial     INTEGER NOT NULL,           -- from 1; 0 is the first code, which needs no row
    renewed_ms INTEGER NOT NULL,
    key_id     INTEGER REFERENCES key (id),-- whose key, NULL on the command line
    UNIQUE (car, serial)
) STRICT;

-- Who opened a case. What a crew sent is kept in `body` without its code.
ALTER TABLE enquiry ADD COLUMN source TEXT NOT NULL DEFAULT 'office'
    CHECK (source IN ('office', 'crew'));

CREATE TRIGGER secret_stays BEFORE UPDATE ON code_secret
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER secret_kept BEFORE DELETE ON code_secret
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
CREATE TRIGGER renewal_stays BEFORE UPDATE ON code_renewal
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER renewal_kept BEFORE DELETE ON code_renewal
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
