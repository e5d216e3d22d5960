/* SPDX-License-Identifier: MIT */
/* Enquiries and protests: opened by the office or by a crew, and answered. In messages they are
 * cases. */
#include <stdio.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "format/json_write.h"
#include "live/writer_private.h"
#include "store/code_book.h"
#include "store/stored_enquiries.h"
#include "system/hard_limits.h"

static int take_enquiry(struct transaction *t, struct write *head) {
    struct enquiry_write *write = enquiry_write_of(head);
    const struct model *model = t->w->model;
    struct stored_enquiry e = {.opened_ms = t->now,
                               .kind = (char *)write->kind,
                               .car = (char *)write->car,
                               .point = (char *)write->point,
                               .text = (char *)write->text};
    int64_t number = 0;
    if (decimal_parse_whole(write->car, 1, NUMBER_MAX, &number) != ERR_OK ||
        entries_find(model->entries, number) < 0)
        textbuf_printf(&head->why, "car: “%s” is not in the entry list\n", write->car);
    if (*write->point != '\0' && strmap_get(&model->rules->point_by_id, write->point) < 0 &&
        strmap_get(&model->rules->item_by_id, write->point) < 0)
        textbuf_printf(&head->why, "point: “%s” is not on the route\n", write->point);
    if (head->why.len > 0)
        return write_decline(head, WRITE_REFUSED);
    t->stores = t->office = t->notices = true;
    return store_add_enquiry(t->w->store, &e, t->key->id, write->body.text, write->body.len,
                             &write->number);
}

/* That of a number, NULL where there is none. */
static const struct stored_enquiry *find_enquiry(const struct noticeboard *board, int64_t number) {
    for (size_t i = 0; i < board->enquiry_count; i++) {
        if (board->enquiries[i].number == number)
            return &board->enquiries[i];
    }
    return NULL;
}

static int take_answer(struct transaction *t, struct write *head) {
    const struct answer_write *write = answer_write_of(head);
    const struct stored_enquiry *there = find_enquiry(t->w->notices, write->number);
    struct stored_enquiry e = {.number = write->number,
                               .answered_ms = t->now,
                               .outcome = (char *)write->outcome,
                               .answer = (char *)write->text};
    if (there == NULL) {
        textbuf_printf(&head->why, "there is no case %lld\n", (long long)write->number);
        return write_decline(head, WRITE_REFUSED);
    }
    if (there->answered_ms != 0) {
        textbuf_printf(&head->why, "case %lld is answered already\n", (long long)write->number);
        return write_decline(head, WRITE_NOT_YET);
    }
    t->stores = t->office = t->notices = true;
    return store_add_answer(t->w->store, &e, t->key->id, write->body.text, write->body.len);
}

/* ---- by a crew ---- */

static bool is_code(const struct writer *w, const struct crew_enquiry_write *asked) {
    const struct code_book *book = &w->keys->codes;
    return entries_find(w->model->entries, asked->car) >= 0 &&
           crew_code_is(book->secret, asked->car, code_book_serial(book, asked->car), asked->code);
}

/* The open enquiry of a car's crew with the same question; NULL where it is new.
 *   open  gets how many of the car are open */
static const struct stored_enquiry *find_same(const struct noticeboard *board,
                                              const struct crew_enquiry_write *asked, int *open) {
    const struct stored_enquiry *same = NULL;
    *open = 0;
    for (size_t i = 0; i < board->enquiry_count; i++) {
        const struct stored_enquiry *e = &board->enquiries[i];
        if (e->answered_ms != 0 || stored_enquiry_car(e) != asked->car)
            continue;
        ++*open;
        if (same == NULL && e->by_crew && strcmp(e->point, asked->point) == 0 &&
            strcmp(e->text, asked->text) == 0)
            same = e;
    }
    return same;
}

/* What is kept of a crew's request: all but its code. */
static void write_kept(struct textbuf *b, const struct crew_enquiry_write *asked) {
    json_open_object(b);
    json_member_text(b, "point", asked->point);
    json_member_text(b, "text", asked->text);
    json_close_object(b);
}

static int add_crew_enquiry(struct transaction *t, struct crew_enquiry_write *write) {
    struct textbuf kept = {0};
    char car[24];
    (void)snprintf(car, sizeof car, "%lld", (long long)write->car);
    struct stored_enquiry e = {.opened_ms = t->now,
                               .by_crew = true,
                               .kind = (char *)"enquiry",
                               .car = car,
                               .point = (char *)write->point,
                               .text = (char *)write->text};
    write_kept(&kept, write);
    int err = kept.failed
                  ? ERR_NOMEM
                  : store_add_enquiry(t->w->store, &e, 0, kept.bytes, kept.len, &write->number);
    textbuf_clear(&kept);
    t->stores = t->office = t->notices = true;
    write->opened_ms = t->now;
    return err;
}

/* A crew on a bad line sends again: a question that is still open is not opened twice. */
static int take_crew_enquiry(struct transaction *t, struct write *head) {
    struct crew_enquiry_write *write = crew_enquiry_write_of(head);
    int open = 0;
    if (!is_code(t->w, write))
        return write_decline(head, WRITE_WRONG_CODE);
    const struct stored_enquiry *same = find_same(t->w->notices, write, &open);
    if (same != NULL) {
        write->number = same->number;
        write->opened_ms = same->opened_ms;
        write->repeated = true;
        return ERR_OK;
    }
    if (open < LIMIT_OPEN_CASES)
        return add_crew_enquiry(t, write);
    textbuf_printf(&head->why, "%d enquiries of car %lld wait for an answer already\n", open,
                   (long long)write->car);
    return write_decline(head, WRITE_NOT_YET);
}

static void count_crew_enquiry(const struct write *head, struct write_figures *figures) {
    writer_count_one(head, figures);
    if (crew_enquiry_write_of(head)->repeated)
        atomic_fetch_add(&figures->duplicates, 1);
}

const struct write_operations enquiry_operations = {
    .sort = UPLOAD_OTHER, .take = take_enquiry, .count = writer_count_one};

const struct write_operations answer_operations = {
    .sort = UPLOAD_OTHER, .take = take_answer, .count = writer_count_one};

const struct write_operations crew_enquiry_operations = {.author = AUTHOR_CREW,
                                                         .sort = UPLOAD_OTHER,
                                                         .take = take_crew_enquiry,
                                                         .count = count_crew_enquiry};
