/* SPDX-License-Identifier: MIT */
/* Lists that are not standings: starts, cards, control sheets, prizes. */
#include "paper/contents.h"

#include <stdio.h>
#include <string.h>

#include "base/textbuf.h"
#include "event/entry_words.h"

/* Height of a row that is written in by hand, in points; rows for cars that nobody expects. */
enum { ROW_BY_HAND = 22, ROWS_UNEXPECTED = 12 };

static const char caution[] =
    "Road law, permits and the clerk of the course come first. This is no safety system.";

const char *contents_member(const json_t *object, const char *name) {
    const char *text = json_string_value(json_object_get(object, name));
    return text == NULL ? "" : text;
}

void contents_cell(struct paper_doc *doc, const json_t *object, const char *name) {
    const json_t *value = json_object_get(object, name);
    char number[24] = "";
    if (json_is_integer(value))
        (void)snprintf(number, sizeof number, "%lld", (long long)json_integer_value(value));
    paper_cell(doc, json_is_string(value) ? json_string_value(value) : number);
}

bool contents_any_fails(const json_t *rows) {
    size_t i;
    const json_t *row;
    json_array_foreach(rows, i, row) {
        if (json_integer_value(json_object_get(row, "fails")) > 0)
            return true;
    }
    return false;
}

static void write_crew(struct textbuf *b, const json_t *object) {
    size_t i;
    const json_t *name;
    json_array_foreach(json_object_get(object, "crew"), i, name) {
        textbuf_puts(b, i > 0 ? " / " : "");
        textbuf_puts(b, json_string_value(name));
    }
}

void contents_crew_cell(struct paper_doc *doc, const json_t *object) {
    struct textbuf text = {0};
    write_crew(&text, object);
    paper_cell(doc, textbuf_text(&text));
    textbuf_clear(&text);
}

void contents_starts(struct paper_doc *doc, const json_t *answer) {
    static const struct paper_column columns[] = {{.head = "Start"},
                                                  {.head = "Car", .right = true},
                                                  {.head = "Crew", .share = 3},
                                                  {.head = "Vehicle", .share = 2},
                                                  {.head = "Year", .right = true},
                                                  {.head = "Class"},
                                                  {.head = "Remarks", .box = true, .width = 110}};
    size_t i;
    const json_t *row;
    paper_text(doc, caution);
    paper_table(doc, columns, sizeof columns / sizeof columns[0], 16);
    json_array_foreach(json_object_get(answer, "starts"), i, row) {
        contents_cell(doc, row, "time");
        contents_cell(doc, row, "car");
        contents_crew_cell(doc, row);
        contents_cell(doc, row, "vehicle");
        contents_cell(doc, row, "year");
        contents_cell(doc, row, "class");
        paper_cell(doc, "");
    }
}

static void add_crew(struct paper_doc *doc, const json_t *answer) {
    struct textbuf text = {0};
    write_crew(&text, answer);
    textbuf_printf(&text, "\n%s, %lld, class %s\nPenalty %s", contents_member(answer, "vehicle"),
                   (long long)json_integer_value(json_object_get(answer, "year")),
                   contents_member(answer, "class"), contents_member(answer, "penalty"));
    long long fails = json_integer_value(json_object_get(answer, "fails"));
    if (fails > 0)
        textbuf_printf(&text, ", fails %lld", fails);
    textbuf_printf(&text, ", %s", contents_member(answer, "status"));
    if (json_is_integer(json_object_get(answer, "position")))
        textbuf_printf(&text, ", place %s%lld overall",
                       json_is_true(json_object_get(answer, "equal")) ? "=" : "",
                       (long long)json_integer_value(json_object_get(answer, "position")));
    if (json_is_integer(json_object_get(answer, "class_position")))
        textbuf_printf(&text, ", %lld in class",
                       (long long)json_integer_value(json_object_get(answer, "class_position")));
    paper_text(doc, textbuf_text(&text));
    textbuf_clear(&text);
}

/* A penalty; a dash where it is not known yet. */
static void known_cell(struct paper_doc *doc, const json_t *object, bool known) {
    if (known)
        contents_cell(doc, object, "penalty");
    else
        paper_cell(doc, "–");
}

