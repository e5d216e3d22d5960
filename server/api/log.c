/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <stdio.h>
#include <string.h>

#include "api/arguments.h"
#include "api/effects.h"
#include "api/event_object.h"
#include "api/log_words.h"
#include "base/decimal.h"
#include "base/err.h"
#include "event/car_search.h"
#include "event/document_changes.h"
#include "format/csv.h"
#include "format/json_write.h"
#include "http/request.h"
#include "system/hard_limits.h"
#include "system/system_clock.h"

enum { PAGE = 50 };

/* A page of the log, while it is written. */
struct log_page {
    struct request *r;
    struct store *store;
    struct textbuf *b;
    const char *car, *text; /* "" for all */
    bool csv;
    int64_t limit, written;
    bool more;
    struct log_name last;
    struct textbuf *what, *changes; /* of one fact */
    struct textbuf *line;           /* of them, in one line of CSV */
};

static void begin_page(struct log_page *p, struct request *r, struct textbuf *b) {
    *p = (struct log_page){.r = r,
                           .b = b,
                           .car = "",
                           .text = "",
                           .limit = 1,
                           .what = request_text(r),
                           .changes = request_text(r),
                           .line = request_text(r)};
}

/* ---- a fact in words ---- */

/* True for a fact that put a document in force; `document` gets which. */
static bool is_document(const struct logged *f, enum document *document) {
    static const char *const kinds[DOCUMENT_COUNT] = {"rules", "entries", "starts"};
    for (int i = 0; i < DOCUMENT_COUNT; i++) {
        if (strcmp(f->kind, kinds[i]) != 0)
            continue;
        *document = (enum document)i;
        return true;
    }
    return false;
}

/* Puts a fact into words. Returns false where it is not asked for after all. */
static bool word_fact(struct log_page *p, const struct logged *f, int *err) {
    enum document document;
    textbuf_reset(p->what);
    textbuf_reset(p->changes);
    log_write_what(p->what, f);
    log_write_changes(p->changes, f);
    if (is_document(f, &document)) {
        struct document_versions versions = {0};
        *err = store_document_versions(p->store, document_name(document), f->upload, &versions);
        if (*err == ERR_OK && versions.now != NULL)
            *err = document_changes(document, versions.before, versions.now, p->car, p->changes);
        document_versions_clear(&versions);
        if (*p->car != '\0' && p->changes->len == 0)
            return false;
    }
    if (p->what->failed || p->changes->failed)
        *err = ERR_NOMEM;
    const char *texts[] = {textbuf_text(p->what), textbuf_text(p->changes), f->reason, f->made_by,
                           f->label};
    return *err == ERR_OK && car_search_in_texts(texts, sizeof texts / sizeof texts[0], p->text);
}

/* ---- JSON ---- */

static const char *or_null(const char *text) {
    return *text == '\0' ? NULL : text;
}

/* Each line of a text as a text of its own. */
static void write_lines(struct textbuf *b, const char *key, const char *lines) {
    json_member_array(b, key);
    while (*lines != '\0') {
        size_t len = strcspn(lines, "\n");
        size_t from = json_open_text(b);
        textbuf_add(b, lines, len);
        json_close_text(b, from);
        lines += len + (lines[len] == '\n');
    }
    json_close_array(b);
}

static void write_name(struct textbuf *b, const char *key, struct log_name name) {
    json_key(b, key);
    size_t from = json_open_text(b);
    log_name_write(b, name);
    json_close_text(b, from);
}

static void write_sender_key(struct textbuf *b, const struct logged *f) {
    json_member_object(b, "key");
    json_member_int(b, "id", f->key_id);
    json_member_text(b, "label", f->label);
    json_close_object(b);
}

/* The car that a fact is about, 0 where it is about none. */
static int64_t car_of(const struct logged *f) {
    int64_t car = 0;
    (void)decimal_parse_whole(f->car, 1, NUMBER_MAX, &car);
    return car;
}

static void write_json(const struct log_page *p, const struct logged *f) {
    struct textbuf *b = p->b;
    enum document document;
    const char *since = is_document(f, &document) ? or_null(f->word) : NULL;
    json_line(b);
    json_open_object(b);
    write_name(b, "id", f->name);
    json_member_instant(b, "at", f->ms);
    json_member_text(b, "kind", f->kind);
    json_member_text(b, "what", textbuf_text(p->what));
    json_member_text_or_null(b, "why", or_null(f->reason));
    json_member_text_or_null(b, "by", or_null(f->made_by));
    if (f->key_id > 0)
        write_sender_key(b, f);
    else
        json_member_null(b, "key");
    json_member_text_or_null(b, "source", or_null(f->source));
    json_member_positive(b, "car", car_of(f));
    json_member_text_or_null(b, "point", strcmp(f->kind, "key") == 0 ? NULL : or_null(f->point));
    json_member_text_or_null(b, "since", since);
    json_member_int(b, "taken", f->taken);
    json_member_int(b, "refused", f->refused);
    write_lines(b, "changes", textbuf_text(p->changes));
    json_close_object(b);
}

