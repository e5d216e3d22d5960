/* SPDX-License-Identifier: MIT */
/* LINK: -Wl,--wrap=malloc,--wrap=calloc,--wrap=realloc,--wrap=strdup,--wrap=strndup */
/* Memory that runs out at every n-th allocation, n = 1, 2, 3 ... until all goes well: while an
 * event is read, checked, scored, set out and written. Each time the answer is "out of memory", or
 * exactly what it is with memory enough; never half of it. */
#include <jansson.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "err.h"
#include "event_text.h"
#include "export.h"
#include "facts.h"
#include "output.h"
#include "scoring.h"
#include "testing.h"
#include "textbuf.h"

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *old, size_t size);
char *__real_strdup(const char *text);
char *__real_strndup(const char *text, size_t len);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *old, size_t size);
char *__wrap_strdup(const char *text);
char *__wrap_strndup(const char *text, size_t len);

static long countdown;    /* allocations until one fails; 0: none does */
static bool fired;        /* one has failed */
static long json_balance; /* blocks that the JSON library holds */

static bool fails_now(void) {
    if (countdown == 0 || --countdown > 0)
        return false;
    fired = true;
    return true;
}

void *__wrap_malloc(size_t size) {
    return fails_now() ? NULL : __real_malloc(size);
}

void *__wrap_calloc(size_t count, size_t size) {
    return fails_now() ? NULL : __real_calloc(count, size);
}

void *__wrap_realloc(void *old, size_t size) {
    return fails_now() ? NULL : __real_realloc(old, size);
}

char *__wrap_strdup(const char *text) {
    return fails_now() ? NULL : __real_strdup(text);
}

char *__wrap_strndup(const char *text, size_t len) {
    return fails_now() ? NULL : __real_strndup(text, len);
}

/* The JSON library's own calls go through these. */
static void *json_block(size_t size) {
    void *block = fails_now() ? NULL : __real_malloc(size);
    json_balance += block != NULL;
    return block;
}

static void json_block_free(void *block) {
    json_balance -= block != NULL;
    free(block);
}

static int count_json(void **state) {
    (void)state;
    json_set_alloc_funcs(json_block, json_block_free);
    return 0;
}

/* Something to be done with memory that may run out.
 * Returns: ERR_OK or another code; what it gave goes to `out`, which has memory enough. */
typedef int (*deed)(void *context, struct textbuf *out);

/* Does it with ever later failures, until none came. */
static void try_all(deed act, void *context, const char *what) {
    struct textbuf expected = {0};
    countdown = 0;
    int good = act(context, &expected);
    assert_int_not_equal(good, ERR_NOMEM);
    long n = 0;
    do {
        struct textbuf out = {0};
        n++;
        fired = false;
        countdown = n;
        int err = act(context, &out);
        countdown = 0;
        if (!fired || err != ERR_NOMEM) {
            if (err != good || strcmp(textbuf_text(&out), textbuf_text(&expected)) != 0)
                fail_msg("%s, allocation %ld: %d instead of %d, with\n%s\ninstead of\n%s", what, n,
                         err, good, textbuf_text(&out), textbuf_text(&expected));
        }
        assert_int_equal(json_balance, 0);
        textbuf_clear(&out);
    } while (fired);
    assert_true(n > 1);
    textbuf_clear(&expected);
}

/* Runs `call` as part of the deed, and what follows it with memory enough. */
#define WITH_MEMORY(statement)                                                                     \
    do {                                                                                           \
        long kept = countdown;                                                                     \
        countdown = 0;                                                                             \
        statement;                                                                                 \
        countdown = kept;                                                                          \
    } while (0)

