/* SPDX-License-Identifier: MIT */
/* What becomes of writes in a batch, on a disk that fails, and beside a snapshot that is held. */
#include "testing.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "base/err.h"
#include "lone_writer.h"
#include "output/output.h"
#include "scoring/standings.h"

/* ---- a batch ---- */

BEHAVIOUR(writes_that_wait_together_are_one_revision) {
    int64_t before = office_revision();
    struct rows_write *a = readings("[{'point': 'PC1', 'car': 1, 'time': '09:00', 'id': 'a'}]");
    struct rows_write *b = readings("[{'point': 'PC1', 'car': 2, 'time': '09:01', 'id': 'b'}]");
    struct rows_write *c =
        decisions("[{'kind': 'penalty', 'car': 1, 'value': '5', 'reason': 'r', 'id': 'c'}]");
    work((struct write *[]){&a->head, &b->head, &c->head}, 3);
    assert_true(a->head.result == WRITE_DONE && b->head.result == WRITE_DONE &&
                c->head.result == WRITE_DONE);
    assert_int_equal(office_revision(), before + 1);
    assert_int_equal(a->head.revision, before + 1);
    assert_int_equal(c->head.revision, before + 1);
    assert_true(is_kept("a") && is_kept("b"));
    assert_int_equal(atomic_load(&figures.accepted), 3);
    assert_int_equal(atomic_load(&figures.uploads[UPLOAD_READINGS]), 2);
    assert_int_equal(atomic_load(&figures.uploads[UPLOAD_DECISIONS]), 1);
    write_free(&a->head);
    write_free(&b->head);
    write_free(&c->head);
}

BEHAVIOUR(a_batch_in_which_one_write_is_refused_leaves_the_others) {
    struct rows_write *good = readings("[{'point': 'PC1', 'car': 1, 'time': '09:00', 'id': 'a'}]");
    struct rows_write *stale = decisions("[{'kind': 'penalty', 'car': 1, 'value': '5', "
                                         "'reason': 'r', 'id': 'never'}]");
    struct rows_write *foreign =
        readings("[{'point': 'PC1', 'car': 2, 'time': '09:00', 'id': 'x'}]");
    struct rows_write *last = readings("[{'point': 'PC2', 'car': 1, 'time': '09:10', 'id': 'b'}, "
                                       "{'point': 'PC9', 'car': 1, 'time': '09:10', 'id': 'y'}]");
    stale->head.if_match = "\"d7\"";
    memset(foreign->head.key_hash, 1, sizeof foreign->head.key_hash);
    work((struct write *[]){&good->head, &stale->head, &foreign->head, &last->head}, 4);
    assert_int_equal(good->head.result, WRITE_DONE);
    assert_int_equal(stale->head.result, WRITE_STALE);
    assert_int_equal(foreign->head.result, WRITE_UNAUTHORISED);
    assert_int_equal(last->head.result, WRITE_DONE);
    assert_int_equal(last->accepted, 1);
    assert_int_equal(last->refused_count, 1);
    assert_int_equal(last->refused[0].row, 2);
    assert_int_equal(last->refused[0].class, ROW_UNKNOWN_POINT);
    assert_true(is_kept("a") && is_kept("b"));
    assert_false(is_kept("x") || is_kept("y"));
    struct snapshot *s = acquire();
    assert_int_equal(s->event.readings.count, 2);
    assert_int_equal(s->event.decisions.count, 0);
    snapshot_release(s);
    assert_int_equal(atomic_load(&figures.refused.counts[ROW_UNKNOWN_POINT]), 1);
    write_free(&good->head);
    write_free(&stale->head);
    write_free(&foreign->head);
    write_free(&last->head);
}