/* ---- CSV ---- */

static void write_csv(const struct log_page *p, const struct logged *f) {
    struct textbuf *b = p->b;
    textbuf_reset(p->line);
    for (const char *c = textbuf_text(p->changes); *c != '\0'; c++) {
        if (*c != '\n')
            textbuf_putc(p->line, *c);
        else if (c[1] != '\0')
            textbuf_puts(p->line, "; ");
    }
    const char *texts[] = {textbuf_text(p->what), f->reason, f->made_by, f->label,
                           textbuf_text(p->line)};
    log_name_write(b, f->name);
    textbuf_putc(b, ',');
    write_instant(b, f->ms);
    textbuf_printf(b, ",%s,", f->kind);
    if (car_of(f) > 0)
        textbuf_int(b, car_of(f));
    textbuf_putc(b, ',');
    csv_write_text(b, strcmp(f->kind, "key") == 0 ? "" : f->point);
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        textbuf_putc(b, ',');
        csv_write_text(b, texts[i]);
    }
    textbuf_puts(b, "\r\n");
    b->failed = b->failed || p->line->failed;
}

/* ---- a page ---- */

static int write_entry(void *context, const struct logged *f) {
    struct log_page *p = context;
    int err = ERR_OK;
    if (!word_fact(p, f, &err))
        return err == ERR_OK ? LOG_GO_ON : LOG_NOMEM;
    if (p->written == p->limit) {
        p->more = true;
        return LOG_STOP;
    }
    if (p->csv)
        write_csv(p, f);
    else
        write_json(p, f);
    p->written++;
    p->last = f->name;
    return p->b->failed ? LOG_NOMEM : LOG_GO_ON;
}

static int keep_time(void *context, const struct logged *f) {
    *(int64_t *)context = f->ms;
    return LOG_STOP;
}

static bool is_kind(const char *kind) {
    static const char *const kinds[] = {"office",   "readings", "correction",     "withdrawal",
                                        "decision", "undo",     "rules",          "entries",
                                        "starts",   "notice",   "enquiry",        "answer",
                                        "key",      "code",     "acknowledgement"};
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        if (strcmp(kinds[i], kind) == 0)
            return true;
    }
    return false;
}

/* Reads the parameters. Returns 0, or the status of an error described. */
static unsigned read_query(struct request *r, struct log_page *p, struct log_query *q,
                           char car[8]) {
    const char *limit = request_query(r, "limit");
    const char *number = request_query(r, "car");
    const char *text = request_query(r, "text");
    int64_t value = 0;
    unsigned status = request_format(r, &p->csv);
    if (status != 0)
        return status;
    p->limit = PAGE;
    if (limit != NULL && decimal_parse_whole(limit, 1, LIMIT_LOG_PAGE, &p->limit) != ERR_OK)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "“limit” is 1 to %d.", LIMIT_LOG_PAGE);
    q->kind = request_query(r, "kind");
    if (q->kind != NULL && !is_kind(q->kind))
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "There is no kind “%s” of entry.", q->kind);
    p->car = "";
    if (number != NULL) {
        if (decimal_parse_whole(number, 1, NUMBER_MAX, &value) != ERR_OK)
            return request_fail(r, MHD_HTTP_BAD_REQUEST, "“car” is a number.");
        (void)snprintf(car, 8, "%d", (int)value);
        p->car = q->car = car;
    }
    p->text = text == NULL ? "" : text;
    return 0;
}

/* The entry behind which the page begins. */
static unsigned read_before(struct request *r, struct log_page *p, struct log_query *q) {
    const char *before = request_query(r, "before");
    int64_t ms = -1;
    if (before == NULL)
        return 0;
    if (log_name_parse(before, &q->name)) {
        struct log_query one = {.name = q->name, .one = true};
        if (store_log(p->store, &one, keep_time, &ms) != ERR_OK)
            return request_no_memory(r);
    }
    q->before_ms = ms;
    return ms >= 0 ? 0
                   : request_fail(r, MHD_HTTP_BAD_REQUEST, "There is no entry “%s” of the log.",
                                  before);
}

