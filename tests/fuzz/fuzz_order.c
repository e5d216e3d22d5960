/* SPDX-License-Identifier: MIT */
/* The same facts in two orders: bytes choose readings and decisions from tables of fields that meet
 * each other, and how they are shuffled. Both events must show the same bytes in every view. */
#include <stdio.h>

#include "dice.h"
#include "fuzz_folder.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { FACTS_MAX = 20, FIELDS = 6, ROW_LEN = 160 };

struct rows {
    char text[FACTS_MAX][ROW_LEN];
    size_t count;
};

#define PICK(table, byte) ((table)[(byte) % (sizeof(table) / sizeof(table)[0])])

static const char *const cars[] = {"1", "2", "22"};

static void add_reading(struct rows *rows, const uint8_t *b) {
    /* A point with a value that it takes, or does not. */
    static const char *const values[] = {"TC1,%s,08:46:00,,",
                                         "TC1,%s,08:47:30,,",
                                         "TC1,%s,09:30:00,,",
                                         "TC1/out,%s,08:50,,",
                                         "PC1,%s,,,",
                                         "PC1,%s,08:52,,",
                                         "R1/start,%s,08:55:00,,",
                                         "R1/1,%s,09:01:43,,",
                                         "R1/1,%s,09:01:50,,",
                                         "R1/2,%s,09:06:20,,",
                                         "T1/start,%s,09:10,,",
                                         "T1/1,%s,,11.71,",
                                         "T1/1,%s,09:10:12,,",
                                         "T1/2,%s,,9,",
                                         "S1/start,%s,08:00:00,,",
                                         "S1/finish,%s,,83.45,",
                                         "S1/finish,%s,08:01:30,,cone=2",
                                         "S1/finish,%s,,75,wrong-route=1",
                                         "S1/finish,%s,,500,",
                                         "L1/start,%s,09:00,,",
                                         "L1/1,%s,09:01:00,,",
                                         "L1/2,%s,,61.5,",
                                         "L1/3,%s,,60,cone=1",
                                         "L1/3,%s,09:03:02,,"};
    static const char *const ats[] = {"", "2027-05-20T08:46:39+00:00", "2027-05-20T09:46:39+01:00",
                                      "2027-05-20T08:46:38.999Z", "2027-05-21T00:00:00Z"};
    char value[64];
    char replaced[8] = "";
    if (b[4] % 4 == 1)
        (void)snprintf(replaced, sizeof replaced, "r%d", b[5] % 16);
    (void)snprintf(value, sizeof value, PICK(values, b[1]), PICK(cars, b[2]));
    /* An id is no second fact's: which of two is refused is a matter of order, by the contract. */
    char id[8] = "";
    if (b[4] % 3 != 0)
        (void)snprintf(id, sizeof id, "r%zu", rows->count % 100);
    (void)snprintf(rows->text[rows->count++], ROW_LEN, "%s,%s,%s,,%s,%s,%s", value, id,
                   PICK(ats, b[3]), replaced, *replaced != '\0' && b[5] & 64 ? "yes" : "",
                   *replaced != '\0' ? "card" : "");
}

static void add_decision(struct rows *rows, const uint8_t *b) {
    static const char *const values[] = {"allowance,%s,TC1,00:02:00",
                                         "allowance,%s,R1/1,30",
                                         "allowance,%s,R1/start,45",
                                         "penalty,%s,,30",
                                         "penalty,%s,,-2.5",
                                         "waive,%s,R1/1,",
                                         "waive,%s,R1,",
                                         "waive,%s,TC1,",
                                         "notional,%s,R1,12",
                                         "notional,%s,T1/1,3",
                                         "notional,%s,S1,50",
                                         "notional,%s,S1,51.5",
                                         "retire,%s,R1/1,",
                                         "retire,%s,,",
                                         "retire,%s,TC1,",
                                         "rejoin,%s,,2",
                                         "disqualify,%s,,",
                                         "close,%.0s,TC1,",
                                         "close,%.0s,R1,",
                                         "close,%.0s,day:1,",
                                         "close,%.0s,day:2,",
                                         "close,%.0s,L1,",
                                         "cancel,%.0s,R1/2,",
                                         "cancel,%.0s,T1,",
                                         "cancel,%.0s,PC1,",
                                         "cancel,%.0s,L1/2,",
                                         "cancel,%.0s,TC1,"};
    static const char *const ats[] = {"", "2027-05-20T10:00:00Z", "2027-05-20T11:00:00+01:00"};
    char value[64];
    if (b[1] % 32 >= 28) {
        (void)snprintf(value, sizeof value, "revoke,,,d%d", b[2] % 16);
    } else {
        (void)snprintf(value, sizeof value, PICK(values, b[1] % 32), PICK(cars, b[2]));
    }
    (void)snprintf(rows->text[rows->count], ROW_LEN, "%s,ruling,d%zu,%s", value, rows->count,
                   PICK(ats, b[3]));
    rows->count++;
}

