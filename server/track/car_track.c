/* SPDX-License-Identifier: MIT */
#include "track/car_track.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "base/times.h"
#include "event/car_route.h"
#include "event/gate.h"
#include "format/csv.h"

enum { HOUR_MS = 3600000, BEFORE_START_MS = 2 * HOUR_MS, DAY_END_MS = 48 * HOUR_MS };

void track_lines_clear(struct track_lines *lines) {
    free(lines->list);
    free(lines->of_point);
    *lines = (struct track_lines){0};
}

static bool is_same(const struct gate *a, const struct gate *b) {
    return a->lat == b->lat && a->lon == b->lon && a->heading == b->heading && a->width == b->width;
}

int track_lines_make(const struct rules *rules, struct track_lines *out) {
    size_t points = (size_t)rules->point_count;
    *out = (struct track_lines){0};
    out->list = calloc(points + 1, sizeof *out->list);
    out->of_point = calloc(points + 1, sizeof *out->of_point);
    if (out->list == NULL || out->of_point == NULL) {
        track_lines_clear(out);
        return ERR_NOMEM;
    }
    for (int p = 0; p < rules->point_count; p++) {
        const struct gate *gate = rules->points[p].gate;
        out->of_point[p] = -1;
        if (gate == NULL)
            continue;
        for (int other = 0; other < p && out->of_point[p] < 0; other++) {
            if (rules->points[other].gate != NULL && is_same(gate, rules->points[other].gate))
                out->of_point[p] = out->of_point[other];
        }
        if (out->of_point[p] >= 0)
            continue;
        out->of_point[p] = (int)out->count;
        out->list[out->count++] =
            (struct passage_line){.lat = (double)gate->lat / (double)GATE_DEGREE,
                                  .lon = (double)gate->lon / (double)GATE_DEGREE,
                                  .heading = (double)gate->heading / 1000,
                                  .half = (double)gate->width / 2000};
    }
    return ERR_OK;
}

/* A moment as a time of day, counted from the midnight of a day of the event. */
static int64_t time_of_day(const struct rules *rules, int day, int64_t ms) {
    struct tm local;
    int64_t date = 0;
    time_t seconds = (time_t)(ms / 1000 - (ms % 1000 < 0));
    if (localtime_r(&seconds, &local) == NULL || date_parse(rules->days[day].date, &date) != ERR_OK)
        return TIME_NONE;
    int64_t within = ms - (int64_t)seconds * 1000;
    int64_t clock =
        ((int64_t)local.tm_hour * 3600 + (int64_t)local.tm_min * 60 + local.tm_sec) * 1000 + within;
    struct tm midnight = {
        .tm_year = local.tm_year, .tm_mon = local.tm_mon, .tm_mday = local.tm_mday};
    return ((int64_t)timegm(&midnight) / 86400 - date) * DAY_MS + clock;
}

/* True where a time of day belongs to that day of the event and not to the next. */
static bool is_of_day(const struct rules *rules, int day, int64_t time) {
    int64_t end = DAY_END_MS;
    int64_t date = 0;
    int64_t next = 0;
    if (time == TIME_NONE || time < 0 || time < rules->days[day].first_start - BEFORE_START_MS)
        return false;
    if (day + 1 < rules->day_count && date_parse(rules->days[day].date, &date) == ERR_OK &&
        date_parse(rules->days[day + 1].date, &next) == ERR_OK) {
        int64_t start = (next - date) * DAY_MS + rules->days[day + 1].first_start - BEFORE_START_MS;
        end = start < end ? start : end;
    }
    return time < end;
}

bool car_track_is_passed(const struct car_track *t, int p) {
    return t->lines->of_point[p] >= 0 && t->event->rules->points[p].role != POINT_NOMINATED &&
           car_point_is_on(t->event, t->car, p);
}

/* How many points of the car's day stand on the line of `p`, up to it or in all. */
static size_t points_on_line(const struct car_track *t, int p, bool all) {
    const struct rules *rules = t->event->rules;
    size_t count = 0;
    for (int other = 0; other < (all ? rules->point_count : p); other++) {
        if (car_track_is_passed(t, other) && t->lines->of_point[other] == t->lines->of_point[p] &&
            rules->items[rules->points[other].item].day == rules->items[rules->points[p].item].day)
            count++;
    }
    return count;
}