/* What comes behind a document is written under it. */
BEHAVIOUR(a_document_between_others_is_taken_in_its_turn) {
    static const char entries[] = "number,driver,navigator,make,model,year\n"
                                  "1,A. Thorne,,Calder,Six,1929\n2,B. Rook,,Thornbeck,Ten,1934\n"
                                  "3,C. Fell,,Calder,Six,1930\n";
    int64_t before = office_revision();
    struct rows_write *first = readings("[{'point': 'PC1', 'car': 3, 'time': '09:00', 'id': 'a'}]");
    struct document_write *list = entries_write_new();
    struct rows_write *then = readings("[{'point': 'PC1', 'car': 3, 'time': '09:00', 'id': 'b'}]");
    served_ask(&served, &event, &list->head);
    list->body = (struct write_body){"text/csv", entries, strlen(entries)};
    work((struct write *[]){&first->head, &list->head, &then->head}, 3);
    assert_int_equal(first->refused_count, 1);
    assert_int_equal(first->refused[0].class, ROW_UNKNOWN_CAR);
    assert_int_equal(list->head.result, WRITE_DONE);
    assert_int_equal(then->accepted, 1);
    assert_true(is_kept("b"));
    assert_int_equal(office_revision(), before + 2); /* the first changed nothing */
    write_free(&first->head);
    write_free(&list->head);
    write_free(&then->head);
}

BEHAVIOUR(a_write_of_nothing_new_makes_no_revision) {
    read_one("[{'point': 'PC1', 'car': 1, 'time': '09:00', 'id': 'a'}]");
    int64_t before = office_revision();
    struct snapshot *s = acquire();
    struct rows_write *again = readings("[{'point': 'PC1', 'car': 1, 'time': '09:00', 'id': 'a'}]");
    assert_int_equal(work_one(&again->head), WRITE_DONE);
    assert_int_equal(again->duplicates, 1);
    assert_int_equal(again->accepted, 0);
    assert_int_equal(again->head.revision, before);
    assert_ptr_equal(atomic_load(&event.slot.current), s);
    snapshot_release(s);
    write_free(&again->head);
}

/* ---- a disk that fails ---- */

/* From here on no file may grow, as on a full disk. */
static struct rlimit fill_disk(void) {
    struct rlimit before;
    (void)signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &(struct rlimit){0, before.rlim_max}), 0);
    return before;
}

BEHAVIOUR(a_failing_disk_answers_every_write_and_takes_none) {
    read_one("[{'point': 'PC1', 'car': 1, 'time': '09:00', 'id': 'before'}]");
    int64_t revision = office_revision();
    struct rows_write *a = readings("[{'point': 'PC1', 'car': 2, 'time': '09:00', 'id': 'a'}]");
    struct key_write *key = key_write_new();
    struct rows_write *b = readings("[{'point': 'PC2', 'car': 2, 'time': '09:00', 'id': 'b'}]");
    served_ask(&served, &event, &key->head);
    key->points = key->label = "";
    key->organiser = true;
    key_make(key->text);
    struct rlimit before = fill_disk();
    work((struct write *[]){&a->head, &key->head, &b->head}, 3);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    const struct write *heads[] = {&a->head, &key->head, &b->head};
    for (size_t i = 0; i < COUNT_OF(heads); i++) {
        assert_int_equal(heads[i]->result, WRITE_FAILED);
        assert_true(heads[i]->why.len > 0);
        assert_int_equal(heads[i]->revision, revision);
    }
    assert_int_equal(atomic_load(&figures.failures), 3);
    assert_false(is_kept("a") || is_kept("b"));
    assert_int_equal(shown_readings(), 1);
    write_free(&a->head);
    write_free(&key->head);
    write_free(&b->head);
    /* Once there is room the same is taken. */
    read_one("[{'point': 'PC1', 'car': 2, 'time': '09:00', 'id': 'a'}]");
    assert_true(is_kept("a"));
    assert_int_equal(shown_readings(), 2);
    assert_int_equal(office_revision(), revision + 1);
}

BEHAVIOUR(a_file_that_was_removed_takes_nothing_more) {
    char aside[128];
    read_one("[{'point': 'PC1', 'car': 1, 'time': '09:00', 'id': 'before'}]");
    (void)snprintf(aside, sizeof aside, "%s.aside", served.path);
    assert_int_equal(rename(served.path, aside), 0);
    struct rows_write *write = readings("[{'point': 'PC1', 'car': 2, 'time': '09:00', 'id': 'a'}]");
    assert_int_equal(work_one(&write->head), WRITE_FAILED);
    assert_int_equal(write->head.why.len, 0);
    assert_non_null(served_event_trouble(&event));
    assert_int_equal(shown_readings(), 1);
    write_free(&write->head);
    assert_int_equal(rename(aside, served.path), 0);
    writer_refresh(writer);
    assert_null(served_event_trouble(&event));
    read_one("[{'point': 'PC1', 'car': 2, 'time': '09:00', 'id': 'a'}]");
    assert_true(is_kept("before") && is_kept("a"));
}

