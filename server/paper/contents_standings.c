/* SPDX-License-Identifier: MIT */
/* Standings, and the notices that hold them. */
#include <stdio.h>
#include <string.h>

#include "base/textbuf.h"
#include "paper/contents.h"

static void place_cell(struct paper_doc *doc, const json_t *row) {
    const json_t *position = json_object_get(row, "position");
    char text[32] = "–";
    if (json_is_integer(position))
        (void)snprintf(text, sizeof text, "%s%lld",
                       json_is_true(json_object_get(row, "equal")) ? "=" : "",
                       (long long)json_integer_value(position));
    paper_cell(doc, text);
}

/* The car's own cells, alike in every list. */
static void car_cells(struct paper_doc *doc, const json_t *row) {
    contents_cell(doc, row, "car");
    contents_crew_cell(doc, row);
    contents_cell(doc, row, "vehicle");
    contents_cell(doc, row, "year");
    contents_cell(doc, row, "class");
}

static void note_cell(struct paper_doc *doc, const json_t *row) {
    long long awaiting = json_integer_value(json_object_get(row, "awaiting"));
    long long doubtful = json_integer_value(json_object_get(row, "doubtful"));
    char text[80] = "";
    if (awaiting > 0 && doubtful > 0)
        (void)snprintf(text, sizeof text, "%lld awaited, %lld doubtful", awaiting, doubtful);
    else if (awaiting > 0)
        (void)snprintf(text, sizeof text, "%lld awaited", awaiting);
    else if (doubtful > 0)
        (void)snprintf(text, sizeof text, "%lld doubtful", doubtful);
    paper_cell(doc, text);
}

/* To the leader: the penalty, or the fails where these differ. */
static void gap_cell(struct paper_doc *doc, const json_t *row) {
    long long fails = json_integer_value(json_object_get(row, "fails_behind_leader"));
    char text[32];
    if (fails == 0) {
        contents_cell(doc, row, "behind_leader");
        return;
    }
    (void)snprintf(text, sizeof text, "%lld fail%s", fails, fails == 1 ? "" : "s");
    paper_cell(doc, text);
}

static bool any_notes(const json_t *rows) {
    size_t i;
    const json_t *row;
    json_array_foreach(rows, i, row) {
        if (json_integer_value(json_object_get(row, "awaiting")) > 0 ||
            json_integer_value(json_object_get(row, "doubtful")) > 0)
            return true;
    }
    return false;
}

static void placed_table(struct paper_doc *doc, const json_t *rows) {
    struct paper_column columns[PAPER_COLUMNS_MAX] = {
        {.head = "Place", .right = true}, {.head = "Car", .right = true},
        {.head = "Crew", .share = 3},     {.head = "Vehicle", .share = 2},
        {.head = "Year", .right = true},  {.head = "Class"}};
    bool fails = contents_any_fails(rows);
    bool notes = any_notes(rows);
    int count = 6;
    size_t i;
    const json_t *row;
    if (fails)
        columns[count++] = (struct paper_column){.head = "Fails", .right = true};
    columns[count++] = (struct paper_column){.head = "Penalty", .right = true};
    columns[count++] = (struct paper_column){.head = "To leader", .right = true};
    if (notes)
        columns[count++] = (struct paper_column){.head = "Note"};
    paper_table(doc, columns, count, 0);
    json_array_foreach(rows, i, row) {
        place_cell(doc, row);
        car_cells(doc, row);
        if (fails)
            contents_cell(doc, row, "fails");
        contents_cell(doc, row, "penalty");
        gap_cell(doc, row);
        if (notes)
            note_cell(doc, row);
    }
}

static void others_table(struct paper_doc *doc, const char *name, const char *heading,
                         const json_t *rows) {
    static const struct paper_column columns[] = {{.head = "Car", .right = true},
                                                  {.head = "Crew", .share = 3},
                                                  {.head = "Vehicle", .share = 2},
                                                  {.head = "Year", .right = true},
                                                  {.head = "Class"},
                                                  {.head = "Status"}};
    struct textbuf text = {0};
    size_t i;
    const json_t *row;
    if (json_array_size(rows) == 0)
        return;
    textbuf_printf(&text, "%s%s%s", name, *name == '\0' ? "" : ": ", heading);
    paper_heading(doc, textbuf_text(&text));
    paper_table(doc, columns, sizeof columns / sizeof columns[0], 0);
    json_array_foreach(rows, i, row) {
        car_cells(doc, row);
        contents_cell(doc, row, "status");
    }
    textbuf_clear(&text);
}