#define ROUTE                                                                                      \
    "{\"day\": 1, \"id\": \"TC1\", \"kind\": \"time-control\", \"target\": \"00:45:00\"}, "        \
    "{\"day\": 1, \"id\": \"PC1\", \"kind\": \"passage-control\", \"penalty\": {\"missed\": "      \
    "{\"fails\": 1}}}, "                                                                           \
    "{\"day\": 1, \"id\": \"R1\", \"kind\": \"regularity\", \"speeds\": [{\"from\": 0, \"speed\":" \
    " 58}, {\"from\": 3.2, \"speed\": 42.5}], \"checks\": [{\"at\": 5.37}, {\"at\": 9.02}]}, "     \
    "{\"day\": 1, \"id\": \"T1\", \"kind\": \"set-time\", \"targets\": [\"11.70\", 9]}, "          \
    "{\"day\": 1, \"id\": \"S1\", \"kind\": \"special-test\", \"method\": \"behind-best\", "       \
    "\"maximum\": 180, \"faults\": {\"cone\": 5, \"wrong-route\": \"maximum\"}}, "                 \
    "{\"day\": 1, \"id\": \"L1\", \"kind\": \"consistency\", \"laps\": 3, \"faults\": {\"stop\": " \
    "20}}"

static const char good_rules[] =
    "{\"name\": \"Fell Trial\", \"slug\": \"fell-trial\", \"timezone\": \"UTC\", \"unit\": \"km\", "
    "\"days\": [{\"date\": \"2027-05-20\", \"first_start\": \"08:01\", \"interval\": 60}], "
    "\"classes\": {\"scheme\": \"custom\", \"periods\": [{\"id\": \"a\", \"to\": 1930}, {\"id\": "
    "\"b\", \"from\": 1931}], \"capacity\": [{\"id\": \"1\", \"to\": 1600}, {\"id\": \"2\"}], "
    "\"categories\": [{\"id\": \"open\"}]}, \"scoring\": {\"coefficient\": {\"by\": \"class\", "
    "\"table\": {\"b\": \"1.05\"}}, \"drop_worst\": {\"count\": 1}, \"teams\": {\"count\": 1}, "
    "\"ties\": [\"most-clean\", \"test:S1\"], \"finisher\": {\"share\": \"1/2\"}}, \"route\": "
    "[" ROUTE "]}";
static const char bad_rules[] =
    "{\"name\": \"\", \"slug\": \"A\", \"colour\": 1, \"unit\": \"yd\", \"days\": [{\"date\": "
    "\"2027-02-30\", \"first_start\": \"8\", \"interval\": \"x\"}], \"classes\": {\"scheme\": "
    "\"fiva\", \"edition\": 1}, \"scoring\": {\"ties\": [\"luck\"], \"timing\": 3}, \"route\": "
    "[{\"day\": 1, \"id\": \"TC/1\", \"kind\": \"time-control\"}, {\"day\": 1, \"id\": \"R1\", "
    "\"kind\": \"regularity\", \"speeds\": [{\"from\": 3.2001, \"speed\": 0}], \"checks\": "
    "[{\"at\": 1, \"on\": 2}]}]}";
static const char malformed_rules[] = "{\"name\": \"Fell Trial\", \"days\": [1, 2.5, }";
static const char good_entries[] =
    "number,driver,navigator,make,model,year,engine_cc,category,team,shoe size\n"
    "1,Ann Alder,Bob,Calder,Six,1925,1500,open,Withy,44\n"
    "2,Cai Birch,,Thornbeck,Ten,1934,3000,open,Withy,\n"
    "5,Dot Cedar,Eli,Garrodine,Sport,1955,,open,Alder,41\n";
static const char bad_entries[] = "number,driver,navigator,make,model,year,year\n1,A,,M,X,1925,2\n";
static const char wrong_entries[] = "number,driver,navigator,make,model,year,engine_cc\n"
                                    "0,A,,M,X,1925,x\n1,,,M,X,1700,\n\"1,B\n";
