/* SPDX-License-Identifier: MIT */
/* A car's card: the whole event as a time card, with the reason of every figure behind it. */
#include "pages/card.h"

#include <stdlib.h>

#include "api/arguments.h"
#include "base/err.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/templates.h"

enum { NEIGHBOURS_MAX = 3 };

/* A car to compare with: the leader, the one ahead, the one behind. */
struct card_neighbour {
    const char *name; /* what it is to the car */
    int64_t number;
    struct markup crew;
    struct markup gap;
    struct address card;
    struct address compare;
    struct gap behind;
};

struct card_content {
    int64_t number;
    struct markup crew;
    const char *make;
    const char *model;
    int64_t year;
    const char *team;
    struct markup state;
    int64_t place; /* 0: none */
    bool equal;
    const char *status;
    struct markup penalty;
    int64_t fails;
    const char *era;
    int64_t era_place;
    struct template_rows neighbours;
    bool open; /* something is */
    int64_t awaiting;
    int64_t doubtful;
    struct markup picture;
    struct markup tests;
    bool adjusted; /* the sums of days are not what the total is made of */
    struct markup days;
    struct markup total;
    struct markup rulings;
    struct address cases;
    struct markup form; /* what a copy of the site cannot take is left out there */
};

static const struct template_hole neighbour_holes[] = {
    TEMPLATE_HOLE(struct card_neighbour, name),
    TEMPLATE_HOLE(struct card_neighbour, number),
    TEMPLATE_HOLE(struct card_neighbour, crew),
    TEMPLATE_HOLE(struct card_neighbour, gap),
    TEMPLATE_HOLE(struct card_neighbour, card),
    TEMPLATE_HOLE(struct card_neighbour, compare),
    {0}};

static const struct template_hole card_holes[] = {
    TEMPLATE_HOLE(struct card_content, number),
    TEMPLATE_HOLE(struct card_content, crew),
    TEMPLATE_HOLE(struct card_content, make),
    TEMPLATE_HOLE(struct card_content, model),
    TEMPLATE_HOLE(struct card_content, year),
    TEMPLATE_HOLE(struct card_content, team),
    TEMPLATE_HOLE(struct card_content, state),
    TEMPLATE_HOLE(struct card_content, place),
    TEMPLATE_HOLE(struct card_content, equal),
    TEMPLATE_HOLE(struct card_content, status),
    TEMPLATE_HOLE(struct card_content, penalty),
    TEMPLATE_HOLE(struct card_content, fails),
    TEMPLATE_HOLE(struct card_content, era),
    TEMPLATE_HOLE(struct card_content, era_place),
    TEMPLATE_EACH(struct card_content, neighbours, neighbour_holes),
    TEMPLATE_HOLE(struct card_content, open),
    TEMPLATE_HOLE(struct card_content, awaiting),
    TEMPLATE_HOLE(struct card_content, doubtful),
    TEMPLATE_HOLE(struct card_content, picture),
    TEMPLATE_HOLE(struct card_content, tests),
    TEMPLATE_HOLE(struct card_content, adjusted),
    TEMPLATE_HOLE(struct card_content, days),
    TEMPLATE_HOLE(struct card_content, total),
    TEMPLATE_HOLE(struct card_content, rulings),
    TEMPLATE_HOLE(struct card_content, cases),
    TEMPLATE_HOLE(struct card_content, form),
    {0}};

struct template card_template = {.file = "web/board/templates/card.html", .holes = card_holes};

/* The gap to a neighbour in the standings, with links to it and to both side by side. */
static void fill_neighbour(struct page *p, const struct card *card, int other, const char *key,
                           struct card_neighbour *out) {
    const struct tally *mine = &card->s->cars[card->car].tally[BASIS_CORRECTED];
    const struct tally *theirs = &card->s->cars[other].tally[BASIS_CORRECTED];
    const struct entry *entries = p->event->entries->list;
    int number = entries[other].number;
    *out = (struct card_neighbour){
        .name = said(p, key),
        .number = number,
        .crew = crew_markup(&entries[other]),
        .gap = gap_markup(&out->behind),
        .card = page_address(p, "cars/%d", number),
        .compare = page_address(p, "compare?cars=%d,%d", entries[card->car].number, number),
        .behind = {abs(mine->fails - theirs->fails), llabs(mine->total - theirs->total)},
    };
}