/* Begins a table that ends with the penalty, and fails before it where there are any.
 *   columns  `count` of them, with room for those */
static void begin_costs(struct paper_doc *doc, struct paper_column *columns, int count,
                        bool fails) {
    if (fails)
        columns[count++] = (struct paper_column){.head = "Fails", .right = true};
    columns[count++] = (struct paper_column){.head = "Penalty", .right = true};
    paper_table(doc, columns, count, 0);
}

/* Its fails; nothing where there are none. */
static void fails_cell(struct paper_doc *doc, const json_t *object) {
    if (json_integer_value(json_object_get(object, "fails")) > 0)
        contents_cell(doc, object, "fails");
    else
        paper_cell(doc, "");
}

/* False for a point that is awaited and costs nothing so far. */
static bool cost_is_known(const json_t *point) {
    const char *penalty = contents_member(point, "penalty");
    return strcmp(contents_member(point, "state"), "awaiting") != 0 ||
           json_integer_value(json_object_get(point, "fails")) > 0 ||
           penalty[strspn(penalty, "0.:")] != '\0';
}

static void add_total(struct paper_doc *doc, const json_t *answer, bool fails) {
    struct paper_column columns[PAPER_COLUMNS_MAX] = {{.head = "Of"}, {.head = "Why", .share = 1}};
    size_t i;
    const json_t *step;
    paper_heading(doc, "Total");
    begin_costs(doc, columns, 2, fails);
    json_array_foreach(json_object_get(answer, "total"), i, step) {
        contents_cell(doc, step, "of");
        contents_cell(doc, step, "why");
        if (fails)
            fails_cell(doc, step);
        known_cell(doc, step, !json_is_null(json_object_get(step, "penalty")));
    }
    paper_cell(doc, "");
    paper_cell(doc, "Total");
    if (fails)
        fails_cell(doc, answer);
    contents_cell(doc, answer, "penalty");
}

void contents_card(struct paper_doc *doc, const json_t *answer) {
    struct paper_column columns[PAPER_COLUMNS_MAX] = {{.head = "Point"},
                                                      {.head = "Due", .right = true},
                                                      {.head = "Actual", .right = true},
                                                      {.head = "State"},
                                                      {.head = "Why", .share = 1}};
    const json_t *points = json_object_get(answer, "points");
    bool fails = contents_any_fails(points) || contents_any_fails(json_object_get(answer, "total"));
    long long day = 0;
    size_t i;
    const json_t *point;
    add_crew(doc, answer);
    json_array_foreach(points, i, point) {
        long long its_day = json_integer_value(json_object_get(point, "day"));
        if (its_day != day) {
            char text[32];
            (void)snprintf(text, sizeof text, "Day %lld", its_day);
            paper_heading(doc, text);
            begin_costs(doc, columns, 5, fails);
            day = its_day;
        }
        contents_cell(doc, point, "point");
        contents_cell(doc, point, "due");
        contents_cell(doc, point, "actual");
        contents_cell(doc, point, "state");
        contents_cell(doc, point, "why");
        if (fails)
            fails_cell(doc, point);
        known_cell(doc, point, cost_is_known(point));
    }
    add_total(doc, answer, fails);
}

static void expected_row(struct paper_doc *doc, const json_t *row, const struct entries *entries) {
    int car = entries_find(entries, json_integer_value(json_object_get(row, "car")));
    const char *time = contents_member(row, "time");
    struct textbuf text = {0};
    bool seen = strcmp(contents_member(row, "state"), "seen") == 0;
    contents_cell(doc, row, "due");
    contents_cell(doc, row, "car");
    if (car >= 0) {
        const struct entry *e = &entries->list[car];
        entry_crew_words(&text, e);
        paper_cell(doc, textbuf_text(&text));
        textbuf_reset(&text);
        entry_vehicle_words(&text, e);
        paper_cell(doc, textbuf_text(&text));
    } else {
        paper_cell(doc, "");
        paper_cell(doc, "");
    }
    textbuf_reset(&text);
    if (seen)
        textbuf_printf(&text, "%lld", (long long)json_integer_value(json_object_get(row, "car")));
    paper_cell(doc, textbuf_text(&text));
    paper_cell(doc, !seen || *time != '\0' ? time : contents_member(row, "elapsed"));
    paper_cell(doc, contents_member(row, "faults"));
    paper_cell(doc, seen ? "read" : "");
    textbuf_clear(&text);
}

