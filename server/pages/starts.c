/* SPDX-License-Identifier: MIT */
/* The start list of a day. */
#include "api/arguments.h"
#include "base/err.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/table.h"
#include "pages/templates.h"

struct starts_day {
    int64_t number;
    struct address starts;
    bool here;
};

struct starts_content {
    int64_t number;
    const char *date;
    struct markup state;
    struct template_rows days; /* none where there is one only */
    struct markup list;
};

static const struct template_hole day_holes[] = {TEMPLATE_HOLE(struct starts_day, number),
                                                 TEMPLATE_HOLE(struct starts_day, starts),
                                                 TEMPLATE_HOLE(struct starts_day, here),
                                                 {0}};

static const struct template_hole starts_holes[] = {
    TEMPLATE_HOLE(struct starts_content, number),
    TEMPLATE_HOLE(struct starts_content, date),
    TEMPLATE_HOLE(struct starts_content, state),
    TEMPLATE_EACH(struct starts_content, days, day_holes),
    TEMPLATE_HOLE(struct starts_content, list),
    {0}};

struct template starts_template = {.file = "web/board/templates/starts.html",
                                   .holes = starts_holes};

/* A day, and the cars that start on it in their order. */
struct starters {
    int day;
    int *cars;
    int count;
};

static bool list_days(struct page *p, int day, struct template_rows *out) {
    int count = p->rules->day_count;
    struct starts_day *days = request_array(p->r, (size_t)count, sizeof *days);
    if (days == NULL)
        return false;
    for (int d = 0; d < count; d++)
        days[d] = (struct starts_day){d + 1, page_address(p, "starts/%d", d + 1), d == day};
    *out = (struct template_rows)TEMPLATE_ROWS_OF(days, count > 1 ? count : 0);
    return true;
}

static void write_start(struct page *p, const struct table_row *row) {
    const int *day = row->of;
    cell_time(p, rulings_start(p->event, *day, row->car), UNIT_SECOND);
}

static void put_caption(struct page *p, const void *of) {
    const struct starters *s = of;
    say_with(p, "starts-of", page_text(p, "%d", s->day + 1), p->rules->days[s->day].date, NULL);
}

static void put_starters(struct page *p, const void *of) {
    static const struct table_cell cells[] = {{"start", .write = write_start},
                                              {"car", .write = cell_plate},
                                              {"crew", .write = cell_crew},
                                              {"era", .write = cell_class},
                                              {.key = NULL}};
    struct table t;
    const struct starters *s = of;
    table_begin(&t, p, "starts", "starts", caption_markup((struct markup){put_caption, s}), cells);
    for (int i = 0; i < s->count; i++) {
        textbuf_printf(&p->m, "<tr id=\"n%d\">", p->event->entries->list[s->cars[i]].number);
        table_cells(&t, s->cars[i], &s->day);
    }
    table_end(p);
}

unsigned page_starts(struct request *r, struct textbuf *b) {
    struct starters starters = {.day = -1};
    struct page p;
    unsigned status = request_day(r, &starters.day);
    if (status != 0)
        return status;
    int number = starters.day + 1;
    page_begin(&p, r, r->results->view);
    struct starts_content content = {.number = number,
                                     .date = p.rules->days[starters.day].date,
                                     .state = page_state_line(),
                                     .list = {put_starters, &starters}};
    if (request_starters(r, starters.day, &starters.cars, &starters.count) != ERR_OK ||
        !list_days(&p, starters.day, &content.days))
        return page_give_up(&p);
    template_write(&p, &starts_template, &content);
    return page_finish(
        &p, b,
        &(struct page_frame){.title = page_text(&p, "%s %d", said(&p, "start-list"), number),
                             .here = "starts",
                             .downloads = page_text(&p, "starts/%d", number),
                             .csv = true});
}
