/* SPDX-License-Identifier: MIT */
/* Passage controls: the car was here, or it was not. */
#include "event/kind.h"
#include "event/route.h"
#include "scoring/explain.h"
#include "scoring/score_sheet.h"

static const char *const keys[] = {NULL};

static int lay_out(struct rules *rules, int item) {
    return route_add_point(rules, item, POINT_PASSAGE, 0, NULL, SCORED_AS_POINT);
}

static void score(struct score_sheet *sheet, const struct item *item) {
    struct scored_point *sp = score_sheet_scored(sheet, item, 0);
    sp->reading = sheet->counted[item->first_point];
    if (sp->reading == NULL) {
        scored_point_lacks(sp, CAUSE_NO_READING, sheet->view->open[item->first_point]);
    } else if (sp->reading->time != TIME_NONE) {
        sp->actual = time_truncate(sp->reading->time, item->rule.precision);
    }
    score_sheet_assess(sheet, item, sp);
}

static void explain(struct textbuf *b, const struct explain_context *context,
                    const struct scored_point *sp) {
    (void)context;
    if (sp->reading == NULL)
        return;
    textbuf_puts(b, "Seen");
    if (sp->reading->time != TIME_NONE) {
        textbuf_puts(b, " at ");
        time_write_short(b, sp->reading->time);
    }
    textbuf_puts(b, ". ");
}

const struct kind kind_passage_control = {
    .name = "passage-control",
    .words = "passage control",
    .may_hide = true,
    .keys = keys,
    .lay_out = lay_out,
    .score = score,
    .explain = explain,
};
