/* SPDX-License-Identifier: MIT */
#include "office/check_rules.h"

#include "base/problem.h"
#include "base/textbuf.h"
#include "event/kind.h"
#include "scoring/kinds/regularity.h"

static void doubt(struct problems *problems, const struct textbuf *place, const char *text) {
    problems_add_at(problems, PROBLEM_DOUBT, textbuf_text(place), text);
    problems->out_of_memory = problems->out_of_memory || place->failed;
}

/* True where no deviation is ever early. */
static bool has_no_early_side(enum kind_id kind) {
    return kind == KIND_SPECIAL_TEST || kind == KIND_PASSAGE_CONTROL;
}

static const char nothing_early[] =
    "never holds: nothing is early there. Leave it out, or limit a control, a check, a pad or a "
    "lap";

static bool all_ideals_are_given(const struct regularity *own) {
    for (int i = 0; i < own->timed.count; i++) {
        if (own->checks[i].ideal == TIME_NONE && own->checks[i].at >= 0)
            return false;
    }
    return true;
}

/* An item, or a copy of it with other values.
 *   inherited  the early_limit that it has from elsewhere */
static void check_item(const struct item *item, int64_t inherited, const char *line,
                       struct problems *problems) {
    struct textbuf place = {0};
    if (has_no_early_side(item->kind) && item->rule.early_limit != TIME_NONE &&
        item->rule.early_limit != inherited) {
        textbuf_printf(&place, "event.json: route[%d]%s.penalty.early_limit", item->place, line);
        doubt(problems, &place, nothing_early);
    }
    if (item->kind == KIND_REGULARITY && regularity_of(item)->ideals_down &&
        all_ideals_are_given(regularity_of(item))) {
        textbuf_reset(&place);
        textbuf_printf(&place, "event.json: route[%d]%s.ideals", item->place, line);
        doubt(problems, &place,
              "takes nothing down: every check has a given ideal, which is used as it is");
    }
    textbuf_clear(&place);
}

void check_rules(const struct rules *rules, struct problems *problems) {
    struct textbuf text = {0};
    for (int kind = 0; kind < KIND_COUNT; kind++) {
        if (!has_no_early_side((enum kind_id)kind) ||
            rules->scoring.defaults[kind].early_limit == TIME_NONE)
            continue;
        textbuf_reset(&text);
        textbuf_printf(&text, "event.json: scoring.defaults.%s.early_limit",
                       kind_name((enum kind_id)kind));
        doubt(problems, &text, nothing_early);
    }
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        check_item(item, rules->scoring.defaults[item->kind].early_limit, "", problems);
        for (int line = 0; line < item->variant_count; line++) {
            if (item->variants[line].item == NULL)
                continue;
            textbuf_reset(&text);
            textbuf_printf(&text, ".for[%d]", line);
            check_item(item->variants[line].item, item->rule.early_limit, textbuf_text(&text),
                       problems);
        }
    }
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}
