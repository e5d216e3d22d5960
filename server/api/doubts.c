/* SPDX-License-Identifier: MIT */
/* What waits for somebody to look at it: doubts about readings and rows that were refused; and what
 * somebody has acknowledged. */
#include "api/api.h"

#include <stdio.h>
#include <string.h>

#include "api/arguments.h"
#include "api/bodies.h"
#include "api/event_object.h"
#include "api/writes.h"
#include "base/err.h"
#include "base/strmap.h"
#include "format/json_write.h"
#include "http/request.h"
#include "http/server.h"
#include "office/doubts.h"
#include "output/output.h"
#include "store/stored_acknowledgements.h"
#include "store/stored_refusals.h"
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
    struct strmap by_id = {0};
    int err = ERR_OK;
    for (size_t i = 0; err == ERR_OK && i < a->count; i++) {
        if (strmap_get(&by_id, a->list[i].doubt_id) < 0)
            err = strmap_put(&by_id, a->list[i].doubt_id, (int32_t)i);
    }
    for (int i = 0; err == ERR_OK && i < doubts->count; i++) {
        int32_t place = strmap_get(&by_id, doubts->list[i].id);
        doubts->list[i].acknowledged = place >= 0 && !a->list[place].reopened;
    }
    strmap_clear(&by_id);
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
        doubts_evaluate(doubts) != ERR_OK)
        return request_no_memory(r);
    for (int i = 0; i < doubts->count; i++)
        open += doubt_is_open(&doubts->list[i]);
    results_object_open(r, b);
    json_member_int(b, "count", doubts->count);
    json_member_int(b, "open", open);
    json_key(b, "doubts");
    doubts_write_json(b, doubts);
    json_close_document(b);
    return MHD_HTTP_OK;
}

/* ---- refused rows ---- */

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
    json_open_object(b);
    json_member_text(b, "id", refusal->doubt_id);
    json_key(b, "title");
    size_t from = json_open_text(b);
    write_title(b, refusal);
    json_close_text(b, from);
    json_key(b, "log");
    from = json_open_text(b);
    textbuf_printf(b, "u%lld", (long long)refusal->upload);
    json_close_text(b, from);
    json_member_int(b, "row", refusal->row);
    json_member_int(b, "times", refusal->times);
    json_member_instant(b, "at", refusal->received_ms);
    json_member_object(b, "key");
    json_member_int(b, "id", refusal->key_id);
    json_member_text(b, "label", refusal->label);
    json_close_object(b);
    json_member_text(b, "reason", refusal->reason);
    json_member_text(b, "point", refusal->point);
    json_member_text(b, "car", refusal->car);
    json_member_text(b, "time", refusal->time);
    json_member_text(b, "elapsed", refusal->elapsed);
    json_member_text(b, "faults", refusal->faults);
    json_member_text(b, "reading", refusal->reading_id);
    json_close_object(b);
}

unsigned api_refusals(struct request *r, struct textbuf *b) {
    struct store *store = NULL;
    unsigned status = request_store(r, &store);
    if (status != 0)
        return status;
    const struct refusals *refusals = read_refusals(r, store);
    if (refusals == NULL)
        return request_no_memory(r);
    event_object_open(r, b);
    json_member_int(b, "count", (int64_t)refusals->count);
    json_member_array(b, "refusals");
    for (size_t i = 0; i < refusals->count && i < LIMIT_REFUSALS_TOLD; i++) {
        json_line(b);
        write_refusal(b, &refusals->list[i]);
    }
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}

/* ---- acknowledged ---- */

static void write_acknowledged(struct textbuf *b, const struct stored_acknowledgement *a) {
    json_open_object(b);
    json_member_text(b, "case", a->doubt_id);
    json_member_instant(b, "at", a->made_ms);
    json_member_text(b, "title", a->title);
    json_member_text(b, "car", a->car);
    json_member_text(b, "point", a->point);
    json_member_text(b, "by", a->made_by);
    json_member_text(b, "reason", a->reason);
    json_close_object(b);
}

unsigned api_acknowledgements(struct request *r, struct textbuf *b) {
    struct store *store = NULL;
    unsigned status = request_store(r, &store);
    if (status != 0)
        return status;
    const struct acknowledgements *all = read_acknowledgements(r, store);
    if (all == NULL)
        return request_no_memory(r);
    event_object_open(r, b);
    json_member_array(b, "acknowledgements");
    for (size_t i = 0; i < all->count; i++) {
        if (all->list[i].reopened)
            continue;
        json_line(b);
        write_acknowledged(b, &all->list[i]);
    }
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}

/* Where it is found, `subject` says what it is. */
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
        if (strcmp(refusal->doubt_id, id) != 0)
            continue;
        if (strlen(refusal->car) < sizeof subject->car)
            (void)snprintf(subject->car, sizeof subject->car, "%s", refusal->car);
        textbuf_puts(&subject->point, refusal->point);
        write_title(&subject->title, refusal);
        return FOUND;
    }
    return FOUND_NOT;
}

/* A doubt or refused row can be acknowledged while it waits, and taken up again while it is
 * acknowledged. */
static enum found find_doubtful(struct request *r, struct store *store, const char *id, bool again,
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

/* Looks it up in the event and its file. Returns 0, or the status of an error described. */
static unsigned find_subject(struct request *r, const char *id, bool again,
                             struct doubt_subject *subject) {
    struct store *store = NULL;
    unsigned status = request_store(r, &store);
    if (status != 0)
        return status;
    enum found found = find_doubtful(r, store, id, again, subject);
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
    const char *const *fields;
    unsigned status = request_object(r, names, COUNT, &fields);
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
    *out = &write->head;
    write->id = fields[ID];
    write->by = fields[BY];
    write->reason = fields[REASON];
    write->reopened = again;
    return find_subject(r, fields[ID], again, &write->subject);
}

const struct write_handler write_acknowledgement = {.prepare = prepare_acknowledgement,
                                                    .answer = answer_document};
