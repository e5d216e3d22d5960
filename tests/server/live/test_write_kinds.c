/* SPDX-License-Identifier: MIT */
/* What becomes of each kind of write. */
#include "testing.h"

#include <stdio.h>
#include <string.h>

#include "live/etag.h"
#include "lone_writer.h"
#include "store/code_book.h"

/* ---- each kind ---- */

BEHAVIOUR(a_document_that_would_orphan_a_fact_is_refused) {
    static const char entries[] =
        "number,driver,navigator,make,model,year\n2,B. Rook,,Thornbeck,Ten,1934\n";
    read_one("[{'point': 'PC1', 'car': 1, 'time': '09:00', 'id': 'a'}]");
    int64_t before = office_revision();
    struct document_write *write = entries_write_new();
    served_ask(&served, &event, &write->head);
    write->body = (struct write_body){"text/csv", entries, strlen(entries)};
    assert_int_equal(work_one(&write->head), WRITE_REFUSED);
    assert_non_null(strstr(textbuf_text(&write->head.why), "reading a would be lost"));
    assert_int_equal(office_revision(), before);
    write_free(&write->head);
    struct snapshot *s = acquire();
    assert_int_equal(s->event.entries->count, 2);
    snapshot_release(s);
}

BEHAVIOUR(a_document_is_taken_once_by_the_tag_of_the_one_in_force) {
    static const char entries[] = "number,driver,navigator,make,model,year\n"
                                  "1,A. Thorne,,Calder,Six,1929\n2,B. Rook,,Thornbeck,Ten,1935\n";
    char tag[ETAG_LEN];
    char if_match[ETAG_LEN + 2];
    struct snapshot *s = acquire();
    etag_of_document(&s->set->documents->entries, tag);
    snapshot_release(s);
    (void)snprintf(if_match, sizeof if_match, "\"%s\"", tag);
    static const enum write_result expected[] = {WRITE_DONE, WRITE_STALE};
    for (size_t i = 0; i < COUNT_OF(expected); i++) {
        struct document_write *write = entries_write_new();
        served_ask(&served, &event, &write->head);
        write->head.if_match = if_match;
        write->body = (struct write_body){"text/csv", entries, strlen(entries)};
        assert_int_equal(work_one(&write->head), expected[i]);
        write_free(&write->head);
    }
}

BEHAVIOUR(a_key_opens_with_the_next_snapshot_and_ends_with_its_revocation) {
    int64_t before = office_revision();
    unsigned char hash[32];
    struct key_write *key = key_write_new();
    served_ask(&served, &event, &key->head);
    key->points = "PC1";
    key->label = "Fulmar Bridge";
    key_make(key->text);
    key_hash(key->text, hash);
    assert_int_equal(work_one(&key->head), WRITE_DONE);
    assert_int_equal(office_revision(), before); /* a key changes no result */
    struct rows_write *own = readings("[{'point': 'PC1', 'car': 1, 'time': '09:00', 'id': 'a'}, "
                                      "{'point': 'PC2', 'car': 1, 'time': '09:00', 'id': 'b'}]");
    memcpy(own->head.key_hash, hash, sizeof hash);
    assert_int_equal(work_one(&own->head), WRITE_DONE);
    assert_true(own->head.by_timekeeper);
    assert_int_equal(own->head.revision, public_revision());
    assert_int_equal(own->accepted, 1);
    assert_int_equal(own->refused[0].class, ROW_NOT_THIS_KEYS);
    write_free(&own->head);
    /* A timekeeper makes no keys. */
    struct key_write *more = key_write_new();
    served_ask(&served, &event, &more->head);
    memcpy(more->head.key_hash, hash, sizeof hash);
    more->points = more->label = "";
    key_make(more->text);
    assert_int_equal(work_one(&more->head), WRITE_UNAUTHORISED);
    write_free(&more->head);
    /* The revocation stands in the queue before the reading. */
    struct revocation_write *revocation = revocation_write_new();
    served_ask(&served, &event, &revocation->head);
    revocation->id = key->id;
    struct rows_write *late = readings("[{'point': 'PC1', 'car': 2, 'time': '09:00', 'id': 'c'}]");
    memcpy(late->head.key_hash, hash, sizeof hash);
    work((struct write *[]){&revocation->head, &late->head}, 2);
    assert_int_equal(revocation->head.result, WRITE_DONE);
    assert_int_equal(late->head.result, WRITE_UNAUTHORISED);
    assert_false(is_kept("c"));
    write_free(&revocation->head);
    write_free(&late->head);
    write_free(&key->head);
}