static const char good_starts[] = "day,car,time\n1,5,09:00\n";
static const char bad_starts[] = "day,car,time\n1,7,09:00\n3,1,09:00\n1,1,9\n";
static const char good_readings[] =
    "point,car,time,elapsed,faults,id,at,by,replaces,void,reason,weather\n"
    "TC1,1,08:46:10,,,a,2027-05-20T08:46:20Z,Desk 1,,,,dry\n"
    "TC1,1,08:47:10,,,b,2027-05-20T08:46:30Z,Desk 2,,,,\n"
    "TC1,2,08:48:10,,,,,,,,,\n"
    "TC9,2,08:48:10,,,,,,,,,\n"
    "R1/start,1,09:00:00,,,,,,,,,\nR1/1,1,09:07:00,,,,,,,,,\nR1/2,1,09:12:00,,,c,,,,,,\n"
    "R1/2,1,09:12:13,,,,,,c,,misread,\n"
    "T1/1,1,,11.655,,,,,,,,\nS1/finish,1,,70.5,cone=2,,,,,,,\nS1/finish,2,,72,,,,,,,,\n"
    "S1/finish,5,,72,pole=2,,,,,,,\nTC1,1,08:46:11,,,a,,,,,,\n"
    "L1/1,1,,60,,,,,,,,\nL1/2,1,,61,stop=1,,,,,,,\nPC1,1,,,,,,,,,,\n";
static const char bad_readings[] = "point,point,time\n";
static const char good_decisions[] =
    "kind,car,point,value,reason,id,at,note\n"
    "allowance,1,R1/1,5,cattle,,,\npenalty,2,,12.5,late papers,p,2027-05-20T10:00:00Z,x\n"
    "retire,5,S1,,engine,,,\nrevoke,,,p,wrong car,,,\nclose,,TC1,,all through,,,\n";
static const char bad_decisions[] = "kind,car,point,value,reason,id\nwaive,9,TC1,,r,\n"
                                    "revoke,,,q,r,x\npenalty,1,,1.0001,r,\nretire,1,,,,\n";

struct texts {
    const char *rules;
    const char *entries;
    const char *starts;
    const char *readings;
    const char *decisions;
};

static struct file_text file_of(const char *text) {
    return (struct file_text){text, text == NULL ? 0 : strlen(text)};
}

static struct event_files files_of(const struct texts *t) {
    return (struct event_files){file_of(t->rules), file_of(t->entries), file_of(t->starts),
                                file_of(t->readings), file_of(t->decisions)};
}

static const struct texts good = {good_rules, good_entries, good_starts, good_readings,
                                  good_decisions};

static int read_event(void *context, struct textbuf *out) {
    struct event_files files = files_of(context);
    struct problems problems = {0};
    struct event *event = NULL;
    int err = event_read(&files, &problems, &event);
    WITH_MEMORY({
        assert_int_equal(event != NULL, err == ERR_OK);
        char *said = problems_text(&problems);
        if (err != ERR_NOMEM)
            textbuf_puts(out, said);
        free(said);
    });
    event_free(event);
    problems_clear(&problems);
    return err;
}

BEHAVIOUR(a_good_event_is_read_whole_or_not_at_all) {
    try_all(read_event, (void *)&good, "good");
}

BEHAVIOUR(what_is_wrong_is_told_whole_or_not_at_all) {
    static const struct texts bad[] = {
        {bad_rules, good_entries, NULL, NULL, NULL},
        {malformed_rules, good_entries, NULL, NULL, NULL},
        {good_rules, bad_entries, NULL, NULL, NULL},
        {good_rules, wrong_entries, NULL, NULL, NULL},
        {good_rules, good_entries, bad_starts, NULL, NULL},
        {good_rules, good_entries, NULL, bad_readings, NULL},
        {good_rules, good_entries, NULL, good_readings, bad_decisions},
        {good_rules, NULL, NULL, NULL, NULL},
    };
    for (size_t i = 0; i < COUNT_OF(bad); i++)
        try_all(read_event, (void *)&bad[i], "bad");
}

/* The good event, read once with memory enough. */
static struct event *good_event(void) {
    struct event_files files = files_of(&good);
    struct problems problems = {0};
    struct event *event = NULL;
    assert_int_equal(event_read(&files, &problems, &event), ERR_OK);
    problems_clear(&problems);
    return event;
}

