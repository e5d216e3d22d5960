/* SPDX-License-Identifier: MIT */
#include "track/passages.h"

#include <math.h>
#include <stdlib.h>

#include "base/array.h"
#include "base/err.h"
#include "base/textbuf.h"
#include "system/geodesic_library.h"

/* WGS 84. */
#define EQUATOR_M 6378137.0
#define FLATTENING (1 / 298.257223563)
/* A degree of latitude is never shorter. */
#define DEGREE_M 110500.0
#define RADIANS (3.14159265358979323846 / 180)
/* How far around a line fixes are looked at, metres. */
#define COURT_M 500.0
/* A road car that brakes or accelerates hard, metres a second squared (common practice). */
#define ACCELERATION 4.0
#define SPEED_LEAST 0.05
#define UNCERTAINTY_MAX 3600000.0

/* A fix as seen from a line: metres in its heading and to its right. */
struct seen {
    double along, beside, distance;
};

/* A line and the passage that is under way there. */
struct watch {
    double lat_margin, lon_margin; /* degrees around its middle that are looked at */
    double sin_heading, cos_heading;
    bool held; /* `before` is the search's last fix */
    struct seen before;
    bool open;
    bool from_behind;
    int64_t first, last; /* crossings */
    struct passage passage;
};

struct passage_search {
    const struct geodesic_library *geodesic;
    struct geod_geodesic earth;
    struct passage_options options;
    const struct passage_line *lines;
    size_t count;
    struct watch *watches;
    struct passages found;
    bool any;
    bool out_of_memory;
    struct track_fix last;
};

void passages_free(struct passage_search *s) {
    if (s == NULL)
        return;
    for (size_t i = 0; s->found.of != NULL && i < s->count; i++)
        free(s->found.of[i].list);
    free(s->found.of);
    free(s->watches);
    free(s);
}

int passages_new(const struct passage_line *lines, size_t count,
                 const struct passage_options *options, struct passage_search **out,
                 struct textbuf *why) {
    const struct geodesic_library *geodesic = geodesic_library(why);
    *out = NULL;
    if (geodesic == NULL)
        return ERR_IO;
    struct passage_search *s = calloc(1, sizeof *s);
    if (s == NULL)
        return ERR_NOMEM;
    s->geodesic = geodesic;
    s->options = *options;
    s->lines = lines;
    s->count = count;
    s->watches = calloc(count + 1, sizeof *s->watches);
    s->found.of = calloc(count + 1, sizeof *s->found.of);
    if (s->watches == NULL || s->found.of == NULL) {
        passages_free(s);
        return ERR_NOMEM;
    }
    geodesic->geod_init(&s->earth, EQUATOR_M, FLATTENING);
    for (size_t i = 0; i < count; i++) {
        struct watch *w = &s->watches[i];
        double wide = lines[i].half + COURT_M;
        double shrink = cos(fmin(fabs(lines[i].lat) + 0.1, 89.9) * RADIANS);
        w->lat_margin = wide / DEGREE_M;
        w->lon_margin = wide / (DEGREE_M * shrink);
        w->sin_heading = sin(lines[i].heading * RADIANS);
        w->cos_heading = cos(lines[i].heading * RADIANS);
        s->found.of[i].nearest = -1;
    }
    *out = s;
    return ERR_OK;
}

static struct seen see(const struct passage_search *s, size_t line, double lat, double lon) {
    const struct passage_line *l = &s->lines[line];
    const struct watch *w = &s->watches[line];
    double distance = 0;
    double azimuth = 0;
    s->geodesic->geod_inverse(&s->earth, l->lat, l->lon, lat, lon, &distance, &azimuth, NULL);
    double north = distance * cos(azimuth * RADIANS);
    double east = distance * sin(azimuth * RADIANS);
    return (struct seen){.along = north * w->cos_heading + east * w->sin_heading,
                         .beside = east * w->cos_heading - north * w->sin_heading,
                         .distance = distance};
}

/* Whether any of the way between two fixes may be near a line. */
static bool is_near(const struct passage_search *s, size_t line, const struct track_fix *a,
                    const struct track_fix *b) {
    const struct passage_line *l = &s->lines[line];
    const struct watch *w = &s->watches[line];
    double low = a->lat < b->lat ? a->lat : b->lat;
    double high = a->lat < b->lat ? b->lat : a->lat;
    if (low > l->lat + w->lat_margin || high < l->lat - w->lat_margin)
        return false;
    double x = remainder(a->lon - l->lon, 360);
    double y = x + remainder(b->lon - a->lon, 360);
    return fmin(x, y) <= w->lon_margin && fmax(x, y) >= -w->lon_margin;
}

/* Where the geodesic between two fixes crosses the line: the share of the way, and what is seen
 * there. `a` and `b` are on either side. */
static double find_crossing(const struct passage_search *s, size_t line, const struct track_fix *a,
                            const struct track_fix *b, struct seen from, struct seen to,
                            struct seen *at) {
    struct geod_geodesicline way;
    double low = 0;
    double high = 1;
    double share = 0;
    s->geodesic->geod_inverseline(&way, &s->earth, a->lat, a->lon, b->lat, b->lon, 0);
    for (int i = 0; i < 20; i++) {
        double lat = 0;
        double lon = 0;
        share = low + (high - low) * from.along / (from.along - to.along);
        s->geodesic->geod_position(&way, share * way.s13, &lat, &lon, NULL);
        *at = see(s, line, lat, lon);
        if (fabs(at->along) < 0.0001)
            break;
        if ((at->along < 0) == (from.along < 0)) {
            low = share;
            from = *at;
        } else {
            high = share;
            to = *at;
        }
    }
    return share;
}

