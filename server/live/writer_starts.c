/* SPDX-License-Identifier: MIT */
/* Start lists: made by a plan, shown, and saved as starts.csv where that is asked for. */
#include "base/err.h"
#include "base/problem.h"
#include "format/json_write.h"
#include "live/etag.h"
#include "live/writer_private.h"
#include "office/start_list.h"

/* The answer, but for the revision, which comes with the commit. */
static void write_list(struct textbuf *b, const struct event *event, const struct start_list *list,
                       const struct problems *problems, bool save, const char *tag) {
    json_member_int(b, "day", list->day + 1);
    json_member_text(b, "date", event->rules->days[list->day].date);
    json_member_bool(b, "saved", save);
    json_member_array(b, "starts");
    for (int i = 0; i < list->count; i++) {
        json_line(b);
        start_write_json(b, event, list->rows[i].car, list->rows[i].time);
    }
    json_close_array(b);
    json_member_array(b, "doubts");
    for (size_t i = 0; i < problems->count; i++) {
        json_write_text(b, problems->list[i].text);
    }
    json_close_array(b);
    json_member_text(b, "tag", tag);
}

/* Names a list together with those that it takes the place of: under the same tag the same is kept
 * in the place of the same. Returns ERR_OK or ERR_NOMEM. */
static int tag_of_starts(const struct sent_document *old, const struct textbuf *document,
                         char tag[ETAG_LEN]) {
    struct textbuf both = {0};
    textbuf_add(&both, old->text, old->len);
    textbuf_putc(&both, '\0');
    textbuf_add(&both, document->bytes, document->len);
    bool failed = both.failed || document->failed;
    if (!failed)
        etag_of_document(&(struct sent_document){both.bytes, both.len}, tag);
    textbuf_clear(&both);
    return failed ? ERR_NOMEM : ERR_OK;
}

/* Makes the start list that the write asks for, and the starts.csv that would keep it. ERR_CONFLICT
 * where the write names another list than that. */
static int make_starts(struct writer *w, struct start_list_write *write, struct textbuf *document,
                       bool *save) {
    struct event event = w->set->event;
    const struct sent_document *old = &w->shared->documents.starts;
    struct problems problems = {0};
    struct start_plan plan = {0};
    struct start_list list = {0};
    char tag[ETAG_LEN];
    event.readings = readings_view(w->model->readings);
    int err = start_plan_init(&plan, &event, write->day);
    if (err == ERR_OK)
        err = start_plan_read(&plan, write->body.text, write->body.len, "save", save, &problems);
    if (err == ERR_OK)
        err = start_list_make(&plan, &problems, &list);
    if (err == ERR_INPUT)
        writer_list_problems(&problems, &write->head.why);
    if (err == ERR_OK)
        err = start_list_merge(&list, &event, old->len > 0 ? old->text : NULL, old->len, document);
    if (err == ERR_OK)
        err = tag_of_starts(old, document, tag);
    if (err == ERR_OK && *write->head.if_match != '\0' && !etag_is(write->head.if_match, tag))
        err = ERR_CONFLICT;
    if (err == ERR_OK)
        write_list(&write->list, &event, &list, &problems, *save, tag);
    start_list_clear(&list);
    start_plan_clear(&plan);
    problems_clear(&problems);
    return err == ERR_OK && (document->failed || write->list.failed) ? ERR_NOMEM : err;
}

static int take_start_list(struct transaction *t, struct write *head) {
    struct start_list_write *write = start_list_write_of(head);
    struct textbuf made = {0};
    bool save = true;
    int err = make_starts(t->w, write, &made, &save);
    const struct write_body document = {"text/csv", made.bytes, made.len};
    if (err == ERR_CONFLICT)
        err = write_decline(head, WRITE_STALE);
    else if (err == ERR_INPUT && head->why.len > 0)
        err = write_decline(head, WRITE_REFUSED);
    else if (err == ERR_OK && save)
        err = transaction_add_document(t, head, &document, NULL);
    write->saved = t->stores;
    textbuf_clear(&made);
    return err;
}

static void count_start_list(const struct write *head, struct write_figures *figures) {
    if (start_list_write_of(head)->saved)
        writer_count_one(head, figures);
}

static void clear_start_list(struct write *head) {
    textbuf_clear(&start_list_write_of(head)->list);
}

const struct write_operations start_list_operations = {.upload = "starts.csv",
                                                       .sort = UPLOAD_OTHER,
                                                       .take = take_start_list,
                                                       .count = count_start_list,
                                                       .clear = clear_start_list};