static struct crew_enquiry_write *ask(const char *code, const char *text) {
    struct crew_enquiry_write *write = crew_enquiry_write_new();
    served_ask(&served, &event, &write->head);
    memset(write->head.key_hash, 0, sizeof write->head.key_hash);
    write->car = 1;
    write->code = code;
    write->point = "PC1";
    write->text = text;
    return write;
}

static void code_of(int64_t car, char text[CODE_TEXT_LEN + 1]) {
    struct snapshot *s = acquire();
    crew_code_make(s->keys->codes.secret, car, code_book_serial(&s->keys->codes, car), text);
    snapshot_release(s);
}

BEHAVIOUR(a_crew_asks_the_same_once_until_it_is_answered) {
    char code[CODE_TEXT_LEN + 1];
    int64_t public_before = public_revision();
    code_of(1, code);
    struct crew_enquiry_write *first = ask(code, "Late?");
    assert_int_equal(work_one(&first->head), WRITE_DONE);
    assert_false(first->repeated);
    assert_int_equal(first->number, 1);
    struct crew_enquiry_write *again = ask(code, "Late?");
    int64_t before = office_revision();
    assert_int_equal(work_one(&again->head), WRITE_DONE);
    assert_true(again->repeated);
    assert_int_equal(again->number, 1);
    assert_int_equal(again->opened_ms, first->opened_ms);
    assert_int_equal(office_revision(), before);
    assert_int_equal(public_revision(), public_before); /* a case is the office's and the crew's */
    struct answer_write *answer = answer_write_new();
    served_ask(&served, &event, &answer->head);
    answer->body = (struct write_body){"application/json", "{}", 2};
    answer->number = 1;
    answer->outcome = "answered";
    answer->text = "No.";
    assert_int_equal(work_one(&answer->head), WRITE_DONE);
    struct answer_write *twice = answer_write_new();
    served_ask(&served, &event, &twice->head);
    twice->body = answer->body;
    twice->number = 1;
    twice->outcome = twice->text = "answered";
    assert_int_equal(work_one(&twice->head), WRITE_NOT_YET);
    struct crew_enquiry_write *anew = ask(code, "Late?");
    assert_int_equal(work_one(&anew->head), WRITE_DONE);
    assert_int_equal(anew->number, 2);
    write_free(&first->head);
    write_free(&again->head);
    write_free(&answer->head);
    write_free(&twice->head);
    write_free(&anew->head);
}

BEHAVIOUR(a_renewed_code_ends_the_one_before) {
    char code[CODE_TEXT_LEN + 1];
    code_of(1, code);
    struct code_renewal_write *renewal = code_renewal_write_new();
    served_ask(&served, &event, &renewal->head);
    renewal->car = 1;
    struct crew_enquiry_write *late = ask(code, "Late?");
    work((struct write *[]){&renewal->head, &late->head}, 2);
    assert_int_equal(renewal->head.result, WRITE_DONE);
    assert_int_equal(renewal->serial, 1);
    assert_int_equal(late->head.result, WRITE_WRONG_CODE);
    write_free(&late->head);
    write_free(&renewal->head);
    code_of(1, code);
    struct crew_enquiry_write *good = ask(code, "Late?");
    assert_int_equal(work_one(&good->head), WRITE_DONE);
    write_free(&good->head);
}

BEHAVIOUR(a_start_list_is_saved_only_where_it_is_asked_for) {
    static const char *const plans[] = {"{\"save\": false}", "{\"save\": true}"};
    for (size_t i = 0; i < COUNT_OF(plans); i++) {
        int64_t before = office_revision();
        struct start_list_write *write = start_list_write_new();
        served_ask(&served, &event, &write->head);
        write->body = (struct write_body){"application/json", plans[i], strlen(plans[i])};
        assert_int_equal(work_one(&write->head), WRITE_DONE);
        assert_int_equal(write->saved, i == 1);
        assert_non_null(
            strstr(textbuf_text(&write->list), i == 1 ? "\"saved\":true" : "\"saved\":false"));
        assert_int_equal(office_revision(), before + (int64_t)i);
        write_free(&write->head);
    }
    struct snapshot *s = acquire();
    assert_true(s->set->documents->starts.len > 0);
    snapshot_release(s);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        WITH_LONE_WRITER(a_document_that_would_orphan_a_fact_is_refused),
        WITH_LONE_WRITER(a_document_is_taken_once_by_the_tag_of_the_one_in_force),
        WITH_LONE_WRITER(a_key_opens_with_the_next_snapshot_and_ends_with_its_revocation),
        WITH_LONE_WRITER(a_crew_asks_the_same_once_until_it_is_answered),
        WITH_LONE_WRITER(a_renewed_code_ends_the_one_before),
        WITH_LONE_WRITER(a_start_list_is_saved_only_where_it_is_asked_for),
    };
    return cmocka_run_group_tests_name("write_kinds", tests, NULL, NULL);
}