/* ---- what a reader holds ---- */

/* The standings of a snapshot as its readers get them. Owner: the caller. */
static char *standings_of(const struct snapshot *s) {
    struct textbuf b = {0};
    struct standings *standings = NULL;
    struct output_head head = {"", s->public_results.revision, NULL};
    assert_int_equal(standings_new(s->public_results.scores, BY_OVERALL, &standings), ERR_OK);
    output_standings_json(&b, standings, &head);
    standings_free(standings);
    assert_false(b.failed);
    char *text = strdup(textbuf_text(&b));
    textbuf_clear(&b);
    return text;
}

static void post_bulletin(void) {
    struct notice_write *notice = notice_write_new();
    served_ask(&served, &event, &notice->head);
    notice->body = (struct write_body){"application/json", "{}", 2};
    notice->kind = "bulletin";
    notice->title = "Fog";
    notice->text = "";
    assert_int_equal(work_one(&notice->head), WRITE_DONE);
    assert_int_equal(notice->number, 1);
    write_free(&notice->head);
}

BEHAVIOUR(a_published_snapshot_stays_as_it_is_while_all_else_is_written) {
    static const char entries[] =
        "number,driver,navigator,make,model,year\n1,A. Thorne,,Calder,Six,1929\n"
        "2,B. Rook-Hale,,Thornbeck,Ten,1934\n9,C. Fell,,Calder,Six,1930\n";
    read_one("[{'point': 'PC1', 'car': 1, 'time': '09:00', 'id': 'a'}]");
    struct snapshot *s = acquire();
    char *before = standings_of(s);
    size_t keys = s->keys->count;
    char *list = strdup(s->set->documents->entries.text);
    read_one("[{'point': 'PC1', 'car': 1, 'time': '09:05', 'id': 'b', 'replaces': 'a', "
             "'reason': 'misread'}]");
    struct rows_write *penalty =
        decisions("[{'kind': 'penalty', 'car': 1, 'value': '50', 'reason': 'r', 'id': 'c'}]");
    assert_int_equal(work_one(&penalty->head), WRITE_DONE);
    write_free(&penalty->head);
    struct document_write *document = entries_write_new();
    served_ask(&served, &event, &document->head);
    document->body = (struct write_body){"text/csv", entries, strlen(entries)};
    assert_int_equal(work_one(&document->head), WRITE_DONE);
    write_free(&document->head);
    struct key_write *key = key_write_new();
    served_ask(&served, &event, &key->head);
    key->points = "PC1";
    key->label = "desk";
    key_make(key->text);
    assert_int_equal(work_one(&key->head), WRITE_DONE);
    write_free(&key->head);
    post_bulletin();
    char *after = standings_of(s);
    assert_string_equal(after, before);
    assert_int_equal(s->keys->count, keys);
    assert_int_equal(s->notices->count, 0);
    assert_int_equal(s->event.entries->count, 2);
    assert_string_equal(s->set->documents->entries.text, list);
    struct snapshot *now = acquire();
    assert_int_equal(now->keys->count, keys + 1);
    assert_int_equal(now->notices->count, 1);
    assert_int_equal(now->event.entries->count, 3);
    assert_true(now->office_results.revision > s->office_results.revision);
    snapshot_release(now);
    snapshot_release(s);
    free(before);
    free(after);
    free(list);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        WITH_LONE_WRITER(writes_that_wait_together_are_one_revision),
        WITH_LONE_WRITER(a_batch_in_which_one_write_is_refused_leaves_the_others),
        WITH_LONE_WRITER(a_document_between_others_is_taken_in_its_turn),
        WITH_LONE_WRITER(a_write_of_nothing_new_makes_no_revision),
        WITH_LONE_WRITER(a_failing_disk_answers_every_write_and_takes_none),
        WITH_LONE_WRITER(a_file_that_was_removed_takes_nothing_more),
        WITH_LONE_WRITER(a_published_snapshot_stays_as_it_is_while_all_else_is_written),
    };
    return cmocka_run_group_tests_name("writer", tests, NULL, NULL);
}
