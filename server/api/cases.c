/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <stdio.h>
#include <string.h>

#include "api/arguments.h"
#include "api/bodies.h"
#include "api/writes.h"
#include "base/err.h"
#include "base/strmap.h"
#include "format/json_write.h"
#include "http/request.h"
#include "http/server.h"
#include "office/doubts.h"
#include "output/output.h"
#include "system/data_dir.h"
#include "system/hard_limits.h"
#include "system/system_clock.h"

/* Lists of the store that end with the request. */

struct acknowledgements {
    struct stored_acknowledgement *list;
    size_t count;
};

struct refusals {
    struct stored_refusal *list;
    size_t count;
};

static void free_acknowledgements(void *value) {
    struct acknowledgements *a = value;
    stored_acknowledgements_free(a->list, a->count);
}

static void free_refusals(void *value) {
    struct refusals *a = value;
    stored_refusals_free(a->list, a->count);
}

/* Each returns NULL where memory is out or the file cannot be read. */

static const struct acknowledgements *read_acknowledgements(struct request *r,
                                                            struct store *store) {
    struct acknowledgements *a = request_value(r, sizeof *a, free_acknowledgements);
    return a != NULL && store_acknowledgements(store, &a->list, &a->count) == ERR_OK ? a : NULL;
}

static const struct refusals *read_refusals(struct request *r, struct store *store) {
    struct refusals *a = request_value(r, sizeof *a, free_refusals);
    return a != NULL && store_open_refusals(store, &a->list, &a->count) == ERR_OK ? a : NULL;
}

static void free_doubts(void *doubts) {
    doubts_free(doubts);
}

static struct doubts *find_doubts(struct request *r) {
    struct doubts *doubts = NULL;
    return doubts_new(r->results->scores, &doubts) == ERR_OK && request_owns(r, doubts, free_doubts)
               ? doubts
               : NULL;
}

/* ---- doubts ---- */

/* Marks those that somebody acknowledged. */
static int mark_acknowledged(const struct acknowledgements *a, struct doubts *doubts) {
    struct strmap by_case = {0};
    int err = ERR_OK;
    for (size_t i = 0; err == ERR_OK && i < a->count; i++) {
        if (strmap_get(&by_case, a->list[i].case_id) < 0)
            err = strmap_put(&by_case, a->list[i].case_id, (int32_t)i);
    }
    for (int i = 0; err == ERR_OK && i < doubts->count; i++) {
        int32_t place = strmap_get(&by_case, doubts->list[i].id);
        doubts->list[i].acknowledged = place >= 0 && !a->list[place].reopened;
    }
    strmap_clear(&by_case);
    return err;
}