static void note_crossing(struct passage_search *s, size_t line, const struct track_fix *fix,
                          struct seen from, struct seen to, double length, int file) {
    struct watch *w = &s->watches[line];
    struct seen at = from;
    double seconds = (double)(fix->ms - s->last.ms) / 1000;
    double share = find_crossing(s, line, &s->last, fix, from, to, &at);
    if (fabs(at.beside) > s->lines[line].half)
        return;
    double speed = fabs(to.along - from.along) / seconds;
    double slow = fmax(speed, SPEED_LEAST);
    double moved = ACCELERATION * seconds * seconds / 8;
    double room = 1000 * hypot(s->options.error, moved) / slow;
    int64_t ms = s->last.ms + (int64_t)llround(share * seconds * 1000);
    int64_t uncertainty = (int64_t)ceil(fmin(room, UNCERTAINTY_MAX));
    w->last = ms;
    if (w->open) {
        if (uncertainty > w->passage.uncertainty)
            w->passage.uncertainty = uncertainty;
        return;
    }
    w->open = true;
    w->from_behind = from.along < 0;
    w->first = ms;
    w->passage = (struct passage){.uncertainty = uncertainty,
                                  .speed = speed,
                                  .beside = at.beside,
                                  .driven = s->found.driven + share * length,
                                  .line = fix->line,
                                  .file = file};
}

/* Ends the passage under way. `beyond`: the car is on the far side. */
static void close_passage(struct passage_search *s, size_t line, bool beyond) {
    struct watch *w = &s->watches[line];
    struct line_passages *of = &s->found.of[line];
    if (!w->open)
        return;
    w->open = false;
    struct passage *p = &w->passage;
    p->way = beyond == !w->from_behind ? PASSAGE_TURNED_BACK
             : beyond                  ? PASSAGE_RIGHT
                                       : PASSAGE_WRONG_WAY;
    p->stood = w->last - w->first;
    p->ms = w->first + p->stood / 2;
    p->uncertainty += (p->stood + 1) / 2;
    of->count++;
    if (of->kept == PASSAGES_KEPT)
        return;
    struct passage *list = array_reserve(of->list, &of->cap, of->kept + 1, sizeof *list);
    if (list == NULL) {
        s->out_of_memory = true;
        return;
    }
    of->list = list;
    list[of->kept++] = *p;
}

/* What is not driven on between two fixes: a gap, a file that ends, a clock that goes back. */
static void watch_break(struct passage_search *s, size_t line, const struct track_fix *fix,
                        bool gap) {
    struct watch *w = &s->watches[line];
    struct line_passages *of = &s->found.of[line];
    if (w->open)
        close_passage(s, line, w->held && w->before.along >= 0);
    w->held = false;
    if (!gap || of->in_gap)
        return;
    of->in_gap = true;
    of->gap = (struct track_gap){s->last.ms, fix->ms};
}

static void watch_way(struct passage_search *s, size_t line, const struct track_fix *fix,
                      double length, int file) {
    struct watch *w = &s->watches[line];
    struct line_passages *of = &s->found.of[line];
    struct seen from = w->held ? w->before : see(s, line, s->last.lat, s->last.lon);
    struct seen to = see(s, line, fix->lat, fix->lon);
    if (to.distance <= COURT_M && (of->nearest < 0 || to.distance < of->nearest)) {
        of->nearest = to.distance;
        of->nearest_ms = fix->ms;
    }
    if ((from.along < 0) != (to.along < 0))
        note_crossing(s, line, fix, from, to, length, file);
    w->before = to;
    w->held = true;
    if (fabs(to.along) > s->options.error || fabs(to.beside) > s->lines[line].half)
        close_passage(s, line, to.along >= 0);
}

static void note_gap(struct passage_search *s, const struct track_fix *fix) {
    if (s->found.gap_count < GAPS_KEPT)
        s->found.gaps[s->found.gap_count] = (struct track_gap){s->last.ms, fix->ms};
    s->found.gap_count++;
}

int passages_take(struct passage_search *s, const struct track_fix *fix, int file) {
    bool follows = s->any && fix->follows;
    bool gap = follows && fix->ms - s->last.ms > s->options.gap_ms;
    double length = 0;
    if (follows)
        s->geodesic->geod_inverse(&s->earth, s->last.lat, s->last.lon, fix->lat, fix->lon, &length,
                                  NULL, NULL);
    if (gap)
        note_gap(s, fix);
    for (size_t i = 0; s->any && i < s->count; i++) {
        bool near = follows && is_near(s, i, &s->last, fix);
        if (!follows || gap)
            watch_break(s, i, fix, gap && near);
        else if (near)
            watch_way(s, i, fix, length, file);
        else
            s->watches[i].held = false;
    }
    s->found.driven += length;
    if (!s->any || fix->ms < s->found.first)
        s->found.first = fix->ms;
    if (!s->any || fix->ms > s->found.last)
        s->found.last = fix->ms;
    s->found.fixes++;
    s->any = true;
    s->last = *fix;
    return s->out_of_memory ? ERR_NOMEM : ERR_OK;
}

static int by_time(const void *a, const void *b) {
    const struct passage *x = a;
    const struct passage *y = b;
    return (x->ms > y->ms) - (x->ms < y->ms);
}

const struct passages *passages_finish(struct passage_search *s) {
    for (size_t i = 0; i < s->count; i++) {
        struct line_passages *of = &s->found.of[i];
        if (s->any)
            watch_break(s, i, &s->last, false);
        if (of->kept > 1)
            qsort(of->list, of->kept, sizeof *of->list, by_time);
    }
    return s->out_of_memory ? NULL : &s->found;
}