static int score(void *context, struct textbuf *out) {
    const struct event *event = context;
    struct view *view = NULL;
    struct scores *scores = NULL;
    struct scores *copy = NULL;
    struct scorer scorer = {0};
    struct view_request request = {true, false, -1};
    int err = view_new(event, request, &view);
    if (err == ERR_OK)
        err = scores_new(event, view, &scores);
    if (err == ERR_OK)
        err = scores_copy(scores, event, view, &copy);
    if (err == ERR_OK) {
        err = scorer_init(&scorer, event);
        if (err == ERR_OK) {
            int car = 0;
            scores_update(copy, &scorer, &car, 1);
            scores_rank(copy, &scorer);
            WITH_MEMORY(for (int i = 0; i < event->entries->count; i++) {
                textbuf_printf(out, "%d:%lld ", copy->cars[i].position,
                               (long long)copy->cars[i].tally[BASIS_CORRECTED].total);
            });
        }
        scorer_clear(&scorer);
    }
    scores_free(copy);
    scores_free(scores);
    view_free(view);
    return err;
}

BEHAVIOUR(an_event_is_scored_whole_or_not_at_all) {
    struct event *event = good_event();
    try_all(score, event, "score");
    event_free(event);
}

/* Scores to be written, and what to write: a grouping, or a card. */
struct page {
    const struct scores *scores;
    enum standings_by by;
    int car; /* -1: the standings */
    int form;
};

static int write_page(void *context, struct textbuf *out) {
    const struct page *page = context;
    static void (*const tables[])(struct textbuf *, const struct standings *,
                                  const struct output_head *) = {
        output_standings_json, output_standings_csv, output_standings_text};
    static void (*const cards[])(struct textbuf *, const struct scores *, int,
                                 const struct output_head *) = {output_card_json, output_card_csv,
                                                                output_card_text};
    struct output_head head = {"live", 7, NULL};
    struct standings *standings = NULL;
    struct textbuf b = {0};
    int err = ERR_OK;
    if (page->car >= 0) {
        cards[page->form](&b, page->scores, page->car, &head);
    } else {
        err = standings_new(page->scores, page->by, &standings);
        if (err == ERR_OK)
            tables[page->form](&b, standings, &head);
    }
    standings_free(standings);
    if (err == ERR_OK && b.failed)
        err = ERR_NOMEM;
    WITH_MEMORY(textbuf_puts(out, textbuf_text(&b)));
    textbuf_clear(&b);
    return err;
}

BEHAVIOUR(a_page_is_written_whole_or_marked_as_failed) {
    struct event *event = good_event();
    struct view *view = NULL;
    struct scores *scores = NULL;
    struct view_request request = {true, false, -1};
    assert_int_equal(view_new(event, request, &view), ERR_OK);
    assert_int_equal(scores_new(event, view, &scores), ERR_OK);
    for (int form = 0; form < 3; form++) {
        for (int by = 0; by < BY_COUNT; by++) {
            struct page page = {scores, (enum standings_by)by, -1, form};
            try_all(write_page, &page, by_word(page.by));
        }
        for (int car = 0; car < event->entries->count; car++) {
            struct page page = {scores, BY_OVERALL, car, form};
            try_all(write_page, &page, "card");
        }
    }
    scores_free(scores);
    view_free(view);
    event_free(event);
}

static int check_whole(void *context, struct textbuf *out) {
    struct problems problems = {0};
    int err = check_event(context, &problems);
    WITH_MEMORY({
        char *said = problems_text(&problems);
        if (err != ERR_NOMEM)
            textbuf_puts(out, said);
        free(said);
    });
    problems_clear(&problems);
    return err;
}

BEHAVIOUR(doubts_are_told_whole_or_not_at_all) {
    struct event *event = good_event();
    try_all(check_whole, event, "check");
    event_free(event);
}