void contents_control(struct paper_doc *doc, const json_t *answer, const struct entries *entries,
                      const char *faults) {
    static const struct paper_column columns[] = {{.head = "Due", .width = 36},
                                                  {.head = "Car", .right = true, .width = 22},
                                                  {.head = "Crew", .share = 3},
                                                  {.head = "Vehicle", .share = 2},
                                                  {.head = "Number", .box = true, .width = 44},
                                                  {.head = "Time", .box = true, .width = 80},
                                                  {.head = "Faults", .box = true, .width = 44},
                                                  {.head = "Remarks", .box = true, .width = 60}};
    enum { COLUMNS = sizeof columns / sizeof columns[0] };
    size_t i;
    const json_t *row;
    paper_text(doc, caution);
    paper_text(doc,
               "Write the number and the time of each car as it is read, in order, and correct "
               "by striking out, never by writing over. Timekeeper, clock set by, at:");
    if (*faults != '\0') {
        struct textbuf text = {0};
        textbuf_printf(&text, "Faults here, each with how many times: %s.", faults);
        paper_text(doc, textbuf_text(&text));
        textbuf_clear(&text);
    }
    paper_table(doc, columns, COLUMNS, ROW_BY_HAND);
    json_array_foreach(json_object_get(answer, "cars"), i, row) {
        if (strcmp(contents_member(row, "state"), "out") != 0)
            expected_row(doc, row, entries);
    }
    for (int cell = 0; cell < ROWS_UNEXPECTED * COLUMNS; cell++)
        paper_cell(doc, "");
}

static void prize_row(struct paper_doc *doc, const json_t *call) {
    struct textbuf text = {0};
    const char *group = contents_member(call, "group");
    const char *team = contents_member(call, "team");
    long long place = json_integer_value(json_object_get(call, "place"));
    long long fails = json_integer_value(json_object_get(call, "fails"));
    size_t i;
    const json_t *car;
    textbuf_printf(&text, "%s%s%s", contents_member(call, "name"), *group == '\0' ? "" : ", ",
                   group);
    paper_cell(doc, textbuf_text(&text));
    textbuf_reset(&text);
    if (place > 0)
        textbuf_printf(&text, "%lld%s", place,
                       json_is_true(json_object_get(call, "shared")) ? "=" : "");
    paper_cell(doc, textbuf_text(&text));
    contents_cell(doc, call, "car");
    if (json_is_array(json_object_get(call, "crew")))
        contents_crew_cell(doc, call);
    else
        paper_cell(doc, *team == '\0' ? "nobody" : team);
    textbuf_reset(&text);
    if (*contents_member(call, "vehicle") != '\0')
        textbuf_printf(&text, "%s, %lld", contents_member(call, "vehicle"),
                       (long long)json_integer_value(json_object_get(call, "year")));
    json_array_foreach(json_object_get(call, "cars"), i, car) {
        textbuf_printf(&text, "%s%lld", i > 0 ? ", " : "cars ", (long long)json_integer_value(car));
    }
    paper_cell(doc, textbuf_text(&text));
    textbuf_reset(&text);
    textbuf_puts(&text, contents_member(call, "penalty"));
    if (fails > 0)
        textbuf_printf(&text, " and %lld %s", fails, fails == 1 ? "fail" : "fails");
    paper_cell(doc, textbuf_text(&text));
    textbuf_clear(&text);
}

void contents_prizes(struct paper_doc *doc, const json_t *answer) {
    static const struct paper_column columns[] = {
        {.head = "Prize", .share = 3},   {.head = "Place", .right = true},
        {.head = "Car", .right = true},  {.head = "Crew or team", .share = 3},
        {.head = "Vehicle", .share = 2}, {.head = "Penalty", .right = true}};
    size_t i;
    const json_t *call;
    paper_text(doc, "As they are read out: the last prize first, in each the last place first.");
    paper_table(doc, columns, sizeof columns / sizeof columns[0], 18);
    json_array_foreach(json_object_get(answer, "prizes"), i, call) {
        prize_row(doc, call);
    }
}
