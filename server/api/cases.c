/* SPDX-License-Identifier: MIT */
#include "api/api.h"
#include "api/arguments.h"
#include "api/bodies.h"
#include "http/request.h"

#include <stdio.h>
#include <string.h>

#include "api/api.h"
#include "api/writes.h"
#include "base/err.h"
#include "base/strmap.h"
#include "format/json_write.h"
#include "http/server.h"
#include "office/doubts.h"
#include "output/output.h"
#include "system/data_dir.h"
#include "system/hard_limits.h"
#include "system/system_clock.h"

/* ---- doubts ---- */

/* Marks those that somebody acknowledged. */
static int mark_acknowledged(struct store *store, struct doubts *doubts) {
    struct stored_acknowledgement *list = NULL;
    size_t count = 0;
    struct strmap by_case = {0};
    int err = store_acknowledgements(store, &list, &count);
    if (err != ERR_OK)
        return err;
    for (size_t i = 0; err == ERR_OK && i < count; i++) {
        if (strmap_get(&by_case, list[i].case_id) < 0)
            err = strmap_put(&by_case, list[i].case_id, (int32_t)i);
    }
    for (int i = 0; err == ERR_OK && i < doubts->count; i++) {
        int32_t a = strmap_get(&by_case, doubts->list[i].id);
        doubts->list[i].acknowledged = a >= 0 && !list[a].reopened;
    }
    strmap_clear(&by_case);
    stored_acknowledgements_free(list, count);
    return err;
}

unsigned api_doubts(struct request *r, struct textbuf *b) {
    struct doubts *doubts = NULL;
    struct store *store = NULL;
    unsigned status = request_store(r, &store);
    if (status != 0)
        return status;
    int err = doubts_new(r->results->scores, &doubts);
    if (err == ERR_OK)
        err = mark_acknowledged(store, doubts);
    if (err == ERR_OK)
        err = doubts_weigh(doubts);
    if (err == ERR_OK) {
        int open = 0;
        for (int i = 0; i < doubts->count; i++)
            open += doubt_is_open(&doubts->list[i]);
        textbuf_printf(b,
                       "{\"event\":\"%s\",\"revision\":%lld,\"count\":%d,\"open\":%d,\"doubts\":",
                       r->served->slug, (long long)r->results->revision, doubts->count, open);
        doubts_write_json(b, doubts);
        textbuf_puts(b, "}\n");
    }
    doubts_free(doubts);
    return err == ERR_OK ? MHD_HTTP_OK : request_no_memory(r);
}

/* ---- refused rows ---- */

static void write_member(struct textbuf *b, const char *name, const char *value) {
    textbuf_printf(b, ",\"%s\":", name);
    json_write_text(b, value);
}

static void write_sender(struct textbuf *b, const struct stored_refusal *refusal) {
    if (*refusal->label != '\0')
        textbuf_puts(b, refusal->label);
    else
        textbuf_printf(b, "key %lld", (long long)refusal->key_id);
}

/* "Row 3 of the upload of Desk A was refused: …"; row 0 tells of all that are not kept. */
static void write_title(struct textbuf *b, const struct stored_refusal *refusal) {
    if (refusal->row == 0) {
        textbuf_puts(b, "In the upload of ");
        write_sender(b, refusal);
        textbuf_printf(b, " %s", refusal->reason);
        return;
    }
    textbuf_printf(b, "Row %lld of the upload of ", (long long)refusal->row);
    write_sender(b, refusal);
    textbuf_printf(b, " was refused: %s", refusal->reason);
}

static void write_refusal(struct textbuf *b, const struct stored_refusal *refusal) {
    struct textbuf title = {0};
    write_title(&title, refusal);
    b->failed = b->failed || title.failed;
    textbuf_printf(b, "{\"id\":\"%s\",\"title\":", refusal->case_id);
    json_write_text(b, textbuf_text(&title));
    textbuf_printf(b, ",\"log\":\"u%lld\",\"row\":%lld,\"times\":%lld,\"at\":\"",
                   (long long)refusal->upload, (long long)refusal->row, (long long)refusal->times);
    write_instant(b, refusal->received_ms);
    textbuf_printf(b, "\",\"key\":{\"id\":%lld,\"label\":", (long long)refusal->key_id);
    json_write_text(b, refusal->label);
    textbuf_puts(b, "},\"reason\":");
    json_write_text(b, refusal->reason);
    write_member(b, "point", refusal->point);
    write_member(b, "car", refusal->car);
    write_member(b, "time", refusal->time);
    write_member(b, "elapsed", refusal->elapsed);
    write_member(b, "faults", refusal->faults);
    write_member(b, "reading", refusal->reading_id);
    textbuf_putc(b, '}');
    textbuf_clear(&title);
}

