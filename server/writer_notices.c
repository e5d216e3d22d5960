/* SPDX-License-Identifier: MIT */
/* Notices and their seals, the cases of crews, and what stands in the way of a classification. */
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "data_dir.h"
#include "decimal.h"
#include "doubts.h"
#include "hard_limits.h"
#include "err.h"
#include "notice.h"
#include "output.h"
#include "signing.h"
#include "writer_private.h"

/* The facts that a classification is made from: how many of the logs, which only grow, and the
 * documents by their hash. */
static void write_basis(const struct writer *w, struct textbuf *b) {
    const struct model *model = w->model;
    const struct paper *papers[] = {&model->rules, &model->entries, &model->starts};
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
    textbuf_printf(b, "readings=%d decisions=%d documents=%s",
                   readings_count(model->event->readings), decisions_count(model->event->decisions),
                   hex);
}

static bool is_classification(const struct stored_notice *n) {
    return strcmp(n->kind, "bulletin") != 0;
}

/* The last classification posted, NULL where there is none. */
static const struct stored_notice *last_classification(const struct writer *w) {
    for (size_t i = w->notices == NULL ? 0 : w->notices->count; i > 0; i--) {
        if (is_classification(&w->notices->list[i - 1]))
            return &w->notices->list[i - 1];
    }
    return NULL;
}

bool writer_is_final(const struct writer *w) {
    const struct stored_notice *last = last_classification(w);
    struct textbuf now = {0};
    if (last == NULL || strcmp(last->kind, "final") != 0)
        return false;
    write_basis(w, &now);
    bool same = !now.failed && strcmp(textbuf_text(&now), last->basis) == 0;
    textbuf_clear(&now);
    return same;
}

/* ---- what stands in the way ---- */

static void list_cases(const struct writer *w, struct textbuf *why) {
    for (size_t i = 0; i < w->notices->enquiry_count; i++) {
        const struct stored_enquiry *e = &w->notices->enquiries[i];
        if (e->answered_ms == 0)
            textbuf_printf(why, "%s %lld of car %s is open\n", e->kind, (long long)e->number,
                           e->car);
    }
}

static void list_open_points(const struct snapshot *s, struct textbuf *why) {
    const struct rules *rules = s->event.rules;
    const struct view *view = s->office.view;
    for (int i = 0; i < rules->scored_count; i++) {
        if (view->open[rules->scored[i].point])
            textbuf_printf(why, "%s is not closed\n", rules->points[rules->scored[i].point].id);
    }
}

static int list_doubts(const struct snapshot *s, struct textbuf *why) {
    struct doubts *doubts = NULL;
    int err = doubts_new(s->office.scores, &doubts);
    for (int i = 0; err == ERR_OK && i < doubts->count; i++) {
        const struct doubt *d = &doubts->list[i];
        if (doubt_is_open(d))
            textbuf_printf(why, "car %d at %s is doubtful: %s\n",
                           s->event.entries->list[d->car].number,
                           s->event.rules->points[d->point].id, d->why);
    }
    doubts_free(doubts);
    return err;
}

/* A classification tells all: nothing may be hidden from the public any more. */
static void list_hidden(const struct snapshot *s, struct textbuf *why) {
    for (int i = 0; i < s->event.rules->item_count; i++) {
        if (s->open_scene.view->hidden[i])
            textbuf_printf(why, "%s is still hidden from the public\n",
                           s->event.rules->items[i].id);
    }
}

static int list_obstacles(const struct writer *w, const struct snapshot *s, bool final, int64_t now,
                          struct textbuf *why) {
    const struct stored_notice *last = last_classification(w);
    int err = ERR_OK;
    list_hidden(s, why);
    if (!final)
        return ERR_OK;
    if (last == NULL)
        textbuf_puts(why, "no provisional classification is posted\n");
    if (last != NULL && last->protest_until_ms > now) {
        textbuf_printf(why, "the protest period of notice %lld ends at ", (long long)last->number);
        write_instant(why, last->protest_until_ms);
        textbuf_putc(why, '\n');
    }
    list_cases(w, why);
    list_open_points(s, why);
    err = list_doubts(s, why);
    return err == ERR_OK && why->failed ? ERR_NOMEM : err;
}

/* ---- notices ---- */

/* One notice while it is being made. */
struct posting {
    struct stored_notice notice;
    struct textbuf posted;
    struct textbuf until;
    struct textbuf basis;
};

static int seal(struct writer *w, struct posting *p, struct textbuf *why) {
    unsigned char seed[SEAL_SEED_LEN];
    int err = signing_seed(w->data_dir, w->held.slug, seed, why);
    if (err == ERR_OK)
        seal_make(&p->notice.seal, seed, p->notice.content, strlen(p->notice.content));
    sodium_memzero(seed, sizeof seed);
    return err == ERR_INPUT ? ERR_IO : err; /* the machine's matter, not the sender's */
}