unsigned api_doubts(struct request *r, struct textbuf *b) {
    struct store *store = NULL;
    int open = 0;
    unsigned status = request_store(r, &store);
    if (status != 0)
        return status;
    struct doubts *doubts = find_doubts(r);
    const struct acknowledgements *a = read_acknowledgements(r, store);
    if (doubts == NULL || a == NULL || mark_acknowledged(a, doubts) != ERR_OK ||
        doubts_weigh(doubts) != ERR_OK)
        return request_no_memory(r);
    for (int i = 0; i < doubts->count; i++)
        open += doubt_is_open(&doubts->list[i]);
    textbuf_printf(b, "{\"event\":\"%s\",\"revision\":%lld,\"count\":%d,\"open\":%d,\"doubts\":",
                   r->served->slug, (long long)r->results->revision, doubts->count, open);
    doubts_write_json(b, doubts);
    textbuf_puts(b, "}\n");
    return MHD_HTTP_OK;
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

/*   title  a buffer for it */
static void write_refusal(struct textbuf *b, const struct stored_refusal *refusal,
                          struct textbuf *title) {
    textbuf_reset(title);
    write_title(title, refusal);
    b->failed = b->failed || title->failed;
    textbuf_printf(b, "{\"id\":\"%s\",\"title\":", refusal->case_id);
    json_write_text(b, textbuf_text(title));
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
}

unsigned api_refusals(struct request *r, struct textbuf *b) {
    struct textbuf *title = request_text(r);
    struct store *store = NULL;
    unsigned status = request_store(r, &store);
    if (status != 0)
        return status;
    const struct refusals *refusals = read_refusals(r, store);
    if (refusals == NULL)
        return request_no_memory(r);
    textbuf_printf(b, "{\"event\":\"%s\",\"count\":%zu,\"refusals\":[", r->served->slug,
                   refusals->count);
    for (size_t i = 0; i < refusals->count && i < LIMIT_REFUSALS_TOLD; i++) {
        textbuf_puts(b, i > 0 ? ",\n" : "\n");
        write_refusal(b, &refusals->list[i], title);
    }
    textbuf_puts(b, "]}\n");
    return MHD_HTTP_OK;
}

/* ---- acknowledged ---- */

unsigned api_acknowledgements(struct request *r, struct textbuf *b) {
    struct store *store = NULL;
    const char *sep = "\n";
    unsigned status = request_store(r, &store);
    if (status != 0)
        return status;
    const struct acknowledgements *all = read_acknowledgements(r, store);
    if (all == NULL)
        return request_no_memory(r);
    textbuf_printf(b, "{\"event\":\"%s\",\"acknowledgements\":[", r->served->slug);
    for (size_t i = 0; i < all->count; i++) {
        const struct stored_acknowledgement *a = &all->list[i];
        if (a->reopened)
            continue;
        textbuf_printf(b, "%s{\"case\":\"%s\",\"at\":\"", sep, a->case_id);
        write_instant(b, a->made_ms);
        textbuf_puts(b, "\",\"title\":");
        json_write_text(b, a->title);
        write_member(b, "car", a->car);
        write_member(b, "point", a->point);
        write_member(b, "by", a->made_by);
        write_member(b, "reason", a->reason);
        textbuf_putc(b, '}');
        sep = ",\n";
    }
    textbuf_puts(b, "]}\n");
    return MHD_HTTP_OK;
}

/* Where the case is found, `subject` says what it is. */
enum found { FOUND, FOUND_OPEN, FOUND_NOT, FOUND_NOMEM };

static enum found find_doubt(struct request *r, const char *id, struct doubt_subject *subject) {
    const struct doubts *doubts = find_doubts(r);
    if (doubts == NULL)
        return FOUND_NOMEM;
    for (int i = 0; i < doubts->count; i++) {
        const struct doubt *d = &doubts->list[i];
        int number = r->snapshot->event.entries->list[d->car].number;
        if (strcmp(d->id, id) != 0)
            continue;
        (void)snprintf(subject->car, sizeof subject->car, "%d", number);
        textbuf_puts(&subject->point, r->snapshot->event.rules->points[d->point].id);
        textbuf_printf(&subject->title, "Car %d at %s: %s", number, textbuf_text(&subject->point),
                       d->why);
        return doubt_is_open(d) ? FOUND_OPEN : FOUND;
    }
    return FOUND_NOT;
}

static enum found find_refusal(struct request *r, struct store *store, const char *id,
                               struct doubt_subject *subject) {
    const struct refusals *refusals = read_refusals(r, store);
    if (refusals == NULL)
        return FOUND_NOMEM;
    for (size_t i = 0; i < refusals->count; i++) {
        const struct stored_refusal *refusal = &refusals->list[i];
        if (strcmp(refusal->case_id, id) != 0)
            continue;
        if (strlen(refusal->car) < sizeof subject->car)
            (void)snprintf(subject->car, sizeof subject->car, "%s", refusal->car);
        textbuf_puts(&subject->point, refusal->point);
        write_title(&subject->title, refusal);
        return FOUND;
    }
    return FOUND_NOT;
}

/* A case can be acknowledged while it waits, and taken up again while it is acknowledged. */
static enum found find_case(struct request *r, struct store *store, const char *id, bool again,
                            struct doubt_subject *subject) {
    const struct acknowledgements *all = read_acknowledgements(r, store);
    if (all == NULL)
        return FOUND_NOMEM;
    const struct stored_acknowledgement *a = stored_acknowledgement_of(all->list, all->count, id);
    bool acknowledged = a != NULL && !a->reopened;
    if (acknowledged != again)
        return FOUND_NOT;
    if (again) {
        (void)snprintf(subject->car, sizeof subject->car, "%s", a->car);
        textbuf_puts(&subject->point, a->point);
        textbuf_puts(&subject->title, a->title);
        return FOUND;
    }
    enum found found = find_doubt(r, id, subject);
    return found == FOUND_NOT ? find_refusal(r, store, id, subject) : found;
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
