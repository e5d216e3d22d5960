/* SPDX-License-Identifier: MIT */
/* Notices and their seals. */
#include <sodium.h>
#include <string.h>

#include "base/err.h"
#include "live/etag.h"
#include "live/notice_draft.h"
#include "live/writer_private.h"
#include "store/signing.h"
#include "store/stored_notices.h"

/* The facts that a classification is made from: the lengths of the logs, which only grow, and a
 * hash over the documents. */
static void write_made_from(const struct writer *w, struct textbuf *b) {
    const struct documents *documents = &w->shared->documents;
    const struct sent_document *sent[] = {&documents->rules, &documents->entries,
                                          &documents->starts};
    crypto_hash_sha256_state state;
    unsigned char hash[crypto_hash_sha256_BYTES];
    char hex[2 * sizeof hash + 1];
    (void)crypto_hash_sha256_init(&state);
    for (size_t i = 0; i < sizeof sent / sizeof sent[0]; i++) {
        uint64_t len = sent[i]->len;
        (void)crypto_hash_sha256_update(&state, (const unsigned char *)&len, sizeof len);
        if (len > 0)
            (void)crypto_hash_sha256_update(&state, (const unsigned char *)sent[i]->text, len);
    }
    (void)crypto_hash_sha256_final(&state, hash);
    (void)sodium_bin2hex(hex, sizeof hex, hash, sizeof hash);
    textbuf_printf(b, "readings=%d decisions=%d documents=%s", readings_count(w->model->readings),
                   decisions_count(w->model->decisions), hex);
}

bool writer_is_final(const struct writer *w) {
    const struct stored_notice *last = notice_draft_last_classification(w->notices);
    struct textbuf now = {0};
    if (last == NULL || strcmp(last->kind, "final") != 0)
        return false;
    write_made_from(w, &now);
    bool same = !now.failed && strcmp(textbuf_text(&now), last->made_from) == 0;
    textbuf_clear(&now);
    return same;
}

/* ---- what stands in its way ---- */

static int list_obstacles(const struct writer *w, const struct snapshot *s, bool final, int64_t now,
                          struct textbuf *why) {
    struct obstacles obstacles;
    int err = obstacles_find(w->notices, s, final, now, &obstacles);
    for (size_t i = 0; err == ERR_OK && i < obstacles.count; i++)
        textbuf_printf(why, "%s\n", obstacles.list[i].text);
    if (err == ERR_OK && obstacles.doubts > DOUBTS_TOLD)
        textbuf_printf(why, "%zu more are doubtful\n", obstacles.doubts - DOUBTS_TOLD);
    obstacles_clear(&obstacles);
    return err == ERR_OK && why->failed ? ERR_NOMEM : err;
}

/* ---- making it ---- */

static int seal(struct writer *w, struct stored_notice *notice, struct textbuf *why) {
    unsigned char seed[SEAL_SEED_LEN];
    int err = signing_seed(w->data_dir, w->served->slug, seed, why);
    if (err == ERR_OK)
        seal_make(&notice->seal, seed, notice->content, strlen(notice->content));
    sodium_memzero(seed, sizeof seed);
    /* A wrong signing key is the server's fault, not the sender's. */
    return err == ERR_INPUT ? ERR_IO : err;
}

/* Makes and seals it; `made_from` gets the facts that a classification is made from. */
static int make_notice(struct transaction *t, const struct notice_draft_request *request,
                       const struct snapshot *s, struct notice_draft *draft,
                       struct textbuf *made_from, struct textbuf *why) {
    if (strcmp(request->kind, "bulletin") != 0)
        write_made_from(t->w, made_from);
    int err = notice_draft_make(request, t->w->notices, s, t->now, draft);
    draft->notice.made_from = (char *)textbuf_text(made_from);
    if (err == ERR_OK && made_from->failed)
        err = ERR_NOMEM;
    return err == ERR_OK ? seal(t->w, &draft->notice, why) : err;
}

static int add_notice(struct transaction *t, struct notice_write *write,
                      const struct notice_draft_request *request, const struct snapshot *s) {
    struct notice_draft draft = {0};
    struct textbuf made_from = {0};
    int64_t upload = 0;
    int err = make_notice(t, request, s, &draft, &made_from, &write->head.why);
    if (err == ERR_OK)
        err = transaction_add_upload(t, &write->head, &write->body, &upload);
    if (err == ERR_OK)
        err = store_add_notice(t->w->store, &draft.notice, upload);
    t->stores = t->office = t->public = t->notices = true;
    write->number = draft.notice.number;
    notice_draft_clear(&draft);
    textbuf_clear(&made_from);
    return err;
}

static int take_notice(struct transaction *t, struct write *head) {
    struct writer *w = t->w;
    struct notice_write *write = notice_write_of(head);
    const struct snapshot *s = atomic_load(&w->served->slot.current);
    const struct notice_draft_request request = {w->served->slug, write->kind, write->title,
                                                 write->text};
    int err = ERR_OK;
    /* A notice is sealed only of results that everybody sees: a snapshot of the last revision. */
    if (s->office_results.revision != w->office_revision)
        return ERR_BUSY;
    if (*head->if_match != '\0' && !etag_is_revision(head->if_match, w->office_revision))
        return write_decline(head, WRITE_STALE);
    if (strcmp(write->kind, "bulletin") != 0)
        err = list_obstacles(w, s, strcmp(write->kind, "final") == 0, t->now, &head->why);
    if (err != ERR_OK)
        return err;
    if (head->why.len > 0)
        return write_decline(head, WRITE_NOT_YET);
    return add_notice(t, write, &request, s);
}

const struct write_operations notice_operations = {
    .upload = "notice", .sort = UPLOAD_OTHER, .take = take_notice, .count = writer_count_one};
