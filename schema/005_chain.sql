-- SPDX-License-Identifier: MIT
-- Each fact carries a link of a chain, so that a bit that turned over on the disk is found and
-- named; and the file knows whether it is the first of its event or stands by for another server.
--
-- A link is BLAKE2b, 16 bytes, of the table's name, the link of the row before (none where rows
-- are not added in the order of their keys), the row's key and its columns: see
-- server/store/chain.c. The program writes it with the row. A row without one was put in by
-- something else, and is told like a damaged one.

ALTER TABLE upload          ADD COLUMN chain BLOB;
ALTER TABLE document        ADD COLUMN chain BLOB;
ALTER TABLE reading         ADD COLUMN chain BLOB;
ALTER TABLE decision        ADD COLUMN chain BLOB;
ALTER TABLE key             ADD COLUMN chain BLOB;
ALTER TABLE key_revocation  ADD COLUMN chain BLOB;
ALTER TABLE notice          ADD COLUMN chain BLOB;
ALTER TABLE revision        ADD COLUMN chain BLOB;
ALTER TABLE enquiry         ADD COLUMN chain BLOB;
ALTER TABLE enquiry_answer  ADD COLUMN chain BLOB;
ALTER TABLE code_secret     ADD COLUMN chain BLOB;
ALTER TABLE code_renewal    ADD COLUMN chain BLOB;
ALTER TABLE refusal         ADD COLUMN chain BLOB;
ALTER TABLE acknowledgement ADD COLUMN chain BLOB;
ALTER TABLE change_note     ADD COLUMN chain BLOB;

-- The last links of reading, decision and document at that revision, in one hash: so that rows
-- missing at a table's end are found too. NULL in revisions before this version but the last.
ALTER TABLE revision ADD COLUMN heads BLOB;

-- Whether this file is its event's first, or stands by. The latest row counts; without one it is
-- first, of epoch 1. Each takeover begins a new epoch, by which the facts of a first server that
-- went on alone are told from those before.
CREATE TABLE epoch (
    id      INTEGER PRIMARY KEY,
    number  INTEGER NOT NULL,              -- from 1
    state   TEXT NOT NULL CHECK (state IN ('first', 'standby')),
    made_ms INTEGER NOT NULL,
    chain   BLOB
) STRICT;

-- A row without a link may be given one, as this migration does; nothing else changes a row.
DROP TRIGGER upload_stays;
DROP TRIGGER reading_stays;
DROP TRIGGER decision_stays;
DROP TRIGGER notice_stays;
DROP TRIGGER key_stays;
DROP TRIGGER enquiry_stays;
DROP TRIGGER answer_stays;
DROP TRIGGER secret_stays;
DROP TRIGGER renewal_stays;
DROP TRIGGER refusal_stays;
DROP TRIGGER acknowledgement_stays;
DROP TRIGGER note_stays;

CREATE TRIGGER upload_stays BEFORE UPDATE ON upload WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER document_stays BEFORE UPDATE ON document WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER document_kept BEFORE DELETE ON document
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
CREATE TRIGGER reading_stays BEFORE UPDATE ON reading WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER decision_stays BEFORE UPDATE ON decision WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER key_stays BEFORE UPDATE ON key WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER revocation_stays BEFORE UPDATE ON key_revocation WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER notice_stays BEFORE UPDATE ON notice WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER revision_stays BEFORE UPDATE OF office, public, committed_ms, chain ON revision
WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER revision_kept BEFORE DELETE ON revision
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
CREATE TRIGGER enquiry_stays BEFORE UPDATE ON enquiry WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER answer_stays BEFORE UPDATE ON enquiry_answer WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER secret_stays BEFORE UPDATE ON code_secret WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER renewal_stays BEFORE UPDATE ON code_renewal WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER refusal_stays BEFORE UPDATE ON refusal WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER acknowledgement_stays BEFORE UPDATE ON acknowledgement WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER note_stays BEFORE UPDATE ON change_note WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER epoch_stays BEFORE UPDATE ON epoch WHEN old.chain IS NOT NULL OR new.chain IS NULL
BEGIN SELECT RAISE (ABORT, 'facts are never changed'); END;
CREATE TRIGGER epoch_kept BEFORE DELETE ON epoch
BEGIN SELECT RAISE (ABORT, 'facts are never deleted'); END;
