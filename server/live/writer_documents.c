/* SPDX-License-Identifier: MIT */
/* Documents taken whole: rules, entries, start lists. */
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "format/json_write.h"
#include "live/etag.h"
#include "live/writer_private.h"
#include "office/start_list.h"
#include "system/system_clock.h"

/* Every fact that is there must still have its place under a new document. */
static void check_facts(const struct writer *w, const struct model *next, struct textbuf *why) {
    const struct model *model = w->model;
    struct textbuf reason = {0};
    int lost = 0;
    for (int i = 0; i < readings_count(model->readings) && lost < 20; i++) {
        const struct reading *r = readings_at(model->readings, i);
        if (readings_find(next->readings, r->id) >= 0)
            continue;
        textbuf_reset(&reason);
        (void)readings_try(next->readings, &r->text, &reason);
        textbuf_printf(why, "reading %s would be lost: %s\n", r->id, textbuf_text(&reason));
        lost++;
    }
    for (int i = 0; i < decisions_count(model->decisions) && lost < 20; i++) {
        const struct decision *d = decisions_at(model->decisions, i);
        if (decisions_find(next->decisions, d->id) >= 0)
            continue;
        textbuf_reset(&reason);
        (void)decisions_try(next->decisions, &d->text, &reason);
        textbuf_printf(why, "decision %s would be lost: %s\n", d->id, textbuf_text(&reason));
        lost++;
    }
    textbuf_clear(&reason);
}

static void list_problems(const struct problems *problems, struct textbuf *why) {
    for (size_t i = 0; i < problems->count; i++)
        textbuf_printf(why, "%s: %s\n", problems->list[i].place, problems->list[i].text);
}

/* Reads what the event would be with the new document, as strictly as the import does. */
static int read_next(struct writer *w, const struct write *write, struct textbuf *why) {
    struct problems problems = {0};
    struct model *model = NULL;
    struct event_files files = {0};
    char *other = NULL;
    char *starts = NULL;
    bool rules = write->kind == WRITE_RULES;
    struct file_text *own = rules ? &files.rules : &files.entries;
    struct file_text *rest = rules ? &files.entries : &files.rules;
    int err = store_document(w->store, rules ? "entries.csv" : "event.json", &other, &rest->len);
    if (err == ERR_OK &&
        store_document(w->store, "starts.csv", &starts, &files.starts.len) == ERR_OK &&
        files.starts.len > 0)
        files.starts.text = starts;
    rest->text = other;
    *own = (struct file_text){write->body, write->len};
    if (err == ERR_OK)
        err = model_read(&files, &problems, &model);
    if (err == ERR_INPUT)
        list_problems(&problems, why);
    if (err == ERR_OK && strcmp(model->rules->slug, w->served->slug) != 0) {
        textbuf_printf(why, "event.json: slug: must stay “%s”\n", w->served->slug);
        err = ERR_INPUT;
    }
    model_free(model);
    problems_clear(&problems);
    free(other);
    free(starts);
    return err;
}

/* Tells a start list, but for the revision, which comes with the commit. */
static void tell_starts(struct write *write, const struct event *event,
                        const struct start_list *list, const struct problems *problems, bool save,
                        const char *tag) {
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
        list_problems(&problems, &write->why);
    if (err == ERR_OK)
        err = start_list_merge(&list, &event, old->len > 0 ? old->text : NULL, old->len, document);
    if (err == ERR_OK)
        err = tag_of_starts(old, document, tag);
    if (err == ERR_OK && *write->if_match != '\0' && !etag_is(write->if_match, tag))
        err = ERR_CONFLICT;
    if (err == ERR_OK)
        tell_starts(write, &event, &list, &problems, *save, tag);
    start_list_clear(&list);
    start_plan_clear(&plan);
    problems_clear(&problems);
    return err == ERR_OK && (document->failed || write->told.failed) ? ERR_NOMEM : err;
}

/* Answers the write as its result says. */
static void end_document(struct writer *w, struct write *write, int err, bool stale) {
    if (err == ERR_UNKNOWN)
        write->result = WRITE_UNAUTHORISED;
    else if (stale)
        write->result = WRITE_STALE;
    else if (err == ERR_INPUT)
        write->result = WRITE_REFUSED;
    else if (err != ERR_OK)
        writer_fail(w, write,
                    *store_message(w->store) != '\0' ? store_message(w->store) : err_text(err));
    write->next = NULL;
    writer_answer_all(w, write);
}

static const struct sent_document *paper_of(const struct writer *w, enum write_kind kind) {
    const struct documents *documents = &w->shared->documents;
    return kind == WRITE_RULES ? &documents->rules : &documents->entries;
}

void writer_work_document(struct writer *w, struct write *write) {
    struct model *next = NULL;
    struct textbuf starts = {0};
    struct file_text document = {write->body, write->len};
    int64_t upload = 0;
    int64_t now = now_ms();
    bool save = true;
    int err = writer_begin(w);
    bool begun = err == ERR_OK;
    const struct stored_key *key = writer_key_of(w, write);
    bool starting = write->kind == WRITE_STARTS;
    bool stale = !starting && *write->if_match != '\0' &&
                 !etag_is_document(write->if_match, paper_of(w, write->kind));
    if (err == ERR_OK)
        err = key == NULL ? ERR_UNKNOWN : stale ? ERR_CONFLICT : ERR_OK;
    if (err == ERR_OK && starting) {
        err = make_starts(w, write, &starts, &save);
        stale = err == ERR_CONFLICT;
        document = (struct file_text){starts.bytes, starts.len};
    } else if (err == ERR_OK) {
        err = read_next(w, write, &write->why);
    }
    if (err != ERR_OK || !save) {
        if (begun)
            store_rollback(w->store);
        textbuf_clear(&starts);
        end_document(w, write, err, stale);
        return;
    }
    err = store_add_upload(w->store, now, "http", key->id, writer_upload_kind(write->kind),
                           starting ? "text/csv" : write->media_type, document.text, document.len,
                           &upload);
    textbuf_clear(&starts);
    if (err == ERR_OK)
        err = store_add_document(w->store, writer_upload_kind(write->kind), upload);
    if (err == ERR_OK && write->note.reason != NULL)
        err = store_add_change_note(w->store, &write->note, upload);
    if (err == ERR_OK)
        err = store_load_event(w->store, &next);
    if (err == ERR_OK) {
        check_facts(w, next, &write->why);
        err = write->why.len > 0 ? ERR_INPUT : ERR_OK;
    }
    if (err == ERR_OK)
        err = store_add_revision(w->store, w->office_revision + 1, w->public_revision + 1, now);
    if (err == ERR_OK)
        err = store_commit(w->store);
    else
        store_rollback(w->store);
    if (err == ERR_OK)
        err = writer_adopt(w, next);
    else
        model_free(next);
    if (err == ERR_OK) {
        w->office_revision++;
        w->public_revision++;
        w->office_ms = w->public_ms = now;
        write->accepted = 1;
        (void)writer_publish(w);
    }
    end_document(w, write, err, false);
}