/* The name of a group: "Class C-1, Vintage", "R1 Hollin Moor". */
static void write_name(struct textbuf *b, const json_t *group) {
    if (json_object_get(group, "class") != NULL)
        textbuf_printf(b, "Class %s, ", contents_member(group, "class"));
    else if (json_object_get(group, "test") != NULL)
        textbuf_printf(b, "%s ", contents_member(group, "test"));
    textbuf_puts(b, contents_member(group, "name"));
}

static void add_lists(struct paper_doc *doc, const json_t *group, const char *name,
                      const char *heading) {
    const json_t *placed = json_object_get(group, "standings");
    if (json_array_size(placed) > 0) {
        if (*heading != '\0')
            paper_heading(doc, heading);
        placed_table(doc, placed);
    }
    others_table(doc, name, "still awaited", json_object_get(group, "pending"));
    others_table(doc, name, "without a place", json_object_get(group, "unplaced"));
}

static void team_row(struct paper_doc *doc, const json_t *row, bool fails) {
    struct textbuf cars = {0};
    size_t i;
    const json_t *car;
    place_cell(doc, row);
    contents_cell(doc, row, "team");
    json_array_foreach(json_object_get(row, "cars"), i, car) {
        textbuf_printf(&cars, "%s%lld", i > 0 ? ", " : "", (long long)json_integer_value(car));
    }
    paper_cell(doc, textbuf_text(&cars));
    if (fails)
        contents_cell(doc, row, "fails");
    contents_cell(doc, row, "penalty");
    textbuf_clear(&cars);
}

static void add_teams(struct paper_doc *doc, const json_t *table, bool clubs) {
    const json_t *placed = json_object_get(table, "standings");
    const json_t *unplaced = json_object_get(table, "unplaced");
    bool fails = contents_any_fails(placed) || contents_any_fails(unplaced);
    struct paper_column columns[PAPER_COLUMNS_MAX] = {{.head = "Place", .right = true},
                                                      {.head = clubs ? "Club" : "Team", .share = 2},
                                                      {.head = "Cars", .share = 1}};
    int count = 3;
    size_t i;
    const json_t *row;
    if (fails)
        columns[count++] = (struct paper_column){.head = "Fails", .right = true};
    columns[count++] = (struct paper_column){.head = "Penalty", .right = true};
    paper_table(doc, columns, count, 0);
    json_array_foreach(placed, i, row) {
        team_row(doc, row, fails);
    }
    json_array_foreach(unplaced, i, row) {
        team_row(doc, row, fails);
    }
}

static bool is_of_teams(const json_t *table) {
    const json_t *rows = json_object_get(table, "standings");
    if (json_array_size(rows) == 0)
        rows = json_object_get(table, "unplaced");
    return json_object_get(json_array_get(rows, 0), "team") != NULL &&
           json_object_get(json_array_get(rows, 0), "car") == NULL;
}

/* A table or its groups, under headings that begin with `what` where that is not "".
 *   clubs  teams are clubs */
static void add_table(struct paper_doc *doc, const json_t *table, const char *what, bool clubs) {
    const json_t *groups = json_object_get(table, "groups");
    size_t i;
    const json_t *group;
    if (groups == NULL && is_of_teams(table)) {
        if (*what != '\0')
            paper_heading(doc, what);
        add_teams(doc, table, clubs);
    } else if (groups == NULL) {
        add_lists(doc, table, what, what);
    }
    json_array_foreach(groups, i, group) {
        struct textbuf name = {0};
        if (*what != '\0' && json_object_get(group, "class") == NULL)
            textbuf_printf(&name, "%s ", what);
        write_name(&name, group);
        add_lists(doc, group, textbuf_text(&name), textbuf_text(&name));
        textbuf_clear(&name);
    }
}

