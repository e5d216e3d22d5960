/* SPDX-License-Identifier: MIT */
#include "office/check_rules.h"

#include "base/problem.h"
#include "base/textbuf.h"
#include "event/kind.h"
#include "office/event_doubt.h"
#include "scoring/kinds/regularity.h"

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
static void check_item(const struct item *item, struct value_place at, int64_t inherited,
                       struct problems *problems) {
    if (has_no_early_side(item->kind) && item->rule.early_limit != TIME_NONE &&
        item->rule.early_limit != inherited)
        event_doubt_at(problems, at, ".penalty.early_limit", nothing_early);
    if (item->kind == KIND_REGULARITY && regularity_of(item)->ideals_down &&
        all_ideals_are_given(regularity_of(item)))
        event_doubt_at(problems, at, ".ideals",
                       "takes nothing down: every check has a given ideal, which is used as it is");
}

void check_rules(const struct rules *rules, struct problems *problems) {
    struct textbuf part = {0};
    for (int kind = 0; kind < KIND_COUNT; kind++) {
        if (!has_no_early_side((enum kind_id)kind) ||
            rules->scoring.defaults[kind].early_limit == TIME_NONE)
            continue;
        textbuf_reset(&part);
        textbuf_printf(&part, ".%s.early_limit", kind_name((enum kind_id)kind));
        event_doubt(problems, "scoring.defaults", -1, textbuf_text(&part), nothing_early);
    }
    problems->out_of_memory = problems->out_of_memory || part.failed;
    textbuf_clear(&part);
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        check_item(item, (struct value_place){i, -1},
                   rules->scoring.defaults[item->kind].early_limit, problems);
        for (int line = 0; line < item->variant_count; line++) {
            if (item->variants[line].item != NULL)
                check_item(item->variants[line].item, (struct value_place){i, line},
                           item->rule.early_limit, problems);
        }
    }
}
