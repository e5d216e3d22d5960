/* SPDX-License-Identifier: MIT */
/* store_chain.h - the chain of hashes over the facts of an event file: what goes into each link,
 * and checking a file by them. For the files of the store only.
 *
 * A link is BLAKE2b, 16 bytes, over the table's name, the link of the row before (none where rows
 * are not added in the order of their keys), the row's key and its columns, each with its type and
 * its length. SQL asks for it by the function `chained(table, link before, key, columns...)`. */
#ifndef CAIRN_STORE_CHAIN_H
#define CAIRN_STORE_CHAIN_H

#include "store/store_private.h"

/* The columns of each table that go into its links, without the key. They and their order never
 * change: a new column gets no link, or a table of its own. */
#define UPLOAD_COLUMNS "received_ms, source, key_id, kind, media_type, body"
#define DOCUMENT_COLUMNS "name, upload_id"
#define READING_COLUMNS                                                                            \
    "id, given_id, point, car, time, elapsed, faults, made_at, made_by, replaces, void, reason,"   \
    " extras, upload_id"
#define DECISION_COLUMNS                                                                           \
    "id, given_id, kind, car, point, value, reason, made_at, made_by, extras, upload_id"
#define KEY_COLUMNS "hash, role, points, label, created_ms"
#define REVOCATION_COLUMNS "revoked_ms"
#define NOTICE_COLUMNS                                                                             \
    "posted_ms, title, body, upload_id, kind, content, hash, signature, signer,"                   \
    " protest_until_ms, supersedes, basis"
#define REVISION_COLUMNS "public, committed_ms, heads"
#define ENQUIRY_COLUMNS "opened_ms, key_id, kind, car, point, text, body, source"
#define ANSWER_COLUMNS "answered_ms, key_id, outcome, text, body"
#define SECRET_COLUMNS "made_ms, secret"
#define RENEWAL_COLUMNS "car, serial, renewed_ms, key_id"
#define REFUSAL_COLUMNS                                                                            \
    "upload_id, row, case_id, point, car, time, elapsed, faults, reading_id, reason"
#define ACKNOWLEDGEMENT_COLUMNS                                                                    \
    "made_ms, key_id, case_id, state, car, point, title, made_by, reason"
#define NOTE_COLUMNS "made_by, reason, since"
#define EPOCH_COLUMNS "number, state, made_ms"

/* The key that a new row gets, and the link that its own is made from. */
#define NEXT_KEY(table, key) "(SELECT coalesce(max(" key "), 0) + 1 FROM " table ")"
#define LAST_LINK(table, key) "(SELECT chain FROM " table " ORDER BY " key " DESC LIMIT 1)"
/* The last links of what is scored, in one hash. */
#define HEADS                                                                                      \
    "chained('heads', NULL, " LAST_LINK("reading", "seq") ", " LAST_LINK(                          \
        "decision", "seq") ", " LAST_LINK("document", "id") ")"

/* An INSERT that makes the link as it goes: of a row whose key is the next, and of one whose key
 * the caller has. */
#define ADD_LINKED(table, key, columns, values)                                                    \
    ADD_KEYED(table, key, NEXT_KEY(table, key), LAST_LINK(table, key), columns, values)
#define ADD_KEYED(table, key, its_key, before, columns, values)                                    \
    "INSERT INTO " table " (" key ", " columns ", chain) VALUES (" its_key ", " values             \
    ", chained('" table "', " before ", " its_key ", " values "))"

/* Makes the function `chained` known to a connection. Returns ERR_OK or ERR_NOMEM. */
int store_chain_init(struct store *store);

/* Whether a file holds these rows, each with its link.
 * Returns: ERR_OK; ERR_INPUT, ERR_IO, ERR_BUSY, ERR_NOMEM of the engine. */
int store_chain_reaches(struct store *store, const struct fact_end ends[FACT_TABLES],
                        bool *reaches);

/* Gives every row of a file from before the chain its link; inside the migration's transaction. */
int store_chain_all(struct store *store);

#endif