static int make_notice(struct writer *w, struct job *job, const struct snapshot *s, int64_t now,
                       struct posting *p) {
    const char *const *fields = job->upload.rows[0].fields;
    const struct stored_notice *last = last_classification(w);
    bool bulletin = *fields[2] == '\0' || strcmp(fields[2], "bulletin") == 0;
    bool final = strcmp(fields[2], "final") == 0;
    const char *title = *fields[0] != '\0' ? fields[0]
                        : final            ? "Final classification"
                                           : "Provisional classification";
    int err = bulletin ? ERR_OK : list_obstacles(w, s, final, now, &job->why);
    if (err != ERR_OK || job->why.len > 0)
        return err == ERR_OK ? ERR_CONFLICT : err;
    size_t count = w->notices->count;
    p->notice =
        (struct stored_notice){.number = count == 0 ? 1 : w->notices->list[count - 1].number + 1,
                               .posted_ms = now,
                               .title = (char *)title,
                               .body = (char *)fields[1],
                               .kind = (char *)(bulletin ? "bulletin" : fields[2]),
                               .supersedes = bulletin || last == NULL ? 0 : last->number};
    write_instant(&p->posted, now);
    if (!bulletin)
        write_basis(w, &p->basis);
    if (!bulletin && !final && s->event.rules->scoring.protest_period > 0) {
        p->notice.protest_until_ms = now + s->event.rules->scoring.protest_period;
        write_instant(&p->until, p->notice.protest_until_ms);
    }
    p->notice.basis = (char *)textbuf_text(&p->basis);
    struct notice_head head = {.number = p->notice.number,
                               .kind = p->notice.kind,
                               .title = title,
                               .text = fields[1],
                               .event = w->held.slug,
                               .name = s->event.rules->name,
                               .posted = textbuf_text(&p->posted),
                               .protest_until = p->until.len > 0 ? textbuf_text(&p->until) : NULL,
                               .supersedes = p->notice.supersedes,
                               .revision = s->open_scene.revision};
    err = notice_content(&head, bulletin ? NULL : s->office.scores,
                         bulletin || last == NULL ? NULL : last->content, &p->notice.content);
    if (err == ERR_OK && (p->posted.failed || p->until.failed || p->basis.failed))
        err = ERR_NOMEM;
    return err == ERR_OK ? seal(w, p, &job->why) : err;
}

static int post_notice(struct writer *w, struct job *job, const struct snapshot *s, int64_t now,
                       const struct stored_key *key) {
    struct posting p = {0};
    int64_t upload = 0;
    int err = make_notice(w, job, s, now, &p);
    if (err == ERR_OK)
        err = store_add_upload(w->store, now, "http", key->id, writer_upload_kind(job->kind),
                               job->media_type, job->body, job->len, &upload);
    if (err == ERR_OK)
        err = store_add_notice(w->store, &p.notice, upload);
    job->number = p.notice.number;
    free(p.notice.content);
    textbuf_clear(&p.posted);
    textbuf_clear(&p.until);
    textbuf_clear(&p.basis);
    return err;
}

/* ---- cases ---- */

static int open_case(struct writer *w, struct job *job, int64_t now, const struct stored_key *key) {
    const char *const *fields = job->upload.rows[0].fields;
    const struct event *event = w->model->event;
    struct stored_enquiry e = {.opened_ms = now,
                               .kind = (char *)fields[0],
                               .car = (char *)fields[1],
                               .point = (char *)fields[2],
                               .text = (char *)fields[3]};
    int64_t number = 0;
    if (decimal_parse_whole(fields[1], 1, NUMBER_MAX, &number) != ERR_OK ||
        entries_find(event->entries, number) < 0)
        textbuf_printf(&job->why, "car: “%s” is not in the entry list\n", fields[1]);
    if (*fields[2] != '\0' && strmap_get(&event->rules->point_by_id, fields[2]) < 0 &&
        strmap_get(&event->rules->item_by_id, fields[2]) < 0)
        textbuf_printf(&job->why, "point: “%s” is not on the route\n", fields[2]);
    if (job->why.len > 0)
        return ERR_INPUT;
    return store_add_enquiry(w->store, &e, key->id, job->body, job->len, &job->number);
}