/* Returns how many there are. */
static int list_neighbours(struct page *p, const struct card *card,
                           struct card_neighbour out[NEIGHBOURS_MAX]) {
    const struct scores *s = card->s;
    int place = 0;
    int count = 0;
    if (s->cars[card->car].position == 0)
        return 0;
    while (s->order[place] != card->car)
        place++;
    if (place > 1)
        fill_neighbour(p, card, s->order[0], "to-leader", &out[count++]);
    if (place > 0)
        fill_neighbour(p, card, s->order[place - 1], "to-ahead", &out[count++]);
    if (place + 1 < s->placed)
        fill_neighbour(p, card, s->order[place + 1], "to-behind", &out[count++]);
    return count;
}

static void write_card(struct page *p, struct card *card) {
    struct card_neighbour neighbours[NEIGHBOURS_MAX];
    const struct entry *e = &p->event->entries->list[card->car];
    const struct car_score *score = &card->s->cars[card->car];
    const struct tally *tally = &score->tally[BASIS_CORRECTED];
    const struct scoring *scoring = &p->rules->scoring;
    struct textbuf *era = request_text(p->r);
    rules_class_id(p->rules, e->class_index, era);
    p->m.failed = p->m.failed || era->failed;
    struct card_content content = {
        .number = e->number,
        .crew = crew_markup(e),
        .make = e->make,
        .model = e->model,
        .year = e->year,
        .team = scoring->teams_by_club ? e->club : e->team,
        .state = page_state_line(),
        .place = score->position,
        .equal = score->equal,
        .status = said(p, status_word(score->status)),
        .penalty = penalty_markup(&tally->total),
        .fails = tally->fails,
        .era = textbuf_text(era),
        .era_place = score->class_position,
        .neighbours = TEMPLATE_ROWS_OF(neighbours, list_neighbours(p, card, neighbours)),
        .open = score->awaiting > 0 || score->doubtful > 0,
        .awaiting = score->awaiting,
        .doubtful = score->doubtful,
        .picture = card_picture(p, card),
        .tests = {card_put_tests, card},
        .adjusted = scoring->drop_count > 0 || scoring->has_coefficient,
        .days = {card_put_days, card},
        .total = {card_put_total, card},
        .rulings = card_rulings_table(p, card),
        .cases = page_address(p, "cars/%d/enquiries#cases", e->number),
    };
    if (!page_is_copy(p))
        content.form = enquiry_form_markup(&card->car);
    template_write(p, &card_template, &content);
}

static void clear_sheet(void *sheet) {
    score_sheet_clear(sheet);
}

unsigned page_card(struct request *r, struct textbuf *b) {
    struct shown_scores s = {0};
    struct page p;
    int car = -1;
    int after = -1;
    unsigned status = request_car(r, &car);
    if (status == 0)
        status = request_after(r, &after);
    if (status != 0)
        return status;
    struct score_sheet *sheet = request_value(r, sizeof *sheet, clear_sheet);
    int err = sheet == NULL ? ERR_NOMEM : request_scores(r, after, &s);
    page_begin(&p, r, err == ERR_OK ? s.view : r->results->view);
    if (err == ERR_OK)
        err = scores_sheet(s.scores, car, sheet);
    if (err != ERR_OK)
        return page_give_up(&p);
    int number = p.event->entries->list[car].number;
    write_card(&p, &(struct card){.s = s.scores, .sheet = sheet, .car = car});
    return page_finish(
        &p, b,
        &(struct page_frame){.title = page_text(&p, "%s %d", said(&p, "car-title"), number),
                             .downloads = page_text(&p, "cars/%d", number),
                             .csv = true,
                             .sends = !page_is_copy(&p)});
}
