/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "commands/commands.h"
#include "commands/event_file.h"
#include "commands/recovery.h"
#include "event/document.h"
#include "event/export.h"
#include "event/fact.h"
#include "live/event_import.h"
#include "live/model_facts.h"
#include "remote/merge_notices.h"
#include "store/store.h"
#include "store/stored_documents.h"
#include "store/stored_enquiries.h"
#include "store/stored_notices.h"
#include "system/files.h"
#include "system/problem_lines.h"

static const char about[] =
    "cairn merge DATA_DIR SLUG OTHER_FILE [--leave-conflicts]\n"
    "\n"
    "Unites two event files of one event that went on apart, such as the server's and that of the\n"
    "laptop that went on alone: readings, decisions, notices, cases of OTHER_FILE that are not in\n"
    "DATA_DIR/SLUG.cairn are added to it. OTHER_FILE keeps its facts and may be merged the other\n"
    "way round: both then score the same. Works while the server runs.\n"
    "\n"
    "event.json, entries and start times are taken from the side that changed them; where both\n"
    "did, nothing is merged: import one folder into both first. Keys are not merged.\n";

struct merge_options {
    bool leave_conflicts;
};

static const struct option_row rows[] = {
    {"leave-conflicts", OPTION_FLAG, NULL,
     "a fact whose id stands for something else here is reported and left\n"
     "out; without it nothing is merged then",
     .at = offsetof(struct merge_options, leave_conflicts)},
    {0},
};

static const char notes[] =
    "Exit status: 0; 2 for what cannot be united, each problem a line, and then nothing was\n"
    "changed (with --leave-conflicts: also where something was left out, and where facts of either\n"
    "file are damaged: each is named); 1 for a failure of the machine.\n";

/* A merge under way. */
struct merge {
    struct store *ours, *theirs;
    struct model *our_event, *their_event;
    struct model *missing; /* the documents in force afterwards, and what is to be added */
    char *documents[DOCUMENT_COUNT];
    size_t lens[DOCUMENT_COUNT];
    bool leave_conflicts;
    int conflicts;
    int notices;
    int cases;
    struct problems problems;
};

/* Whether a side has, or has had, this document. No document is where every event begins. */
static int is_known(struct store *store, const char *name, const char *text, size_t len,
                    bool *known) {
    *known = len == 0;
    return len == 0 ? ERR_OK : store_document_known(store, name, text, len, known);
}

/* The document that both sides are to have: of the side that changed it. */
static int choose_document(struct merge *m, int which) {
    const char *name = document_name(which);
    char *ours = NULL;
    char *theirs = NULL;
    size_t our_len = 0;
    size_t their_len = 0;
    bool ours_known = false;
    bool theirs_known = false;
    int err = store_document(m->ours, name, &ours, &our_len);
    if (err == ERR_OK || err == ERR_UNKNOWN)
        err = store_document(m->theirs, name, &theirs, &their_len);
    if (err == ERR_UNKNOWN)
        err = ERR_OK;
    bool same = our_len == their_len && (our_len == 0 || memcmp(ours, theirs, our_len) == 0);
    if (err == ERR_OK)
        err = is_known(m->theirs, name, ours, our_len, &ours_known);
    if (err == ERR_OK)
        err = is_known(m->ours, name, theirs, their_len, &theirs_known);
    if (err == ERR_OK && !same && ours_known == theirs_known) {
        problems_add(&m->problems, PROBLEM_ERROR, name, 0,
                     "both sides changed it; import one folder into both, then merge");
        err = ERR_INPUT;
    }
    /* What the other side has had is the older of the two. */
    bool take_theirs = !same && ours_known;
    m->documents[which] = take_theirs ? theirs : ours;
    m->lens[which] = take_theirs ? their_len : our_len;
    free(take_theirs ? ours : theirs);
    return err;
}

static struct event_files files_of(const struct merge *m) {
    struct file_text texts[DOCUMENT_COUNT];
    for (int i = 0; i < DOCUMENT_COUNT; i++) {
        texts[i].text = m->lens[i] == 0 ? NULL : m->documents[i];
        texts[i].len = m->lens[i];
    }
    return (struct event_files){.rules = texts[DOCUMENT_RULES],
                                .entries = texts[DOCUMENT_ENTRIES],
                                .starts = texts[DOCUMENT_STARTS]};
}