void contents_standings(struct paper_doc *doc, const json_t *answer, bool clubs) {
    add_table(doc, answer, "", clubs);
}

static void add_decisions(struct paper_doc *doc, const json_t *decisions) {
    static const struct paper_column columns[] = {
        {.head = "Kind"},  {.head = "Car", .right = true}, {.head = "Point"},
        {.head = "Value"}, {.head = "Reason", .share = 3}, {.head = "Holds"}};
    size_t i;
    const json_t *d;
    if (json_array_size(decisions) == 0)
        return;
    paper_heading(doc, "Decisions");
    paper_table(doc, columns, sizeof columns / sizeof columns[0], 0);
    json_array_foreach(decisions, i, d) {
        contents_cell(doc, d, "kind");
        contents_cell(doc, d, "car");
        contents_cell(doc, d, "point");
        contents_cell(doc, d, "value");
        contents_cell(doc, d, "reason");
        paper_cell(doc, json_is_true(json_object_get(d, "holds")) ? "yes" : "revoked");
    }
}

static void side_cell(struct paper_doc *doc, const json_t *side) {
    struct textbuf text = {0};
    if (!json_is_object(side)) {
        paper_cell(doc, "not in the table");
        return;
    }
    if (json_is_integer(json_object_get(side, "position")))
        textbuf_printf(&text, "place %lld, %lld in class, ",
                       (long long)json_integer_value(json_object_get(side, "position")),
                       (long long)json_integer_value(json_object_get(side, "class_position")));
    textbuf_printf(&text, "penalty %s, %s", contents_member(side, "penalty"),
                   contents_member(side, "status"));
    long long fails = json_integer_value(json_object_get(side, "fails"));
    if (fails > 0)
        textbuf_printf(&text, ", fails %lld", fails);
    paper_cell(doc, textbuf_text(&text));
    textbuf_clear(&text);
}

static void add_differences(struct paper_doc *doc, const json_t *content) {
    static const struct paper_column columns[] = {{.head = "Car", .right = true},
                                                  {.head = "Before", .share = 1},
                                                  {.head = "Now", .share = 1}};
    const json_t *differences = json_object_get(content, "differences");
    char text[64];
    size_t i;
    const json_t *d;
    if (!json_is_array(differences))
        return;
    (void)snprintf(text, sizeof text, "What differs from notice %lld",
                   (long long)json_integer_value(json_object_get(content, "supersedes")));
    paper_heading(doc, text);
    if (json_array_size(differences) == 0) {
        paper_text(doc, "No car stands differently.");
        return;
    }
    paper_table(doc, columns, sizeof columns / sizeof columns[0], 0);
    json_array_foreach(differences, i, d) {
        contents_cell(doc, d, "car");
        side_cell(doc, json_object_get(d, "before"));
        side_cell(doc, json_object_get(d, "after"));
    }
}

void contents_notice(struct paper_doc *doc, const json_t *content, bool clubs) {
    const struct {
        const char *member, *what;
    } tables[] = {{"overall", "Overall"},
                  {"class", "Class"},
                  {"category", "Category"},
                  {"group", "Group"},
                  {"team", clubs ? "Clubs" : "Teams"}};
    struct textbuf text = {0};
    textbuf_printf(&text, "Posted %s", contents_member(content, "posted"));
    if (*contents_member(content, "protest_until") != '\0')
        textbuf_printf(&text, "; protests until %s", contents_member(content, "protest_until"));
    if (json_is_integer(json_object_get(content, "supersedes")))
        textbuf_printf(&text, "; replaces notice %lld",
                       (long long)json_integer_value(json_object_get(content, "supersedes")));
    paper_text(doc, textbuf_text(&text));
    if (*contents_member(content, "text") != '\0')
        paper_text(doc, contents_member(content, "text"));
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        const json_t *table = json_object_get(content, tables[i].member);
        if (table != NULL)
            add_table(doc, table, tables[i].what, clubs);
    }
    add_decisions(doc, json_object_get(content, "decisions"));
    add_differences(doc, content);
    textbuf_clear(&text);
}
