/* SPDX-License-Identifier: MIT */
#include "live/event_import.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "scoring/view.h"
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
static bool shows(const struct view *view, const struct model *folder, const struct reading *r,
                  const struct decision *d) {
    if (view == NULL)
        return true;
    if (r != NULL)
        return view_shows_reading(view, folder, r);
    return d->kind == DECIDE_CLOSE || d->kind == DECIDE_REVOKE ||
           view_shows_decision(view, folder, d);
}

static void blame(struct problems *problems, const char *file, long line, struct textbuf *reason) {
    problems_add(problems, PROBLEM_ERROR, file, line, "%s", textbuf_text(reason));
    textbuf_reset(reason);
}

/* Adds what the folder has and the file has not. An id that is there with other content is bad
 * input: nothing is taken then. */
static int import_facts(struct store *store, const struct model *folder, const struct model *there,
                        const struct view *view, const struct event_files *files,
                        struct problems *problems, struct added *added) {
    struct textbuf reason = {0};
    int64_t upload = 0;
    int err = ERR_OK;
    if (files->readings.text != NULL)
        err = store_add_upload(store, now_ms(), "import", 0, "readings", "text/csv",
                               files->readings.text, files->readings.len, &upload);
    for (int i = 0; err == ERR_OK && i < readings_count(folder->readings); i++) {
        const struct reading *r = readings_at(folder->readings, i);
        int old = there == NULL ? -1 : readings_find(there->readings, r->id);
        if (old < 0) {
            err = store_add_reading(store, r, upload);
            added->anything = true;
            added->public_change = added->public_change || shows(view, folder, r, NULL);
        } else if (readings_try(there->readings, &r->text, &reason) == FACT_REFUSED) {
            blame(problems, "readings.csv", 0, &reason);
        }
    }
    if (err == ERR_OK && files->decisions.text != NULL)
        err = store_add_upload(store, now_ms(), "import", 0, "decisions", "text/csv",
                               files->decisions.text, files->decisions.len, &upload);
    for (int i = 0; err == ERR_OK && i < decisions_count(folder->decisions); i++) {
        const struct decision *d = decisions_at(folder->decisions, i);
        int old = there == NULL ? -1 : decisions_find(there->decisions, d->id);
        if (old < 0) {
            err = store_add_decision(store, d, upload);
            added->anything = true;
            added->public_change = added->public_change || shows(view, folder, NULL, d);
        } else if (decisions_try(there->decisions, &d->text, &reason) == FACT_REFUSED) {
            blame(problems, "decisions.csv", d->line, &reason);
        }
    }
    textbuf_clear(&reason);
    return err == ERR_OK && problems_fatal(problems) ? ERR_INPUT : err;
}

/* Every fact that is there must still have its place under the folder's documents. */
static void check_facts(const struct model *folder, const struct model *there,
                        struct problems *problems) {
    struct textbuf reason = {0};
    for (int i = 0; there != NULL && i < readings_count(there->readings); i++) {
        const struct reading *r = readings_at(there->readings, i);
        if (readings_find(folder->readings, r->id) < 0 &&
            readings_try(folder->readings, &r->text, &reason) == FACT_REFUSED)
            blame(problems, "event file: a reading that is there would lose its place", 0, &reason);
    }
    for (int i = 0; there != NULL && i < decisions_count(there->decisions); i++) {
        const struct decision *d = decisions_at(there->decisions, i);
        if (decisions_find(folder->decisions, d->id) < 0 &&
            decisions_try(folder->decisions, &d->text, &reason) == FACT_REFUSED)
            blame(problems, "event file: a decision that is there would lose its place", 0,
                  &reason);
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
    struct added added = {.anything = begun->anything};
    struct stored_revision last;
    struct view *view = NULL;
    struct view_request request = {.live = true, .public_view = true, .after = -1};
    int err = there == NULL ? ERR_OK : view_new(&there->event, request, &view);
    check_facts(folder, there, problems);
    if (err == ERR_OK && problems_fatal(problems))
        err = ERR_INPUT;
    if (err == ERR_OK)
        err = import_document(store, "event.json", &files->rules, &added.anything);
    if (err == ERR_OK)
        err = import_document(store, "entries.csv", &files->entries, &added.anything);
    if (err == ERR_OK)
        err = import_document(store, "starts.csv", &files->starts, &added.anything);
    /* Points keep their places only while the documents stay the same. */
    added.public_change = added.anything;
    if (err == ERR_OK)
        err = import_facts(store, folder, there, added.anything ? NULL : view, files, problems,
                           &added);
    if (err == ERR_OK)
        err = store_last_revision(store, &last);
    if (err == ERR_OK && added.anything)
        err = add_revision(store, &last, added.public_change, begun);
    view_free(view);
    if (err == ERR_OK && added.anything)
        return store_commit(store);
    store_rollback(store);
    return err;
}