/* One id, two contents: neither can be taken back, so a person must say. */
static void add_conflict(struct merge *m, const char *what, const char *id) {
    problems_add(&m->problems, m->leave_conflicts ? PROBLEM_REFUSED : PROBLEM_ERROR, what, 0,
                 "“%s” says something else here than in the other file", id);
    m->conflicts++;
}

static void add_refusal(struct merge *m, const char *what, const char *id, struct textbuf *reason) {
    problems_add(&m->problems, PROBLEM_ERROR, what, 0, "“%s” has no place: %s", id,
                 textbuf_text(reason));
    textbuf_reset(reason);
}

/* A fact that the other side has. */
static int gather_fact(struct merge *m, const struct fact *theirs, struct textbuf *reason) {
    int at = facts_find(m->our_event, theirs->kind, theirs->id);
    if (at >= 0) {
        struct fact ours = facts_at(m->our_event, theirs->kind, at);
        if (!fact_same(ours.fields, theirs->fields, (size_t)theirs->field_count))
            add_conflict(m, facts_word(theirs->kind), theirs->id);
        return ERR_OK;
    }
    switch (facts_add(m->missing, theirs, reason)) {
    case FACT_NOMEM:
        return ERR_NOMEM;
    case FACT_REFUSED:
        add_refusal(m, facts_word(theirs->kind), theirs->id, reason);
        break;
    case FACT_ADDED:
    case FACT_DUPLICATE:
        break;
    }
    return ERR_OK;
}

/* Facts that the other side has and we have not. */
static int gather(struct merge *m) {
    struct textbuf reason = {0};
    int err = ERR_OK;
    for (enum fact_kind kind = 0; kind < FACT_KIND_COUNT; kind++) {
        for (int i = 0; err == ERR_OK && i < facts_count(m->their_event, kind); i++) {
            struct fact theirs = facts_at(m->their_event, kind, i);
            err = gather_fact(m, &theirs, &reason);
        }
    }
    textbuf_clear(&reason);
    return err == ERR_OK && problems_fatal(&m->problems) ? ERR_INPUT : err;
}

/* Notices and cases that the other side has and we have not. */
static int merge_notices_and_cases(struct merge *m) {
    struct notices_and_cases theirs = {0};
    int err = store_notices(m->theirs, &theirs.notices, &theirs.notice_count);
    if (err == ERR_OK)
        err = store_enquiries(m->theirs, &theirs.cases, &theirs.case_count);
    if (err == ERR_OK)
        err = notices_merge(m->ours, &theirs, &m->notices, &m->cases);
    notices_and_cases_clear(&theirs);
    return err;
}

/* All of it, in one transaction of ours and one moment of theirs. */
static int merge_all(struct merge *m) {
    struct textbuf readings = {0};
    struct textbuf unassigned = {0};
    struct textbuf decisions = {0};
    int err = store_begin(m->ours);
    bool begun = store_read_begin(m->theirs);
    if (err == ERR_OK)
        err = store_load_event(m->ours, &m->our_event);
    if (err == ERR_OK)
        err = store_load_event(m->theirs, &m->their_event);
    if (err == ERR_OK && strcmp(m->our_event->rules->slug, m->their_event->rules->slug) != 0) {
        problems_add(&m->problems, PROBLEM_ERROR, "event.json", 0, "the other file is of “%s”",
                     m->their_event->rules->slug);
        err = ERR_INPUT;
    }
    for (int i = 0; err == ERR_OK && i < DOCUMENT_COUNT; i++)
        err = choose_document(m, i);
    struct event_files files = files_of(m);
    if (err == ERR_OK)
        err = model_read(&files, &m->problems, &m->missing);
    if (err == ERR_OK)
        err = gather(m);
    if (err == ERR_OK)
        err = export_readings(m->missing->readings, &readings);
    if (err == ERR_OK)
        err = export_unassigned(m->missing->readings, &unassigned);
    if (err == ERR_OK)
        err = export_decisions(m->missing->decisions, &decisions);
    if (err == ERR_OK)
        err = merge_notices_and_cases(m);
    if (err == ERR_OK) {
        /* Nothing missing leaves no upload behind. */
        if (readings_count(m->missing->readings) > 0)
            files.readings = (struct file_text){textbuf_text(&readings), readings.len};
        if (unassigned.len > 0)
            files.unassigned = (struct file_text){textbuf_text(&unassigned), unassigned.len};
        if (decisions_count(m->missing->decisions) > 0)
            files.decisions = (struct file_text){textbuf_text(&decisions), decisions.len};
        const struct import_begun done = {.anything = m->notices + m->cases > 0};
        err = event_import(m->ours, m->missing, m->our_event, &files, &done, &m->problems);
    } else {
        store_rollback(m->ours);
    }
    store_read_end(m->theirs, begun);
    textbuf_clear(&readings);
    textbuf_clear(&unassigned);
    textbuf_clear(&decisions);
    return err;
}

