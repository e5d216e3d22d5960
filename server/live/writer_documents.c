/* SPDX-License-Identifier: MIT */
/* Documents, taken whole, with every fact still in place, or not at all: rules and entry lists. */
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "live/etag.h"
#include "live/writer_private.h"

void writer_list_problems(const struct problems *problems, struct textbuf *why) {
    for (size_t i = 0; i < problems->count; i++)
        textbuf_printf(why, "%s: %s\n", problems->list[i].place, problems->list[i].text);
}

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

int transaction_add_document(struct transaction *t, struct write *write, const char *media_type,
                             const struct file_text *document) {
    struct store *store = t->w->store;
    const char *name = write_operations_of(write)->upload;
    int64_t upload = 0;
    int err = store_add_upload(store, t->now, "http", t->key->id, name, media_type, document->text,
                               document->len, &upload);
    if (err == ERR_OK)
        err = store_add_document(store, name, upload);
    if (err == ERR_OK && write->note.reason != NULL)
        err = store_add_change_note(store, &write->note, upload);
    if (err == ERR_OK)
        err = store_load_event(store, &t->next);
    if (err != ERR_OK)
        return err;
    check_facts(t->w, t->next, &write->why);
    if (write->why.len > 0)
        return write_decline(write, WRITE_REFUSED);
    t->stores = t->office = t->public = true;
    return ERR_OK;
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
        writer_list_problems(&problems, why);
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

static int take_document(struct transaction *t, struct write *write,
                         const struct sent_document *in_force) {
    const struct file_text document = {write->body, write->len};
    if (*write->if_match != '\0' && !etag_is_document(write->if_match, in_force))
        return write_decline(write, WRITE_STALE);
    int err = read_next(t->w, write, &write->why);
    if (err == ERR_INPUT && write->why.len > 0)
        return write_decline(write, WRITE_REFUSED);
    return err == ERR_OK ? transaction_add_document(t, write, write->media_type, &document) : err;
}

static int take_rules(struct transaction *t, struct write *write) {
    return take_document(t, write, &t->w->shared->documents.rules);
}

static int take_entries(struct transaction *t, struct write *write) {
    return take_document(t, write, &t->w->shared->documents.entries);
}

const struct write_operations rules_operations = {
    .upload = "event.json", .sort = UPLOAD_OTHER, .take = take_rules, .count = writer_count_one};

const struct write_operations entries_operations = {
    .upload = "entries.csv", .sort = UPLOAD_OTHER, .take = take_entries, .count = writer_count_one};
