-- SPDX-License-Identifier: MIT
-- Notices are sealed: each holds the bytes that were signed, their hash and the signature.
-- Enquiries and protests of crews are cases: opened once, answered once.

-- "bulletin", or a classification. Notices of a file made before have no seal.
ALTER TABLE notice ADD COLUMN kind TEXT NOT NULL DEFAULT 'bulletin'
    CHECK (kind IN ('bulletin', 'provisional', 'final'));
ALTER TABLE notice ADD COLUMN content BLOB;             -- canonical JSON, as it was signed
ALTER TABLE notice ADD COLUMN hash BLOB;                -- SHA-256 of content, 32 bytes
ALTER TABLE notice ADD COLUMN signature BLOB;           -- Ed25519 of content, 64 bytes
ALTER TABLE notice ADD COLUMN signer BLOB;              -- the public key, 32 bytes
ALTER TABLE notice ADD COLUMN protest_until_ms INTEGER; -- of a provisional classification
ALTER TABLE notice ADD COLUMN supersedes INTEGER REFERENCES notice (id);
ALTER TABLE notice ADD COLUMN basis TEXT NOT NULL DEFAULT ''; -- the facts that it was made from

-- What a crew asks of the office, as it was sent.
CREATE TABLE enquiry (
    id        INTEGER PRIMARY KEY,         -- its number, from 1
    opened_ms INTEGER NOT NULL,
    key_id    INTEGER REFERENCES key (id), -- who wrote it down
    kind      TEXT NOT NULL CHECK (kind IN ('enquiry', 'protest')),
    car       TEXT NOT NULL,               -- its number
    point     TEXT NOT NULL,               -- what it is about; "" where it is no one point
    text      TEXT NOT NULL CHECK (text <> ''),
    body      BLOB NOT NULL                -- every byte that was sent
) STRICT;

CREATE TABLE enquiry_answer (
    enquiry_id  INTEGER PRIMARY KEY REFERENCES enquiry (id),
    answered_ms INTEGER NOT NULL,
    key_id      INTEGER REFERENCES key (id),
    outcome     TEXT NOT NULL CHECK (outcome IN ('answered', 'upheld', 'rejected', 'withdrawn')),
    text        TEXT NOT NULL CHECK (text <> ''),
    body        BLOB NOT NULL
) STRICT;

CREATE TRIGGER enquiry_stays BEFORE UPDATE ON enquiry
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER enquiry_kept BEFORE DELETE ON enquiry
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
CREATE TRIGGER answer_stays BEFORE UPDATE ON enquiry_answer
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER answer_kept BEFORE DELETE ON enquiry_answer
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