static void assign_point(struct car_track *t, int p) {
    const struct rules *rules = t->event->rules;
    const struct line_passages *of = &t->found->of[t->lines->of_point[p]];
    struct point_track *at = &t->at[p];
    int day = rules->items[rules->points[p].item].day;
    size_t before = points_on_line(t, p, false);
    size_t all = points_on_line(t, p, true);
    size_t right = 0;
    for (size_t i = 0; i < of->kept; i++) {
        const struct passage *one = &of->list[i];
        if (!is_of_day(rules, day, time_of_day(rules, day, one->ms)))
            continue;
        t->on_days++;
        if (one->way == PASSAGE_WRONG_WAY && at->wrong == NULL)
            at->wrong = one;
        if (one->way == PASSAGE_TURNED_BACK && at->turned == NULL)
            at->turned = one;
        if (one->way != PASSAGE_RIGHT)
            continue;
        if (right == before)
            at->passage = one;
        if (right == all)
            at->other = one;
        right++;
    }
    at->others = right > all ? right - all : 0;
}

int car_track_assign(struct car_track *t) {
    const struct rules *rules = t->event->rules;
    t->at = calloc((size_t)rules->point_count + 1, sizeof *t->at);
    if (t->at == NULL)
        return ERR_NOMEM;
    t->on_days = t->passages = 0;
    for (size_t i = 0; i < t->lines->count; i++)
        t->passages += t->found->of[i].count;
    for (int p = 0; p < rules->point_count; p++) {
        if (car_track_is_passed(t, p))
            assign_point(t, p);
    }
    return ERR_OK;
}

/* ---- the readings ---- */

static void write_tenths(struct textbuf *b, double value) {
    int64_t tenths = llround(value * 10);
    textbuf_printf(b, "%s%lld.%lld", tenths < 0 ? "-" : "", (long long)(llabs(tenths) / 10),
                   (long long)(llabs(tenths) % 10));
}

static void write_instant(struct textbuf *b, int64_t ms) {
    struct tm utc;
    char text[40];
    time_t seconds = (time_t)(ms / 1000);
    if (gmtime_r(&seconds, &utc) == NULL ||
        strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%S", &utc) == 0)
        return;
    textbuf_printf(b, "%s.%03dZ", text, (int)(ms % 1000));
}

/* Slower than walking, and what a clerk should look at. */
static bool is_slow(const struct passage *one) {
    return one->uncertainty > 10000;
}

void car_track_csv_head(struct textbuf *b) {
    textbuf_puts(b, "point,car,time,at,by,flags,uncertainty_ms,source,track,speed,beside\n");
}

void car_track_csv(const struct car_track *t, struct textbuf *b) {
    const struct rules *rules = t->event->rules;
    const char *unit = rules->miles ? "mph" : "km/h";
    for (int p = 0; p < rules->point_count; p++) {
        const struct point_track *at = &t->at[p];
        const struct passage *one = at->passage;
        if (one == NULL)
            continue;
        textbuf_printf(b, "%s,%d,", rules->points[p].id, t->event->entries->list[t->car].number);
        time_write(b, time_of_day(rules, rules->items[rules->points[p].item].day, one->ms), 3);
        textbuf_putc(b, ',');
        write_instant(b, one->ms);
        textbuf_printf(b, ",track,track%s%s%s,%lld,track,", at->others > 0 ? " twice" : "",
                       at->wrong != NULL ? " wrong-way" : "", is_slow(one) ? " slow" : "",
                       (long long)one->uncertainty);
        const char *slash = strrchr(t->files[one->file], '/');
        struct textbuf evidence = {0};
        textbuf_printf(&evidence, "%s:%ld", slash == NULL ? t->files[one->file] : slash + 1,
                       one->line);
        csv_write_field(b, textbuf_text(&evidence));
        b->failed = b->failed || evidence.failed;
        textbuf_clear(&evidence);
        textbuf_putc(b, ',');
        write_tenths(b, one->speed * (rules->miles ? 2.236936292 : 3.6));
        textbuf_printf(b, " %s,", unit);
        write_tenths(b, one->beside);
        textbuf_puts(b, " m\n");
    }
}