unsigned api_refusals(struct request *r, struct textbuf *b) {
    struct stored_refusal *list = NULL;
    struct store *store = NULL;
    size_t count = 0;
    unsigned status = request_store(r, &store);
    if (status != 0)
        return status;
    int err = store_open_refusals(store, &list, &count);
    if (err != ERR_OK)
        return request_no_memory(r);
    textbuf_printf(b, "{\"event\":\"%s\",\"count\":%zu,\"refusals\":[", r->served->slug, count);
    for (size_t i = 0; i < count && i < LIMIT_REFUSALS_TOLD; i++) {
        textbuf_puts(b, i > 0 ? ",\n" : "\n");
        write_refusal(b, &list[i]);
    }
    textbuf_puts(b, "]}\n");
    stored_refusals_free(list, count);
    return MHD_HTTP_OK;
}

/* ---- acknowledged ---- */

unsigned api_acknowledgements(struct request *r, struct textbuf *b) {
    struct stored_acknowledgement *list = NULL;
    struct store *store = NULL;
    size_t count = 0;
    const char *sep = "\n";
    unsigned status = request_store(r, &store);
    if (status != 0)
        return status;
    int err = store_acknowledgements(store, &list, &count);
    if (err != ERR_OK)
        return request_no_memory(r);
    textbuf_printf(b, "{\"event\":\"%s\",\"acknowledgements\":[", r->served->slug);
    for (size_t i = 0; i < count; i++) {
        if (list[i].reopened)
            continue;
        textbuf_printf(b, "%s{\"case\":\"%s\",\"at\":\"", sep, list[i].case_id);
        write_instant(b, list[i].made_ms);
        textbuf_puts(b, "\",\"title\":");
        json_write_text(b, list[i].title);
        write_member(b, "car", list[i].car);
        write_member(b, "point", list[i].point);
        write_member(b, "by", list[i].made_by);
        write_member(b, "reason", list[i].reason);
        textbuf_putc(b, '}');
        sep = ",\n";
    }
    textbuf_puts(b, "]}\n");
    stored_acknowledgements_free(list, count);
    return MHD_HTTP_OK;
}

/* Where the case is found, `subject` says what it is. */
enum found { FOUND, FOUND_OPEN, FOUND_NOT, FOUND_NOMEM };

static enum found find_doubt(const struct request *r, const char *id,
                             struct doubt_subject *subject) {
    struct doubts *doubts = NULL;
    enum found found = FOUND_NOT;
    if (doubts_new(r->results->scores, &doubts) != ERR_OK)
        return FOUND_NOMEM;
    for (int i = 0; found == FOUND_NOT && i < doubts->count; i++) {
        const struct doubt *d = &doubts->list[i];
        int number = r->snapshot->event.entries->list[d->car].number;
        if (strcmp(d->id, id) != 0)
            continue;
        found = doubt_is_open(d) ? FOUND_OPEN : FOUND;
        (void)snprintf(subject->car, sizeof subject->car, "%d", number);
        textbuf_puts(&subject->point, r->snapshot->event.rules->points[d->point].id);
        textbuf_printf(&subject->title, "Car %d at %s: %s", number, textbuf_text(&subject->point),
                       d->why);
    }
    doubts_free(doubts);
    return found;
}

