/* SPDX-License-Identifier: MIT */
/* The cases of crews: opened by the office or by a crew, and answered. */
#include <stdio.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "format/json_write.h"
#include "live/writer_private.h"
#include "system/hard_limits.h"

static int take_enquiry(struct transaction *t, struct write *write) {
    const char *const *fields = write->upload.rows[0].fields;
    const struct model *model = t->w->model;
    struct stored_enquiry e = {.opened_ms = t->now,
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
        return write_decline(write, WRITE_REFUSED);
    t->stores = t->office = t->notices = true;
    return store_add_enquiry(t->w->store, &e, t->key->id, write->body, write->len, &write->number);
}

/* The case of that number, NULL where there is none. */
static const struct stored_enquiry *find_case(const struct noticeboard *board, int64_t number) {
    for (size_t i = 0; i < board->enquiry_count; i++) {
        if (board->enquiries[i].number == number)
            return &board->enquiries[i];
    }
    return NULL;
}

static int take_answer(struct transaction *t, struct write *write) {
    const char *const *fields = write->upload.rows[0].fields;
    const struct stored_enquiry *there = find_case(t->w->notices, write->number);
    struct stored_enquiry e = {.number = write->number,
                               .answered_ms = t->now,
                               .outcome = (char *)fields[0],
                               .answer = (char *)fields[1]};
    if (there == NULL) {
        textbuf_printf(&write->why, "there is no case %lld\n", (long long)write->number);
        return write_decline(write, WRITE_REFUSED);
    }
    if (there->answered_ms != 0) {
        textbuf_printf(&write->why, "case %lld is answered already\n", (long long)write->number);
        return write_decline(write, WRITE_NOT_YET);
    }
    t->stores = t->office = t->notices = true;
    return store_add_answer(t->w->store, &e, t->key->id, write->body, write->len);
}

/* ---- by a crew ---- */

static bool is_code(const struct writer *w, const struct crew_enquiry *asked) {
    const struct code_book *book = &w->keys->codes;
    return entries_find(w->model->entries, asked->car) >= 0 &&
           crew_code_is(book->secret, asked->car, code_book_serial(book, asked->car), asked->code);
}

/* What a car's crew asked already and was not answered: the same question, NULL where it is new.
 *   open  gets how many cases of the car are open */
static const struct stored_enquiry *find_same(const struct noticeboard *board,
                                              const struct crew_enquiry *asked, int *open) {
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

/* What a crew sent, as it is kept: without its code. */
static void write_kept(struct textbuf *b, const struct crew_enquiry *asked) {
    textbuf_puts(b, "{\"point\":");
    json_write_text(b, asked->point);
    textbuf_puts(b, ",\"text\":");
    json_write_text(b, asked->text);
    textbuf_putc(b, '}');
}

static int add_crew_case(struct transaction *t, struct write *write) {
    const struct crew_enquiry *asked = &write->crew;
    struct textbuf kept = {0};
    char car[24];
    (void)snprintf(car, sizeof car, "%lld", (long long)asked->car);
    struct stored_enquiry e = {.opened_ms = t->now,
                               .by_crew = true,
                               .kind = (char *)"enquiry",
                               .car = car,
                               .point = (char *)asked->point,
                               .text = (char *)asked->text};
    write_kept(&kept, asked);
    int err = kept.failed
                  ? ERR_NOMEM
                  : store_add_enquiry(t->w->store, &e, 0, kept.bytes, kept.len, &write->number);
    textbuf_clear(&kept);
    t->stores = t->office = t->notices = true;
    write->at_ms = t->now;
    return err;
}

/* A crew on a bad line sends again: what is asked and not answered yet is not asked twice. */
static int take_crew_enquiry(struct transaction *t, struct write *write) {
    const struct crew_enquiry *asked = &write->crew;
    int open = 0;
    if (!is_code(t->w, asked))
        return write_decline(write, WRITE_UNAUTHORISED);
    const struct stored_enquiry *same = find_same(t->w->notices, asked, &open);
    if (same != NULL) {
        write->number = same->number;
        write->at_ms = same->opened_ms;
        write->duplicates = 1;
        return ERR_OK;
    }
    if (open < LIMIT_OPEN_CASES)
        return add_crew_case(t, write);
    textbuf_printf(&write->why, "%d enquiries of car %lld wait for an answer already\n", open,
                   (long long)asked->car);
    return write_decline(write, WRITE_NOT_YET);
}

static void count_crew_enquiry(const struct write *write, struct write_queue_figures *figures) {
    writer_count_one(write, figures);
    atomic_fetch_add(&figures->duplicates, write->duplicates);
}

const struct write_operations enquiry_operations = {
    .sort = UPLOAD_OTHER, .take = take_enquiry, .count = writer_count_one};

const struct write_operations answer_operations = {
    .sort = UPLOAD_OTHER, .take = take_answer, .count = writer_count_one};

const struct write_operations crew_enquiry_operations = {.author = AUTHOR_CREW,
                                                         .sort = UPLOAD_OTHER,
                                                         .take = take_crew_enquiry,
                                                         .count = count_crew_enquiry};
