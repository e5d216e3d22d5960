/* SPDX-License-Identifier: MIT */
#include "event/fact_log.h"

#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "testing.h"

enum { WHAT, WHO, ID, FIELDS };
static const char *const names[FIELDS] = {"what", "who", "id"};
static const struct fact_type type = {.names = names,
                                      .fields = FIELDS,
                                      .required = 1,
                                      .shared = 1u << WHO,
                                      .wrong = PROBLEM_REFUSED,
                                      .record = 1};

BEHAVIOUR(an_id_is_as_given_or_follows_from_the_other_fields) {
    char given[FACT_ID_MAX + 1];
    char derived[FACT_ID_MAX + 1];
    struct textbuf written = {0};
    fact_id((const char *const[]){"a", "b", "own:1"}, ID, given);
    fact_id((const char *const[]){"a", "b", ""}, ID, derived);
    fact_derive_id((const char *const[]){"a", "b"}, ID, &written);
    assert_string_equal(given, "own:1");
    assert_string_equal(derived, textbuf_text(&written));
    assert_int_equal(strlen(derived), 32);
    textbuf_clear(&written);
}

BEHAVIOUR(the_same_again_is_a_duplicate_and_other_content_is_refused) {
    struct fact_log log;
    struct textbuf reason = {0};
    const char *const one[] = {"a", "b", "1"};
    const char *const other[] = {"a", "c", "1"};
    assert_int_equal(fact_log_init(&log, &type), ERR_OK);
    assert_int_equal(fact_log_find(&log, "1"), -1);
    assert_int_equal(fact_log_enter(&log, "1"), ERR_OK);
    assert_int_equal(fact_log_enter(&log, "2"), ERR_OK);
    assert_int_equal(fact_log_find(&log, "1"), 0);
    assert_int_equal(fact_log_find(&log, "2"), 1);
    assert_int_equal(fact_log_repeat(&log, "1", one, one, &reason), FACT_DUPLICATE);
    assert_string_equal(textbuf_text(&reason), "");
    assert_int_equal(fact_log_repeat(&log, "1", other, one, &reason), FACT_REFUSED);
    assert_string_equal(textbuf_text(&reason), "id “1” is there already with other content");
    textbuf_clear(&reason);
    fact_log_clear(&log);
}

BEHAVIOUR(texts_are_copies_and_those_that_come_again_are_kept_once) {
    struct fact_log log;
    char what[] = "gone";
    char who[] = "desk 3";
    const char *first[FIELDS];
    const char *second[FIELDS];
    struct extra other = {.name = "flags", .value = "late"};
    struct extra *extras = NULL;
    assert_int_equal(fact_log_init(&log, &type), ERR_OK);
    assert_int_equal(
        fact_log_keep(&log, (const char *const[]){what, who, "1"}, &other, "1", first, &extras),
        ERR_OK);
    assert_string_equal(extras->name, "flags");
    assert_string_equal(extras->value, "late");
    assert_null(extras->next);
    assert_int_equal(
        fact_log_keep(&log, (const char *const[]){what, who, ""}, NULL, "2", second, &extras),
        ERR_OK);
    assert_null(extras);
    what[0] = '?';
    who[0] = '?';
    assert_string_equal(first[WHAT], "gone");
    assert_string_equal(first[WHO], "desk 3");
    assert_string_equal(first[ID], "1");
    assert_string_equal(second[ID], "");
    assert_ptr_equal(first[WHO], second[WHO]);
    assert_ptr_not_equal(first[WHAT], second[WHAT]);
    fact_log_clear(&log);
}

struct taken {
    int count;
    long last;
};

static enum fact_result add(void *owner, const char *const *fields, struct extra *extras, long line,
                            struct textbuf *reason) {
    struct taken *taken = owner;
    (void)extras;
    if (*fields[WHAT] == '\0') {
        textbuf_puts(reason, "it says nothing");
        return FACT_REFUSED;
    }
    taken->count++;
    taken->last = line;
    return FACT_ADDED;
}

BEHAVIOUR(rows_that_cannot_be_taken_are_told_with_their_line) {
    static const char text[] = "who,what\nx,a\ny,\n\"z,b\nw,c,d,e\n";
    static const char headless[] = "who\nx\n";
    struct fact_log log;
    struct taken taken = {0};
    struct problems problems = {0};
    assert_int_equal(fact_log_init(&log, &type), ERR_OK);
    assert_int_equal(fact_log_read(&log, "f.csv", text, 16, add, &taken, &problems), ERR_OK);
    assert_int_equal(taken.count, 1);
    assert_int_equal(taken.last, 2);
    assert_int_equal(problems.count, 1);
    assert_int_equal(problems.by_level[PROBLEM_REFUSED], 1);
    assert_string_equal(problems.list[0].place, "f.csv:3");
    assert_string_equal(problems.list[0].text, "it says nothing");
    assert_int_equal(fact_log_read(&log, "f.csv", text, strlen(text), add, &taken, &problems),
                     ERR_OK);
    assert_true(problems.by_level[PROBLEM_REFUSED] > 2);
    assert_int_equal(
        fact_log_read(&log, "f.csv", headless, strlen(headless), add, &taken, &problems),
        ERR_INPUT);
    problems_clear(&problems);
    fact_log_clear(&log);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_id_is_as_given_or_follows_from_the_other_fields),
        cmocka_unit_test(the_same_again_is_a_duplicate_and_other_content_is_refused),
        cmocka_unit_test(texts_are_copies_and_those_that_come_again_are_kept_once),
        cmocka_unit_test(rows_that_cannot_be_taken_are_told_with_their_line),
    };
    RUN_BEHAVIOURS(tests);
}