static int export_whole(void *context, struct textbuf *out) {
    const struct event *event = context;
    struct textbuf b = {0};
    int err = export_readings(event->readings, &b);
    if (err == ERR_OK)
        err = export_decisions(event->decisions, &b);
    WITH_MEMORY(textbuf_puts(out, textbuf_text(&b)));
    textbuf_clear(&b);
    return err;
}

BEHAVIOUR(files_are_exported_whole_or_not_at_all) {
    struct event *event = good_event();
    try_all(export_whole, event, "export");
    event_free(event);
}

/* Adds facts to a log until each is in. A fact that found no memory must leave the log as it was,
 * and be taken when it comes again. */
BEHAVIOUR(a_fact_is_added_whole_or_not_at_all) {
    static const char *const readings[] = {
        "point=TC1,car=5,time=08:46,id=n1,by=Desk 9,at=2027-05-20T08:50:00Z",
        "point=R1/2,car=1,time=09:12:20,replaces=n3,reason=misread,id=n2",
        "point=S1/finish,car=2,elapsed=71,faults=cone=3,id=n3", "point=PC1,car=5"};
    static const char *const decisions[] = {"kind=waive,car=1,point=R1/1,reason=fog,id=m1",
                                            "kind=revoke,value=m1,reason=no fog"};
    struct event *event = good_event();
    for (size_t i = 0; i < COUNT_OF(readings); i++) {
        struct reading_row row;
        struct textbuf reason = {0};
        int count = readings_count(event->readings);
        enum reading_result result = READING_NOMEM;
        reading_row(&row, readings[i]);
        for (long n = 1; result != READING_ADDED; n++) {
            countdown = n;
            result = readings_add(event->readings, &row.text, &reason, NULL);
            countdown = 0;
            assert_true(result == READING_NOMEM || result == READING_ADDED);
            assert_int_equal(readings_count(event->readings), count + (result == READING_ADDED));
            assert_true(n < 1000);
        }
        assert_int_equal(readings_add(event->readings, &row.text, &reason, NULL),
                         READING_DUPLICATE);
        textbuf_clear(&reason);
    }
    for (size_t i = 0; i < COUNT_OF(decisions); i++) {
        struct decision_row row;
        struct textbuf reason = {0};
        int count = decisions_count(event->decisions);
        enum decision_result result = DECISION_NOMEM;
        decision_row(&row, decisions[i]);
        for (long n = 1; result != DECISION_ADDED; n++) {
            countdown = n;
            result = decisions_add(event->decisions, &row.text, &reason, NULL);
            countdown = 0;
            assert_true(result == DECISION_NOMEM || result == DECISION_ADDED);
            assert_int_equal(decisions_count(event->decisions), count + (result == DECISION_ADDED));
            assert_true(n < 1000);
        }
        textbuf_clear(&reason);
    }
    int err = ERR_NOMEM;
    for (long n = 1; err != ERR_OK; n++) {
        const struct rulings *before = event->rulings;
        countdown = n;
        err = decisions_settle(event->decisions, "decisions.csv", NULL);
        if (err == ERR_OK)
            err = event_settle(event);
        countdown = 0;
        if (err != ERR_OK) {
            assert_int_equal(err, ERR_NOMEM);
            assert_ptr_equal(event->rulings, before);
        }
        assert_true(n < 1000);
    }
    /* the correction that came before what it corrects still holds */
    assert_true(reading_is_replaced(
        readings_at(event->readings, readings_find(event->readings, "n3")), READINGS_ALL));
    event_free(event);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_good_event_is_read_whole_or_not_at_all),
        cmocka_unit_test(what_is_wrong_is_told_whole_or_not_at_all),
        cmocka_unit_test(an_event_is_scored_whole_or_not_at_all),
        cmocka_unit_test(a_page_is_written_whole_or_marked_as_failed),
        cmocka_unit_test(doubts_are_told_whole_or_not_at_all),
        cmocka_unit_test(files_are_exported_whole_or_not_at_all),
        cmocka_unit_test(a_fact_is_added_whole_or_not_at_all),
    };
    return cmocka_run_group_tests(tests, count_json, NULL);
}
