/* SPDX-License-Identifier: MIT */
/* stored_documents.h - bodies as they were sent, which of them is the document in force, and why it
 * was replaced. What is added is added inside a transaction. See store.h for results and threads.
 */
#ifndef CAIRN_STORED_DOCUMENTS_H
#define CAIRN_STORED_DOCUMENTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct store;

/* Adds a body that was sent or read.
 *   received_ms  since 1970
 *   source       how it came: "http", "import"
 *   key_id       0 for none
 *   kind         a document's name, "readings", "decisions" or "notice"
 *   body         borrowed, `len` bytes
 *   id           gets the row's id; may be NULL */
int store_add_upload(struct store *store, int64_t received_ms, const char *source, int64_t key_id,
                     const char *kind, const char *media_type, const void *body, size_t len,
                     int64_t *id);

/* Puts an upload in force as the document of that name: event.json, entries.csv or starts.csv. An
 * empty one takes an earlier one out of force. */
int store_add_document(struct store *store, const char *name, int64_t upload_id);

/* The document in force. Returns ERR_OK; ERR_UNKNOWN where there is none. The caller frees. */
int store_document(struct store *store, const char *name, char **text, size_t *len);

/* Whether a document has ever been in force with exactly this text. */
int store_document_known(struct store *store, const char *name, const char *text, size_t len,
                         bool *known);

/* Who replaced a document and why, and from which day on it is so; "" where nobody said. */
struct change_note {
    const char *made_by, *reason, *since;
};

/* Adds one to the upload that the document came with. */
int store_add_change_note(struct store *store, const struct change_note *note, int64_t upload_id);

#endif
