/* SPDX-License-Identifier: MIT */
/* Start lists: made by a plan, shown, and saved as starts.csv where that is asked for. */
#include "base/err.h"
#include "base/problem.h"
#include "format/json_write.h"
#include "live/etag.h"
#include "live/writer_private.h"
#include "office/start_list.h"

/* Tells a start list, but for the revision, which comes with the commit. */
static void write_answer_of(struct write *write, const struct event *event,
                            const struct start_list *list, const struct problems *problems,
                            bool save, const char *tag) {
    struct textbuf *b = &write->told;
    textbuf_printf(b, "\"day\":%d,\"date\":\"%s\",\"saved\":%s,\"starts\":[", list->day + 1,
                   event->rules->days[list->day].date, save ? "true" : "false");
    for (int i = 0; i < list->count; i++) {
        textbuf_puts(b, i > 0 ? ",\n" : "\n");
        start_write_json(b, event, list->rows[i].car, list->rows[i].time);
    }
    textbuf_puts(b, "],\"doubts\":[");
    for (size_t i = 0; i < problems->count; i++) {
        textbuf_puts(b, i > 0 ? "," : "");
        json_write_text(b, problems->list[i].text);
    }
    textbuf_printf(b, "],\"tag\":\"%s\"}\n", tag);
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
static int make_starts(struct writer *w, struct write *write, struct textbuf *document,
                       bool *save) {
    struct event event = w->set->event;
    const struct sent_document *old = &w->shared->documents.starts;
    struct problems problems = {0};
    struct start_plan plan = {0};
    struct start_list list = {0};
    char tag[ETAG_LEN];
    event.readings = readings_view(w->model->readings);
    int err = start_plan_init(&plan, &event, (int)write->number);
    if (err == ERR_OK)
        err = start_plan_read(&plan, write->body, write->len, "save", save, &problems);
    if (err == ERR_OK)
        err = start_list_make(&plan, &problems, &list);
    if (err == ERR_INPUT)
        writer_list_problems(&problems, &write->why);
    if (err == ERR_OK)
        err = start_list_merge(&list, &event, old->len > 0 ? old->text : NULL, old->len, document);
    if (err == ERR_OK)
        err = tag_of_starts(old, document, tag);
    if (err == ERR_OK && *write->if_match != '\0' && !etag_is(write->if_match, tag))
        err = ERR_CONFLICT;
    if (err == ERR_OK)
        write_answer_of(write, &event, &list, &problems, *save, tag);
    start_list_clear(&list);
    start_plan_clear(&plan);
    problems_clear(&problems);
    return err == ERR_OK && (document->failed || write->told.failed) ? ERR_NOMEM : err;
}

static int take_starts(struct transaction *t, struct write *write) {
    struct textbuf document = {0};
    bool save = true;
    int err = make_starts(t->w, write, &document, &save);
    const struct file_text file = {document.bytes, document.len};
    if (err == ERR_CONFLICT)
        err = write_decline(write, WRITE_STALE);
    else if (err == ERR_INPUT && write->why.len > 0)
        err = write_decline(write, WRITE_REFUSED);
    else if (err == ERR_OK && save)
        err = transaction_add_document(t, write, "text/csv", &file);
    if (err == ERR_OK && t->stores)
        write->accepted = 1;
    textbuf_clear(&document);
    return err;
}

static void count_saved(const struct write *write, struct write_queue_figures *figures) {
    if (write->accepted > 0)
        writer_count_one(write, figures);
}

const struct write_operations starts_operations = {
    .upload = "starts.csv", .sort = UPLOAD_OTHER, .take = take_starts, .count = count_saved};