static void write_rows(struct textbuf *b, const char *header, const struct rows *rows,
                       const size_t *order) {
    textbuf_puts(b, header);
    for (size_t i = 0; i < rows->count; i++)
        textbuf_printf(b, "%s\n", rows->text[order == NULL ? i : order[i]]);
}

/* All that an event shows in one view. */
static void show(struct textbuf *b, const struct model *model, struct view_request request) {
    struct view *view = NULL;
    struct scores *scores = NULL;
    if (view_new(&model->event, request, &view) != ERR_OK ||
        scores_new(&model->event, view, &scores) != ERR_OK)
        abort();
    struct output_head head = {view_status(view), 0, NULL};
    for (int by = 0; by < BY_COUNT; by++) {
        struct standings *st = NULL;
        if (standings_new(scores, (enum standings_by)by, &st) != ERR_OK)
            continue; /* an event without categories has none by category */
        output_standings_json(b, st, &head);
        standings_free(st);
    }
    for (int car = 0; car < model->entries->count; car++)
        output_card_json(b, scores, car, &head);
    scores_free(scores);
    view_free(view);
}

/* Reads an event and all that it shows; what is shown of one that is refused is that. */
static void show_event(struct textbuf *b, const struct rows *readings, const size_t *first,
                       const struct rows *decisions, const size_t *second) {
    struct event_files files = fuzz_files();
    struct textbuf reading_file = {0};
    struct textbuf decision_file = {0};
    struct problems problems = {0};
    struct model *model = NULL;
    write_rows(&reading_file, "point,car,time,elapsed,faults,id,at,by,replaces,void,reason\n",
               readings, first);
    write_rows(&decision_file, "kind,car,point,value,reason,id,at\n", decisions, second);
    files.readings = (struct file_text){reading_file.bytes, reading_file.len};
    files.decisions = (struct file_text){decision_file.bytes, decision_file.len};
    int err = model_read(&files, &problems, &model);
    textbuf_printf(b, "%d %zu\n", err, problems.by_level[PROBLEM_REFUSED]);
    if (err == ERR_OK) {
        show(b, model, (struct view_request){false, false, -1});
        show(b, model, (struct view_request){true, true, -1});
        show(b, model, (struct view_request){true, false, 2});
    }
    model_free(model);
    problems_clear(&problems);
    textbuf_clear(&reading_file);
    textbuf_clear(&decision_file);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static struct rows readings;
    static struct rows decisions;
    size_t first[FACTS_MAX];
    size_t second[FACTS_MAX];
    struct textbuf one = {0};
    struct textbuf other = {0};
    struct dice dice = {0};
    if (size > FACTS_MAX * FIELDS + sizeof dice.state)
        return -1;
    readings.count = decisions.count = 0;
    for (; size >= FIELDS; size -= FIELDS, data += FIELDS) {
        if (data[0] % 3 > 0 && readings.count < FACTS_MAX)
            add_reading(&readings, data);
        else if (data[0] % 3 == 0 && decisions.count < FACTS_MAX)
            add_decision(&decisions, data);
    }
    for (size_t i = 0; i < size; i++)
        dice.state = dice.state * 257 + data[i] + 1;
    dice_shuffle(&dice, first, readings.count);
    dice_shuffle(&dice, second, decisions.count);
    show_event(&one, &readings, NULL, &decisions, NULL);
    show_event(&other, &readings, first, &decisions, second);
    if (one.failed || other.failed || one.len != other.len ||
        memcmp(one.bytes, other.bytes, one.len) != 0)
        abort();
    textbuf_clear(&one);
    textbuf_clear(&other);
    return 0;
}