unsigned api_log(struct request *r, struct textbuf *b) {
    struct log_page p;
    struct log_query q = {0};
    char car[8];
    begin_page(&p, r, b);
    unsigned status = read_query(r, &p, &q, car);
    if (status == 0)
        status = request_store(r, &p.store);
    if (status != 0)
        return status;
    status = read_before(r, &p, &q);
    if (status != 0)
        return status;
    if (p.csv) {
        textbuf_puts(b, "id,at,kind,car,point,what,why,by,key,changes\r\n");
    } else {
        event_object_open(r, b);
        json_member_array(b, "entries");
    }
    int err = store_log(p.store, &q, write_entry, &p);
    if (!p.csv) {
        json_close_array(b);
        if (p.more)
            write_name(b, "next", p.last);
        else
            json_member_null(b, "next");
        json_close_document(b);
    }
    return err == ERR_OK ? MHD_HTTP_OK : request_no_memory(r);
}

/* ---- one entry, with its effect ---- */

/* How many readings a snapshot holds up to that of an id; -1 where it does not hold it. */
static int count_readings(const struct event *event, const char *id) {
    for (int i = 0; *id != '\0' && i < event->readings.count; i++) {
        if (strcmp(readings_view_at(event->readings, i)->id, id) == 0)
            return i + 1;
    }
    return *id == '\0' ? 0 : -1;
}

static int count_decisions(const struct event *event, const char *id) {
    for (int i = 0; *id != '\0' && i < event->decisions.count; i++) {
        if (strcmp(event->decisions.list[i].decision->id, id) == 0)
            return i + 1;
    }
    return *id == '\0' ? 0 : -1;
}

/* Scores the event as it was when it held so many readings and decisions, by the rules of today. */
static int score_past(struct request *r, int readings, int decisions, struct event *event,
                      struct what_if **out) {
    *event = r->snapshot->event;
    event->readings = readings_view_upto(event->readings, readings);
    event->decisions.count = decisions;
    int err = request_what_if(r, event, out);
    return err == ERR_OK ? what_if_score(*out, r->results->view->request) : err;
}

/* What a fact that the snapshot holds changed in its moment. */
static int write_effect(struct request *r, struct textbuf *b, const int counts[]) {
    struct event *events = request_array(r, 2, sizeof *events);
    const struct effect *effect = NULL;
    struct what_if *before = NULL;
    struct what_if *with = NULL;
    if (events == NULL)
        return ERR_NOMEM;
    int err =
        score_past(r, counts[LOG_READING_BEFORE], counts[LOG_DECISION_BEFORE], &events[0], &before);
    if (err == ERR_OK)
        err = score_past(r, counts[LOG_READING_WITH], counts[LOG_DECISION_WITH], &events[1], &with);
    if (err == ERR_OK)
        err = request_effect(r, before->scores, with->scores, &effect);
    if (err != ERR_OK)
        return err;
    json_open_object(b);
    effect_write_members(b, effect);
    json_close_object(b);
    return ERR_OK;
}

/* An entry that is being written. */
struct log_entry {
    struct log_page page;
    int counts[LOG_END_COUNT];
    bool has_effect;
};

static bool moves_cars(const struct logged *f) {
    enum document document;
    return f->name.table == LOG_DECISION || f->name.table == LOG_CORRECTION ||
           (f->name.table == LOG_UPLOAD && !is_document(f, &document));
}

static int write_entry_and_ends(void *context, const struct logged *f) {
    struct log_entry *entry = context;
    const struct request *r = entry->page.r;
    struct log_ends ends = {0};
    int written = write_entry(&entry->page, f);
    if (written != LOG_GO_ON || !moves_cars(f))
        return written;
    int err = store_log_ends(entry->page.store, f, &ends);
    entry->has_effect = err == ERR_OK;
    for (int i = 0; err == ERR_OK && i < LOG_END_COUNT; i++) {
        entry->counts[i] = i < LOG_DECISION_BEFORE
                               ? count_readings(&r->snapshot->event, ends.ids[i])
                               : count_decisions(&r->snapshot->event, ends.ids[i]);
        entry->has_effect = entry->has_effect && entry->counts[i] >= 0;
    }
    log_ends_clear(&ends);
    return err == ERR_OK ? LOG_GO_ON : LOG_NOMEM;
}

unsigned api_log_entry(struct request *r, struct textbuf *b) {
    struct log_entry entry = {0};
    struct log_query q = {.one = true};
    begin_page(&entry.page, r, b);
    unsigned status = request_store(r, &entry.page.store);
    if (status != 0)
        return status;
    event_object_open(r, b);
    json_key(b, "entry");
    int err = log_name_parse(r->args[1], &q.name)
                  ? store_log(entry.page.store, &q, write_entry_and_ends, &entry)
                  : ERR_OK;
    if (err == ERR_OK && entry.page.written == 0)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no entry “%s” of the log.",
                            r->args[1]);
    json_key(b, "effect");
    if (err == ERR_OK && entry.has_effect)
        err = write_effect(r, b, entry.counts);
    else
        json_write_null(b);
    json_close_document(b);
    return err == ERR_OK ? MHD_HTTP_OK : request_no_memory(r);
}
