/* SPDX-License-Identifier: MIT */
/* Memory out at each place that asks for it while changes are written: that is told, and never a
 * text that leaves out what changed. */
#include "event/document_changes.h"

#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "failing_memory.h"
#include "testing.h"

static const struct change {
    enum document document;
    const char *before, *now, *expected;
} changes[] = {
    {DOCUMENT_ENTRIES, "number,driver,year\n1,A,1929\n2,C,1930\n",
     "number,driver,year\n1,B,1929\n3,H,1932\n",
     "car 1: driver A → B\ncar 3 is new: H, 1932\ncar 2 is gone: C, 1930\n"},
    {DOCUMENT_STARTS, "day,car,time\n1,5,08:05\n2,5,09:05\n", "day,car,time\n2,5,09:07\n",
     "day 2, car 5: time 09:05 → 09:07\nday 1, car 5 is gone: 08:05\n"},
    {DOCUMENT_RULES,
     "{\"scoring\": {\"old\": [1, 2.50]}, \"route\": [{\"id\": \"TC1\", \"target\": \"00:45\"}]}",
     "{\"scoring\": {\"cap\": {\"late\": 2}}, \"route\": [{\"id\": \"TC1\", \"target\": \"00:50\"}]}",
     "scoring.cap: new, {\"late\":2}\nscoring.old: gone, was [1,2.50]\n"
     "route[TC1].target: 00:45 → 00:50\n"},
};

/* How often memory was refused, until no place was left that none of the documents before it has.
 */
static int refusals_of(const struct change *c) {
    for (int refused = 0;; refused++) {
        struct textbuf b = {0};
        memory_refuses_a_new_place();
        int err = document_changes(c->document, c->before, c->now, "", &b);
        memory_is_back();
        if (memory_was_refused() && err != ERR_NOMEM)
            fail_msg("document %d: request refused at place %d gave %d, “%s”", (int)c->document,
                     refused, err, textbuf_text(&b));
        if (!memory_was_refused()) {
            assert_int_equal(err, ERR_OK);
            assert_string_equal(textbuf_text(&b), c->expected);
            textbuf_clear(&b);
            return refused;
        }
        textbuf_clear(&b);
    }
}

static void changes_that_cannot_be_written_are_told_as_out_of_memory(void **state) {
    int refused = 0;
    (void)state;
    for (size_t i = 0; i < sizeof changes / sizeof *changes; i++)
        refused += refusals_of(&changes[i]);
    assert_true(refused >= 15);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(changes_that_cannot_be_written_are_told_as_out_of_memory),
    };
    RUN_BEHAVIOURS(tests);
}