static int answer_case(struct writer *w, struct job *job, int64_t now,
                       const struct stored_key *key) {
    const char *const *fields = job->upload.rows[0].fields;
    struct stored_enquiry e = {.number = job->number,
                               .answered_ms = now,
                               .outcome = (char *)fields[0],
                               .answer = (char *)fields[1]};
    for (size_t i = 0; i < w->notices->enquiry_count; i++) {
        if (w->notices->enquiries[i].number != job->number)
            continue;
        if (w->notices->enquiries[i].answered_ms == 0)
            return store_add_answer(w->store, &e, key->id, job->body, job->len);
        textbuf_printf(&job->why, "case %lld is answered already\n", (long long)job->number);
        return ERR_CONFLICT;
    }
    textbuf_printf(&job->why, "there is no case %lld\n", (long long)job->number);
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
static int open_crew_case(struct writer *w, struct job *job, int64_t now) {
    const struct crew_enquiry *asked = &job->crew;
    const struct code_book *book = &w->keys->codes;
    struct textbuf kept = {0};
    char car[24];
    int open = 0;
    if (!crew_code_is(book->secret, asked->car, code_book_serial(book, asked->car), asked->code) ||
        entries_find(w->model->event->entries, asked->car) < 0)
        return ERR_UNKNOWN;
    (void)snprintf(car, sizeof car, "%lld", (long long)asked->car);
    for (size_t i = 0; i < w->notices->enquiry_count; i++) {
        const struct stored_enquiry *e = &w->notices->enquiries[i];
        if (e->answered_ms != 0 || stored_enquiry_car(e) != asked->car)
            continue;
        open++;
        if (e->by_crew && strcmp(e->point, asked->point) == 0 &&
            strcmp(e->text, asked->text) == 0) {
            job->number = e->number;
            job->at_ms = e->opened_ms;
            job->duplicates = 1;
            return ERR_OK;
        }
    }
    if (open >= LIMIT_OPEN_CASES) {
        textbuf_printf(&job->why, "%d enquiries of car %s wait for an answer already\n", open, car);
        return ERR_CONFLICT;
    }
    struct stored_enquiry e = {.opened_ms = now,
                               .by_crew = true,
                               .kind = (char *)"enquiry",
                               .car = car,
                               .point = (char *)asked->point,
                               .text = (char *)asked->text};
    write_kept(&kept, asked);
    int err = kept.failed ? ERR_NOMEM
                          : store_add_enquiry(w->store, &e, 0, kept.bytes, kept.len, &job->number);
    job->at_ms = now;
    textbuf_clear(&kept);
    return err;
}

static int renew_code(struct writer *w, struct job *job, int64_t now,
                      const struct stored_key *key) {
    struct code_renewal renewal = {.car = job->number,
                                   .serial = code_book_serial(&w->keys->codes, job->number) + 1,
                                   .renewed_ms = now};
    job->serial = renewal.serial;
    return store_add_renewal(w->store, &renewal, key->id);
}

static int take(struct writer *w, struct job *job, int64_t now) {
    const struct stored_key *key = writer_key_of(w, job);
    const struct snapshot *s = atomic_load(&w->held.slot.current);
    if (job->kind == JOB_CREW_ENQUIRY)
        return open_crew_case(w, job, now);
    if (key == NULL || !key->organiser)
        return ERR_UNKNOWN;
    if (job->kind == JOB_RENEW_CODE)
        return renew_code(w, job, now, key);
    /* What is sealed is what everybody sees. */
    if (s->office.revision != w->office_revision)
        return ERR_BUSY;
    if (job->kind == JOB_NOTICE)
        return post_notice(w, job, s, now, key);
    return job->kind == JOB_ENQUIRY ? open_case(w, job, now, key) : answer_case(w, job, now, key);
}

void writer_work_notice(struct writer *w, struct job *job) {
    int64_t now = now_ms();
    bool shows = job->kind == JOB_NOTICE;
    int err = w->dirty ? writer_load_event(w) : ERR_OK;
    if (err == ERR_OK)
        err = writer_begin(w);
    bool begun = err == ERR_OK;
    if (err == ERR_OK)
        err = take(w, job, now);
    bool fresh = job->duplicates == 0;
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
        job->accepted = 1;
        (void)writer_load_notices(w);
        if (job->kind == JOB_RENEW_CODE)
            (void)writer_load_keys(w);
        (void)writer_publish(w);
    } else if (err == ERR_OK) {
        job->accepted = 1; /* as it was before */
    } else if (err == ERR_UNKNOWN) {
        job->result = JOB_UNAUTHORISED;
    } else if (job->why.len > 0 && (err == ERR_CONFLICT || err == ERR_INPUT)) {
        job->result = err == ERR_CONFLICT ? JOB_NOT_YET : JOB_REFUSED;
    } else {
        struct textbuf why = job->why;
        job->why = (struct textbuf){0};
        writer_fail(w, job,
                    why.len > 0                        ? textbuf_text(&why)
                    : *store_message(w->store) != '\0' ? store_message(w->store)
                                                       : err_text(err));
        textbuf_clear(&why);
    }
    job->next = NULL;
    writer_answer_all(w, job);
}