static int open_both(struct merge *m, const char *path, const char *other) {
    struct textbuf why = {0};
    const char *at = path;
    int err = store_open(path, STORE_OPEN, &m->ours, &why);
    if (err == ERR_OK) {
        at = other;
        err = store_open_to_read(other, STORE_OPEN, &m->theirs, &why);
    }
    if (err == ERR_OK && file_is_same(path, other)) {
        textbuf_puts(&why, "that is the same file");
        err = ERR_INPUT;
    }
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn: %s: %s\n", at, textbuf_text(&why));
    textbuf_clear(&why);
    return err == ERR_UNKNOWN ? ERR_INPUT : err;
}

/* Which of the two was the first when it took what the other lacks. */
static void print_epochs(const struct merge *m, const char *slug) {
    struct store_epoch ours;
    struct store_epoch theirs;
    if (store_last_epoch(m->ours, &ours) != ERR_OK ||
        store_last_epoch(m->theirs, &theirs) != ERR_OK || ours.number == theirs.number)
        return;
    (void)printf(theirs.number < ours.number
                     ? "%s: the other file is of epoch %lld, before the takeover to %lld: what was "
                       "added is what that server took alone\n"
                     : "%s: the other file is of epoch %lld, after this one's %lld: it was made "
                       "the first; serve that one\n",
                 slug, (long long)theirs.number, (long long)ours.number);
}

static int merge_files(const char *path, const char *slug, const char *other,
                       bool leave_conflicts) {
    struct merge m = {.leave_conflicts = leave_conflicts};
    int err = open_both(&m, path, other);
    if (err == ERR_OK)
        err = store_verify(m.theirs);
    if (err == ERR_OK) {
        err = merge_all(&m);
        if (err != ERR_OK && !problems_fatal(&m.problems))
            (void)fprintf(stderr, "cairn: %s: %s; %s: %s\n", path, store_message(m.ours), other,
                          store_message(m.theirs));
    }
    print_problems(&m.problems);
    if (err == ERR_OK) {
        (void)printf("%s: %d readings, %d decisions, %d notices added\n", slug,
                     readings_count(m.missing->readings), decisions_count(m.missing->decisions),
                     m.notices);
        print_epochs(&m, slug);
        /* What does not read was not there to be added; what was changed was added as it is. */
        bool damaged =
            recovery_print_damage(m.ours, path) + recovery_print_damage(m.theirs, other) > 0;
        if (m.conflicts > 0 || damaged)
            err = ERR_INPUT;
    }
    model_free(m.missing);
    model_free(m.our_event);
    model_free(m.their_event);
    for (int i = 0; i < DOCUMENT_COUNT; i++)
        free(m.documents[i]);
    store_close(m.ours);
    store_close(m.theirs);
    problems_clear(&m.problems);
    return exit_code(err);
}

static int run(const struct arguments *a) {
    const struct merge_options *o = a->options;
    char *path = NULL;
    int code = event_file_path(&command_merge, a->operands[0], a->operands[1], &path);
    if (code == EXIT_GOOD)
        code = merge_files(path, a->operands[1], a->operands[2], o->leave_conflicts);
    free(path);
    return code;
}

const struct command command_merge = {
    .name = "merge",
    .summary = "unite two event files that went on apart",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 3,
    .most = 3,
    .needs = "a data folder, a slug and another event file",
    .defaults = &(const struct merge_options){0},
    .size = sizeof(struct merge_options),
    .run = run,
};
