/* SPDX-License-Identifier: MIT */
#include "live/event_import.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "live/model_facts.h"
#include "store/store.h"
#include "store/stored_documents.h"
#include "system/system_clock.h"

/* Keeps a file as an upload, and as the document in force where it differs from what is. */
static int import_document(struct store *store, const char *name, const struct file_text *file,
                           bool *changed) {
    char *old = NULL;
    size_t old_len = 0;
    int64_t upload = 0;
    int err = store_document(store, name, &old, &old_len);
    bool same = file->text == NULL ? err == ERR_UNKNOWN || old_len == 0
                                   : err == ERR_OK && old_len == file->len &&
                                         memcmp(old, file->text, old_len) == 0;
    free(old);
    if (err != ERR_OK && err != ERR_UNKNOWN)
        return err;
    if (same)
        return ERR_OK;
    *changed = true;
    err = store_add_upload(store, now_ms(), "import", 0, name, "text/plain",
                           file->text == NULL ? "" : file->text, file->len, &upload);
    return err != ERR_OK ? err : store_add_document(store, name, upload);
}

/* What an import adds. */
struct added {
    bool anything;
    bool public_change; /* the public can see something of it */
};

/* Whether the public can see something of a new fact. Where the item is open to all in the event
 * as it was, or the fact may open one, it can. */
static bool shows(const struct view *view, const struct model *folder, const struct fact *fact) {
    bool opens = fact->decision != NULL &&
                 (fact->decision->kind == DECIDE_CLOSE || fact->decision->kind == DECIDE_REVOKE);
    return view == NULL || opens || facts_show(view, folder, fact);
}

/* What is at work in one import. */
struct import {
    struct store *store;
    const struct model *folder;
    const struct model *there; /* NULL where there is none */
    const struct view *view;   /* of it; NULL where points may have moved */
    struct problems *problems;
    struct added added;
};

/* Adds a fact that the file has not. An id that is there with other content is bad input. */
static int import_fact(struct import *import, const struct fact *fact, int64_t upload,
                       struct textbuf *reason) {
    char file[32];
    if (import->there == NULL || facts_find(import->there, fact->kind, fact->id) < 0) {
        import->added.anything = true;
        import->added.public_change =
            import->added.public_change || shows(import->view, import->folder, fact);
        return facts_store(import->store, fact, upload);
    }
    textbuf_reset(reason);
    (void)snprintf(file, sizeof file, "%s.csv", facts_word(fact->kind));
    if (facts_try(import->there, fact, reason) == FACT_REFUSED)
        problems_add(import->problems, PROBLEM_ERROR, file, fact->line, "%s", textbuf_text(reason));
    return ERR_OK;
}

/* The bytes of a file of facts, kept as an upload; its id is 0 where the file is not there. */
static int keep_file(struct import *import, enum fact_kind kind, const struct file_text *text,
                     int64_t *upload) {
    *upload = 0;
    return text->text == NULL
               ? ERR_OK
               : store_add_upload(import->store, now_ms(), "import", 0, facts_word(kind),
                                  "text/csv", text->text, text->len, upload);
}

/* True for what can only have come with unassigned.csv. */
static bool is_aside(const struct fact *fact) {
    return fact->kind == FACT_READING &&
           (fact->reading->aside != ASIDE_NOT || fact->reading->other_faults);
}

/* Adds what the folder has and the file has not.
 *   text   of the folder's file
 *   aside  of the folder's unassigned.csv; of decisions without a text */
static int import_facts(struct import *import, enum fact_kind kind, const struct file_text *text,
                        const struct file_text *aside) {
    struct textbuf reason = {0};
    int64_t uploads[2] = {0, 0};
    int err = keep_file(import, kind, text, &uploads[0]);
    if (err == ERR_OK)
        err = keep_file(import, kind, aside, &uploads[1]);
    for (int i = 0; err == ERR_OK && i < facts_count(import->folder, kind); i++) {
        struct fact fact = facts_at(import->folder, kind, i);
        bool second = uploads[0] == 0 || (uploads[1] != 0 && is_aside(&fact));
        err = import_fact(import, &fact, uploads[second], &reason);
    }
    textbuf_clear(&reason);
    return err;
}

/* Every fact that is there must still have its place under the folder's documents. */
static void check_facts(const struct model *folder, const struct model *there,
                        struct problems *problems) {
    struct textbuf reason = {0};
    for (enum fact_kind kind = 0; there != NULL && kind < FACT_KIND_COUNT; kind++) {
        for (int i = 0; i < facts_count(there, kind); i++) {
            struct fact fact = facts_at(there, kind, i);
            char place[80];
            (void)snprintf(place, sizeof place,
                           "event file: a %s that is there would lose its place", fact_word(kind));
            if (facts_lost(&fact, folder, &reason))
                problems_add(problems, PROBLEM_ERROR, place, 0, "%s", textbuf_text(&reason));
        }
    }
    textbuf_clear(&reason);
}

/* The next revision. A follower's is that of the server it follows, so that both name the same by
 * the same number, unless ours is past it. */
static int add_revision(struct store *store, const struct stored_revision *last, bool public_change,
                        const struct import_begun *begun) {
    if (begun->office > last->office && begun->public_number >= last->public_number)
        return store_add_revision(store, begun->office, begun->public_number, now_ms());
    return store_add_revision(store, last->office + 1,
                              last->public_number + (public_change ? 1 : 0), now_ms());
}

int event_import(struct store *store, const struct model *folder, const struct model *there,
                 const struct event_files *files, const struct import_begun *begun,
                 struct problems *problems) {
    const struct import_begun nothing = {0};
    begun = begun == NULL ? &nothing : begun;
    struct import import = {.store = store,
                            .folder = folder,
                            .there = there,
                            .problems = problems,
                            .added = {.anything = begun->anything}};
    struct added *added = &import.added;
    struct stored_revision last;
    struct view *view = NULL;
    struct view_request request = {.live = true, .public_view = true, .after = -1};
    int err = there == NULL ? ERR_OK : view_new(&there->event, request, &view);
    check_facts(folder, there, problems);
    if (err == ERR_OK && problems_fatal(problems))
        err = ERR_INPUT;
    if (err == ERR_OK)
        err = import_document(store, "event.json", &files->rules, &added->anything);
    if (err == ERR_OK)
        err = import_document(store, "entries.csv", &files->entries, &added->anything);
    if (err == ERR_OK)
        err = import_document(store, "starts.csv", &files->starts, &added->anything);
    /* Points keep their places only while the documents stay the same. */
    added->public_change = added->anything;
    import.view = added->anything ? NULL : view;
    if (err == ERR_OK)
        err = import_facts(&import, FACT_READING, &files->readings, &files->unassigned);
    if (err == ERR_OK)
        err = import_facts(&import, FACT_DECISION, &files->decisions, &(struct file_text){0});
    if (err == ERR_OK && problems_fatal(problems))
        err = ERR_INPUT;
    if (err == ERR_OK)
        err = store_last_revision(store, &last);
    if (err == ERR_OK && added->anything)
        err = add_revision(store, &last, added->public_change, begun);
    view_free(view);
    if (err == ERR_OK && added->anything)
        return store_commit(store);
    store_rollback(store);
    return err;
}
