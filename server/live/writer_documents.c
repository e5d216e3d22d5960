/* SPDX-License-Identifier: MIT */
/* Documents, taken whole, with every fact still in place, or not at all: rules and entry lists. */
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "live/etag.h"
#include "live/model_facts.h"
#include "live/writer_private.h"
#include "store/store.h"
#include "store/stored_documents.h"

void writer_list_problems(const struct problems *problems, struct textbuf *why) {
    for (size_t i = 0; i < problems->count; i++) {
        const struct problem *problem = &problems->list[i];
        if (problem->level == PROBLEM_ERROR)
            textbuf_printf(why, "%s: %s\n", problem->place, problem->text);
    }
}

/* Every fact that is there must still have its place under a new document. The first of those that
 * would not are named. */
static void check_facts(const struct writer *w, const struct model *next, struct textbuf *why) {
    enum { NAMED = 20 };
    struct textbuf reason = {0};
    int lost = 0;
    for (enum fact_kind kind = 0; kind < FACT_KIND_COUNT; kind++) {
        for (int i = 0; i < facts_count(w->model, kind) && lost < NAMED; i++) {
            struct fact fact = facts_at(w->model, kind, i);
            if (!facts_lost(&fact, next, &reason))
                continue;
            textbuf_printf(why, "%s %s would be lost: %s\n", fact_word(kind), fact.id,
                           textbuf_text(&reason));
            lost++;
        }
    }
    textbuf_clear(&reason);
}

int transaction_add_document(struct transaction *t, struct write *head,
                             const struct write_body *document, const struct change_note *note) {
    struct store *store = t->w->store;
    int64_t upload = 0;
    int err = transaction_add_upload(t, head, document, &upload);
    if (err == ERR_OK)
        err = store_add_document(store, head->operations->upload, upload);
    if (err == ERR_OK && note != NULL)
        err = store_add_change_note(store, note, upload);
    if (err == ERR_OK)
        err = store_load_event(store, &t->next);
    if (err != ERR_OK)
        return err;
    check_facts(t->w, t->next, &head->why);
    if (head->why.len > 0)
        return write_decline(head, WRITE_REFUSED);
    t->stores = t->office = t->public = true;
    return ERR_OK;
}

/* Reads what the event would be with the new document, as strictly as the import does. */
static int read_next(struct writer *w, bool rules, const struct write_body *body,
                     struct textbuf *why) {
    struct problems problems = {0};
    struct model *model = NULL;
    struct event_files files = {0};
    char *other = NULL;
    char *starts = NULL;
    struct file_text *own = rules ? &files.rules : &files.entries;
    struct file_text *rest = rules ? &files.entries : &files.rules;
    int err = store_document(w->store, rules ? "entries.csv" : "event.json", &other, &rest->len);
    if (err == ERR_OK &&
        store_document(w->store, "starts.csv", &starts, &files.starts.len) == ERR_OK &&
        files.starts.len > 0)
        files.starts.text = starts;
    rest->text = other;
    *own = (struct file_text){body->text, body->len};
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

static int take_document(struct transaction *t, struct write *head, bool rules,
                         const struct sent_document *in_force) {
    const struct document_write *write = document_write_of(head);
    if (*head->if_match != '\0' && !etag_is_document(head->if_match, in_force))
        return write_decline(head, WRITE_STALE);
    int err = read_next(t->w, rules, &write->body, &head->why);
    if (err == ERR_INPUT && head->why.len > 0)
        return write_decline(head, WRITE_REFUSED);
    if (err != ERR_OK)
        return err;
    return transaction_add_document(t, head, &write->body,
                                    write->note.reason == NULL ? NULL : &write->note);
}

static int take_rules(struct transaction *t, struct write *head) {
    return take_document(t, head, true, &t->w->shared->documents.rules);
}

static int take_entries(struct transaction *t, struct write *head) {
    return take_document(t, head, false, &t->w->shared->documents.entries);
}

const struct write_operations rules_operations = {
    .upload = "event.json", .sort = UPLOAD_OTHER, .take = take_rules, .count = writer_count_one};

const struct write_operations entries_operations = {
    .upload = "entries.csv", .sort = UPLOAD_OTHER, .take = take_entries, .count = writer_count_one};