static enum found find_refusal(struct store *store, const char *id, struct doubt_subject *subject) {
    struct stored_refusal *list = NULL;
    size_t count = 0;
    enum found found = FOUND_NOT;
    if (store_open_refusals(store, &list, &count) != ERR_OK)
        return FOUND_NOMEM;
    for (size_t i = 0; found == FOUND_NOT && i < count; i++) {
        if (strcmp(list[i].case_id, id) != 0)
            continue;
        found = FOUND;
        if (strlen(list[i].car) < sizeof subject->car)
            (void)snprintf(subject->car, sizeof subject->car, "%s", list[i].car);
        textbuf_puts(&subject->point, list[i].point);
        write_title(&subject->title, &list[i]);
    }
    stored_refusals_free(list, count);
    return found;
}

static enum found find_acknowledged(struct store *store, const char *id,
                                    struct doubt_subject *subject) {
    struct stored_acknowledgement *list = NULL;
    size_t count = 0;
    if (store_acknowledgements(store, &list, &count) != ERR_OK)
        return FOUND_NOMEM;
    const struct stored_acknowledgement *a = stored_acknowledgement_of(list, count, id);
    enum found found = a == NULL || a->reopened ? FOUND_NOT : FOUND;
    if (found == FOUND) {
        (void)snprintf(subject->car, sizeof subject->car, "%s", a->car);
        textbuf_puts(&subject->point, a->point);
        textbuf_puts(&subject->title, a->title);
    }
    stored_acknowledgements_free(list, count);
    return found;
}

/* A case can be acknowledged while it waits, and taken up again while it is acknowledged. */
static enum found find_case(const struct request *r, struct store *store, const char *id,
                            bool again, struct doubt_subject *subject) {
    struct doubt_subject known = {0};
    enum found found = find_acknowledged(store, id, again ? subject : &known);
    textbuf_clear(&known.point);
    textbuf_clear(&known.title);
    if (again || found == FOUND_NOMEM)
        return found;
    if (found == FOUND)
        return FOUND_NOT;
    found = find_doubt(r, id, subject);
    return found == FOUND_NOT ? find_refusal(store, id, subject) : found;
}

/* Looks the case up in the event and its file. Returns 0, or the status of an error described. */
static unsigned find_subject(struct request *r, const char *id, bool again,
                             struct doubt_subject *subject) {
    struct store *store = NULL;
    unsigned status = request_store(r, &store);
    if (status != 0)
        return status;
    enum found found = find_case(r, store, id, again, subject);
    if (subject->title.failed || subject->point.failed)
        found = FOUND_NOMEM;
    switch (found) {
    case FOUND:
        return 0;
    case FOUND_OPEN:
        return request_fail(r, MHD_HTTP_CONFLICT, "%s It needs a ruling.",
                            textbuf_text(&subject->title));
    case FOUND_NOT:
        return request_fail(r, MHD_HTTP_NOT_FOUND,
                            again ? "Nothing of that id is acknowledged."
                                  : "Nothing of that id waits for anybody.");
    default:
        return request_no_memory(r);
    }
}

static unsigned prepare_acknowledgement(struct request *r, struct write **out) {
    enum { ID, BY, REASON, STATE, COUNT };
    static const char *const names[COUNT] = {"case", "by", "reason", "state"};
    static const char shape[] = "{\"case\": …, \"by\": …, \"reason\": …, \"state\": …}";
    const char *const *fields;
    unsigned status = request_object(r, names, COUNT, shape, &fields);
    if (status != 0)
        return status;
    bool again = strcmp(fields[STATE], "reopened") == 0;
    if (*fields[REASON] == '\0' || (!again && strcmp(fields[STATE], "acknowledged") != 0))
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "“state” is acknowledged or reopened, and “reason” says why.");
    if (!doubt_id_is_good(fields[ID]))
        return request_fail(r, MHD_HTTP_NOT_FOUND, "Nothing of that id waits for anybody.");
    struct acknowledgement_write *write = acknowledgement_write_new();
    if (write == NULL)
        return request_no_memory(r);
    status = find_subject(r, fields[ID], again, &write->subject);
    if (status != 0) {
        write_free(&write->head);
        return status;
    }
    write->id = fields[ID];
    write->by = fields[BY];
    write->reason = fields[REASON];
    write->reopened = again;
    *out = &write->head;
    return 0;
}

const struct write_handler write_acknowledgement = {.prepare = prepare_acknowledgement,
                                                    .answer = answer_document};
