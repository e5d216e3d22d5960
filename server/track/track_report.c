/* SPDX-License-Identifier: MIT */
/* What the clerk reads of a car's track. */
#include <math.h>
#include <stdlib.h>
#include <time.h>

#include "base/decimal.h"
#include "base/textbuf.h"
#include "base/times.h"
#include "office/check.h"
#include "track/car_track.h"

static void write_clock(struct textbuf *b, int64_t ms, bool with_date) {
    struct tm local;
    char text[40];
    time_t seconds = (time_t)(ms / 1000);
    if (localtime_r(&seconds, &local) != NULL &&
        strftime(text, sizeof text, with_date ? "%Y-%m-%d %H:%M:%S" : "%H:%M:%S", &local) > 0)
        textbuf_puts(b, text);
}

static void write_seconds(struct textbuf *b, int64_t ms) {
    int64_t tenths = (ms + 99) / 100;
    textbuf_printf(b, "%lld.%lld s", (long long)(tenths / 10), (long long)(tenths % 10));
}

static void write_passage(struct textbuf *b, const struct car_track *t,
                          const struct point_track *at) {
    const struct passage *one = at->passage;
    bool miles = t->event->rules->miles;
    write_clock(b, one->ms, false);
    textbuf_printf(b, ".%d ± ", (int)(one->ms % 1000 / 100));
    write_seconds(b, one->uncertainty);
    textbuf_printf(b, ", %lld %s", llround(one->speed * (miles ? 2.236936292 : 3.6)),
                   miles ? "mph" : "km/h");
    if (one->stood > 0) {
        textbuf_puts(b, ", stood on the line for ");
        write_seconds(b, one->stood);
    }
    if (at->others > 0) {
        textbuf_printf(b, "; passed %zu time%s more, first at ", at->others,
                       at->others == 1 ? "" : "s");
        write_clock(b, at->other->ms, false);
    }
}

static void write_absence(struct textbuf *b, const struct line_passages *of,
                          const struct point_track *at) {
    if (at->wrong != NULL) {
        textbuf_puts(b, "not passed");
    } else if (of->in_gap) {
        textbuf_puts(b, "perhaps passed in a gap of the track, ");
        write_clock(b, of->gap.from, false);
        textbuf_puts(b, " to ");
        write_clock(b, of->gap.to, false);
    } else if (at->turned != NULL) {
        textbuf_puts(b, "came to the line and turned back at ");
        write_clock(b, at->turned->ms, false);
    } else if (of->nearest >= 0) {
        textbuf_printf(b, "not passed; nearest at ");
        write_clock(b, of->nearest_ms, true);
        textbuf_printf(b, ", %lld m away", llround(of->nearest));
    } else {
        textbuf_puts(b, "not passed; never near");
    }
}

/* The average on the track between two passages. */
static void write_average(struct textbuf *b, const struct car_track *t, int from, int to) {
    const struct rules *rules = t->event->rules;
    const struct passage *a = t->at[from].passage;
    const struct passage *c = t->at[to].passage;
    double metres = c->driven - a->driven;
    int64_t ms = c->ms - a->ms;
    if (ms <= 0 || metres <= 0)
        return;
    int64_t distance = llround(metres * (rules->miles ? 1 / 1.609344 : 1));
    textbuf_printf(b, "    from %s ", rules->points[from].id);
    decimal_write_short(b, distance);
    textbuf_printf(b, " %s in ", rules_unit(rules));
    duration_write_words(b, (ms + 500) / 1000 * 1000);
    textbuf_puts(b, ", ");
    int64_t tenths = llround((double)distance * 36000 / (double)ms);
    textbuf_printf(b, "%lld.%lld %s", (long long)(tenths / 10), (long long)(tenths % 10),
                   rules->miles ? "mph" : "km/h");
    if (check_is_too_fast(rules, distance, ms))
        textbuf_puts(b, ": doubt: above the published limit");
    textbuf_putc(b, '\n');
}

static void write_gaps(struct textbuf *b, const struct passages *found) {
    for (size_t i = 0; i < found->gap_count && i < GAPS_KEPT; i++) {
        textbuf_puts(b, "  gap ");
        write_clock(b, found->gaps[i].from, true);
        textbuf_puts(b, " to ");
        write_clock(b, found->gaps[i].to, true);
        textbuf_putc(b, '\n');
    }
    if (found->gap_count > GAPS_KEPT)
        textbuf_printf(b, "  and %zu more gaps\n", found->gap_count - GAPS_KEPT);
}

void car_track_report(const struct car_track *t, struct textbuf *b) {
    const struct rules *rules = t->event->rules;
    int last = -1;
    int day = -1;
    textbuf_printf(b, "car %d: %zu fixes", t->event->entries->list[t->car].number, t->found->fixes);
    if (t->found->fixes > 0) {
        textbuf_puts(b, ", ");
        write_clock(b, t->found->first, true);
        textbuf_puts(b, " to ");
        write_clock(b, t->found->last, true);
    }
    textbuf_putc(b, '\n');
    for (int p = 0; p < rules->point_count; p++) {
        const struct point_track *at = &t->at[p];
        if (!car_track_is_passed(t, p))
            continue;
        if (rules->items[rules->points[p].item].day != day) {
            day = rules->items[rules->points[p].item].day;
            last = -1;
        }
        textbuf_printf(b, "  %s: ", rules->points[p].id);
        if (at->passage != NULL)
            write_passage(b, t, at);
        else
            write_absence(b, &t->found->of[t->lines->of_point[p]], at);
        if (at->wrong != NULL) {
            textbuf_puts(b, "; the wrong way at ");
            write_clock(b, at->wrong->ms, false);
        }
        textbuf_putc(b, '\n');
        if (at->passage != NULL && last >= 0)
            write_average(b, t, last, p);
        if (at->passage != NULL)
            last = p;
    }
    if (t->passages > 0 && t->on_days == 0)
        textbuf_puts(b,
                     "  doubt: all passages are on other days than the event's: is the receiver's "
                     "date right?\n");
    write_gaps(b, t->found);
}
