/* SPDX-License-Identifier: MIT */
/* Notices and their seals, and the cases of crews. */
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "format/json_write.h"
#include "live/etag.h"
#include "live/notice_draft.h"
#include "live/writer_private.h"
#include "store/signing.h"
#include "system/hard_limits.h"
#include "system/system_clock.h"

/* The facts that a classification is made from: how many of the logs, which only grow, and the
 * documents by their hash. */
static void write_basis(const struct writer *w, struct textbuf *b) {
    const struct documents *documents = &w->shared->documents;
    const struct sent_document *papers[] = {&documents->rules, &documents->entries,
                                            &documents->starts};
    crypto_hash_sha256_state state;
    unsigned char hash[crypto_hash_sha256_BYTES];
    char hex[2 * sizeof hash + 1];
    (void)crypto_hash_sha256_init(&state);
    for (size_t i = 0; i < sizeof papers / sizeof papers[0]; i++) {
        uint64_t len = papers[i]->len;
        (void)crypto_hash_sha256_update(&state, (const unsigned char *)&len, sizeof len);
        if (len > 0)
            (void)crypto_hash_sha256_update(&state, (const unsigned char *)papers[i]->text, len);
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
    write_basis(w, &now);
    bool same = !now.failed && strcmp(textbuf_text(&now), last->basis) == 0;
    textbuf_clear(&now);
    return same;
}

/* ---- notices ---- */

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

static int seal(struct writer *w, struct stored_notice *notice, struct textbuf *why) {
    unsigned char seed[SEAL_SEED_LEN];
    int err = signing_seed(w->data_dir, w->served->slug, seed, why);
    if (err == ERR_OK)
        seal_make(&notice->seal, seed, notice->content, strlen(notice->content));
    sodium_memzero(seed, sizeof seed);
    return err == ERR_INPUT ? ERR_IO : err; /* the machine's matter, not the sender's */
}

/* Makes and seals it; `basis` gets the facts that a classification is made from. */
static int make_notice(struct writer *w, struct write *write, const struct snapshot *s, int64_t now,
                       struct notice_draft *p, struct textbuf *basis) {
    const char *const *fields = write->upload.rows[0].fields;
    const char *kind = *fields[2] == '\0' ? "bulletin" : fields[2];
    struct notice_draft_order order = {w->served->slug, kind, fields[0], fields[1]};
    bool bulletin = strcmp(kind, "bulletin") == 0;
    int err = ERR_OK;
    if (!bulletin)
        err = list_obstacles(w, s, strcmp(kind, "final") == 0, now, &write->why);
    if (err != ERR_OK || write->why.len > 0)
        return err == ERR_OK ? ERR_CONFLICT : err;
    if (!bulletin)
        write_basis(w, basis);
    err = notice_draft_make(&order, w->notices, s, now, p);
    p->notice.basis = (char *)textbuf_text(basis);
    if (err == ERR_OK && basis->failed)
        err = ERR_NOMEM;
    return err == ERR_OK ? seal(w, &p->notice, &write->why) : err;
}

static int post_notice(struct writer *w, struct write *write, const struct snapshot *s, int64_t now,
                       const struct stored_key *key) {
    struct notice_draft p = {0};
    struct textbuf basis = {0};
    int64_t upload = 0;
    int err = make_notice(w, write, s, now, &p, &basis);
    if (err == ERR_OK)
        err = store_add_upload(w->store, now, "http", key->id, writer_upload_kind(write->kind),
                               write->media_type, write->body, write->len, &upload);
    if (err == ERR_OK)
        err = store_add_notice(w->store, &p.notice, upload);
    write->number = p.notice.number;
    notice_draft_clear(&p);
    textbuf_clear(&basis);
    return err;
}

/* ---- cases ---- */

static int open_case(struct writer *w, struct write *write, int64_t now,
                     const struct stored_key *key) {
    const char *const *fields = write->upload.rows[0].fields;
    const struct model *model = w->model;
    struct stored_enquiry e = {.opened_ms = now,
                               .kind = (char *)fields[0],
                               .car = (char *)fields[1],
                               .point = (char *)fields[2],
                               .text = (char *)fields[3]};
    int64_t number = 0;
    if (decimal_parse_whole(fields[1], 1, NUMBER_MAX, &number) != ERR_OK ||
        entries_find(model->entries, number) < 0)
        textbuf_printf(&write->why, "car: “%s” is not in the entry list\n", fields[1]);
    if (*fields[2] != '\0' && strmap_get(&model->rules->point_by_id, fields[2]) < 0 &&
        strmap_get(&model->rules->item_by_id, fields[2]) < 0)
        textbuf_printf(&write->why, "point: “%s” is not on the route\n", fields[2]);
    if (write->why.len > 0)
        return ERR_INPUT;
    return store_add_enquiry(w->store, &e, key->id, write->body, write->len, &write->number);
}

static int answer_case(struct writer *w, struct write *write, int64_t now,
                       const struct stored_key *key) {
    const char *const *fields = write->upload.rows[0].fields;
    struct stored_enquiry e = {.number = write->number,
                               .answered_ms = now,
                               .outcome = (char *)fields[0],
                               .answer = (char *)fields[1]};
    for (size_t i = 0; i < w->notices->enquiry_count; i++) {
        if (w->notices->enquiries[i].number != write->number)
            continue;
        if (w->notices->enquiries[i].answered_ms == 0)
            return store_add_answer(w->store, &e, key->id, write->body, write->len);
        textbuf_printf(&write->why, "case %lld is answered already\n", (long long)write->number);
        return ERR_CONFLICT;
    }
    textbuf_printf(&write->why, "there is no case %lld\n", (long long)write->number);
    return ERR_INPUT;
}

/* What a crew sent, as it is kept: without its code. */
static void write_kept(struct textbuf *b, const struct crew_enquiry *asked) {
    textbuf_puts(b, "{\"point\":");
    json_write_text(b, asked->point);
    textbuf_puts(b, ",\"text\":");
    json_write_text(b, asked->text);
    textbuf_putc(b, '}');
}

/* A crew on a bad line sends again: what is asked and not answered yet is not asked twice. */
static int open_crew_case(struct writer *w, struct write *write, int64_t now) {
    const struct crew_enquiry *asked = &write->crew;
    const struct code_book *book = &w->keys->codes;
    struct textbuf kept = {0};
    char car[24];
    int open = 0;
    if (!crew_code_is(book->secret, asked->car, code_book_serial(book, asked->car), asked->code) ||
        entries_find(w->model->entries, asked->car) < 0)
        return ERR_UNKNOWN;
    (void)snprintf(car, sizeof car, "%lld", (long long)asked->car);
    for (size_t i = 0; i < w->notices->enquiry_count; i++) {
        const struct stored_enquiry *e = &w->notices->enquiries[i];
        if (e->answered_ms != 0 || stored_enquiry_car(e) != asked->car)
            continue;
        open++;
        if (e->by_crew && strcmp(e->point, asked->point) == 0 &&
            strcmp(e->text, asked->text) == 0) {
            write->number = e->number;
            write->at_ms = e->opened_ms;
            write->duplicates = 1;
            return ERR_OK;
        }
    }
    if (open >= LIMIT_OPEN_CASES) {
        textbuf_printf(&write->why, "%d enquiries of car %s wait for an answer already\n", open,
                       car);
        return ERR_CONFLICT;
    }
    struct stored_enquiry e = {.opened_ms = now,
                               .by_crew = true,
                               .kind = (char *)"enquiry",
                               .car = car,
                               .point = (char *)asked->point,
                               .text = (char *)asked->text};
    write_kept(&kept, asked);
    int err = kept.failed
                  ? ERR_NOMEM
                  : store_add_enquiry(w->store, &e, 0, kept.bytes, kept.len, &write->number);
    write->at_ms = now;
    textbuf_clear(&kept);
    return err;
}

static int renew_code(struct writer *w, struct write *write, int64_t now,
                      const struct stored_key *key) {
    struct code_renewal renewal = {.car = write->number,
                                   .serial = code_book_serial(&w->keys->codes, write->number) + 1,
                                   .renewed_ms = now};
    write->serial = renewal.serial;
    return store_add_renewal(w->store, &renewal, key->id);
}

static int take(struct writer *w, struct write *write, int64_t now) {
    const struct stored_key *key = writer_key_of(w, write);
    const struct snapshot *s = atomic_load(&w->served->slot.current);
    if (write->kind == WRITE_CREW_ENQUIRY)
        return open_crew_case(w, write, now);
    if (key == NULL || !key->organiser)
        return ERR_UNKNOWN;
    if (write->kind == WRITE_RENEW_CODE)
        return renew_code(w, write, now, key);
    if (write->kind == WRITE_ACKNOWLEDGE)
        return writer_acknowledge(w, write, now, key);
    /* What is sealed is what everybody sees. */
    if (s->office_results.revision != w->office_revision)
        return ERR_BUSY;
    if (write->kind == WRITE_NOTICE && *write->if_match != '\0' &&
        !etag_is_revision(write->if_match, w->office_revision)) {
        write->result = WRITE_STALE;
        return ERR_CONFLICT;
    }
    if (write->kind == WRITE_NOTICE)
        return post_notice(w, write, s, now, key);
    return write->kind == WRITE_ENQUIRY ? open_case(w, write, now, key)
                                        : answer_case(w, write, now, key);
}

void writer_work_notice(struct writer *w, struct write *write) {
    int64_t now = now_ms();
    bool shows = write->kind == WRITE_NOTICE;
    int err = writer_begin(w);
    bool begun = err == ERR_OK;
    if (err == ERR_OK)
        err = take(w, write, now);
    bool fresh = write->duplicates == 0;
    if (err == ERR_OK && fresh)
        err = store_add_revision(w->store, w->office_revision + 1,
                                 w->public_revision + (shows ? 1 : 0), now);
    if (err == ERR_OK && fresh)
        err = store_commit(w->store);
    else if (begun)
        store_rollback(w->store);
    if (err == ERR_OK && fresh) {
        w->office_revision++;
        w->office_ms = now;
        if (shows) {
            w->public_revision++;
            w->public_ms = now;
        }
        write->accepted = 1;
        (void)writer_load_notices(w);
        if (write->kind == WRITE_RENEW_CODE)
            (void)writer_load_keys(w);
        (void)writer_publish(w);
    } else if (err == ERR_OK) {
        write->accepted = 1; /* as it was before */
    } else if (err == ERR_UNKNOWN) {
        write->result = WRITE_UNAUTHORISED;
    } else if (write->result == WRITE_STALE) {
        /* told as it is */
    } else if (write->why.len > 0 && (err == ERR_CONFLICT || err == ERR_INPUT)) {
        write->result = err == ERR_CONFLICT ? WRITE_NOT_YET : WRITE_REFUSED;
    } else {
        struct textbuf why = write->why;
        write->why = (struct textbuf){0};
        writer_fail(w, write,
                    why.len > 0                        ? textbuf_text(&why)
                    : *store_message(w->store) != '\0' ? store_message(w->store)
                                                       : err_text(err));
        textbuf_clear(&why);
    }
    write->next = NULL;
    writer_answer_all(w, write);
}
