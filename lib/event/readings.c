/* SPDX-License-Identifier: MIT */
#include "event/readings.h"

#include <limits.h>
#include <stdatomic.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/err.h"
#include "base/strmap.h"
#include "event/fact_log.h"
#include "event/reading_form.h"
#include "event/reading_source.h"
#include "format/extra.h"

/* Enough for over four million readings of one event. */
enum { BLOCK_SIZE = 1024, BLOCKS_MAX = 4096 };

/* `replaced_by` where nothing does. */
enum { NOTHING = INT_MAX };

/* A reading with what later readings change about it. Callers only see the reading. What scoring
 * asks of it stands together: this, and the reading's first members. */
struct kept {
    atomic_int replaced_by; /* the first reading that names it */
    int32_t before;         /* an earlier one of the same car and point, or of those that stand
                             * aside; -1 at the end */
    struct reading reading;
};

/* What views read, without a lock: blocks are added and never moved, so that a reading stays where
 * it is. */
struct reading_blocks {
    struct kept *list[BLOCKS_MAX];
    atomic_int *latest; /* [car * points + point] */
    atomic_int latest_aside;
    size_t points;
    const struct rules *rules;
};

struct readings {
    const struct rules *rules;
    const struct entries *entries;
    struct fact_log log;
    struct reading_blocks blocks;
    struct strmap named; /* ids that some reading replaces or withdraws, in the log or not yet */
};

const char *const reading_field_names[READING_FIELD_COUNT] = {
    "point", "car", "time", "elapsed", "faults", "at", "by", "replaces", "void", "reason", "id"};

static const struct fact_type type = {.names = reading_field_names,
                                      .fields = READING_FIELD_COUNT,
                                      .required = READING_CAR + 1,
                                      .shared = 1u << READING_POINT | 1u << READING_CAR |
                                                1u << READING_BY | 1u << READING_REASON |
                                                1u << READING_FAULTS,
                                      .wrong = PROBLEM_REFUSED,
                                      .record = sizeof(struct kept)};

struct readings *readings_new(const struct rules *rules, const struct entries *entries) {
    struct readings *r = calloc(1, sizeof *r);
    if (r == NULL)
        return NULL;
    size_t cells = (size_t)rules->point_count * (size_t)entries->count;
    r->rules = rules;
    r->entries = entries;
    r->blocks.points = (size_t)rules->point_count;
    r->blocks.rules = rules;
    r->blocks.latest = malloc((cells + 1) * sizeof *r->blocks.latest);
    if (fact_log_init(&r->log, &type) != ERR_OK || r->blocks.latest == NULL) {
        readings_free(r);
        return NULL;
    }
    atomic_init(&r->blocks.latest_aside, -1);
    for (size_t i = 0; i < cells; i++)
        atomic_init(&r->blocks.latest[i], -1);
    return r;
}

static struct kept *at(const struct reading_blocks *blocks, int index) {
    return &blocks->list[index / BLOCK_SIZE][index % BLOCK_SIZE];
}

static const struct kept *kept_of(const struct reading *reading) {
    return (const struct kept *)((const char *)reading - offsetof(struct kept, reading));
}

static atomic_int *latest_of(const struct reading_blocks *blocks, int car, int point) {
    return &blocks->latest[(size_t)car * blocks->points + (size_t)point];
}

void readings_free(struct readings *r) {
    if (r == NULL)
        return;
    fact_log_clear(&r->log);
    strmap_clear(&r->named);
    free(r->blocks.latest);
    free(r);
}

void reading_derive_id(const struct reading_text *text, struct textbuf *id) {
    fact_derive_id(text->field, READING_HASHED, id);
}

/* The block for the next reading, allocated where it is not there yet. */
static struct kept *next_block(struct readings *r) {
    size_t block = r->log.count / BLOCK_SIZE;
    if (block == BLOCKS_MAX)
        return NULL;
    if (r->blocks.list[block] == NULL)
        r->blocks.list[block] = arena_array(r->log.arena, BLOCK_SIZE, sizeof(struct kept));
    return r->blocks.list[block];
}

/* Copies a reading's id, texts and faults into the log. */
static int keep(struct readings *r, const struct reading_text *text, const char *id,
                const struct fault_count *faults, struct reading *out) {
    static const struct fault_count no_faults[1];
    out->id = arena_text(r->log.arena, id, strlen(id));
    out->faults = no_faults;
    if (out->fault_count > 0) {
        struct fault_count *own = arena_array(r->log.arena, (size_t)out->fault_count, sizeof *own);
        if (own == NULL)
            return ERR_NOMEM;
        memcpy(own, faults, (size_t)out->fault_count * sizeof *own);
        out->faults = own;
    }
    if (out->id == NULL)
        return ERR_NOMEM;
    out->text.from_desk = text->from_desk;
    return fact_log_keep(&r->log, text->field, text->extras, out->id, out->text.field,
                         &out->text.extras);
}

/* Remembers that the reading at `place` replaces or withdraws another, which may be in the log or
 * not yet; of several the first counts. `named` has a free slot. */
static void note_replaced(struct readings *r, const char *replaces, int place) {
    if (strmap_get(&r->named, replaces) >= 0)
        return;
    (void)strmap_put(&r->named, replaces, place);
    int other = fact_log_find(&r->log, replaces);
    if (other >= 0 && other != place)
        atomic_store_explicit(&at(&r->blocks, other)->replaced_by, place, memory_order_relaxed);
}

/* Nothing of the log changes before the last allocation has succeeded. */
static enum fact_result append(struct readings *r, const struct reading_text *text, const char *id,
                               const struct fault_count *faults, struct reading *reading) {
    int place = (int)r->log.count;
    const char *replaces = text->field[READING_REPLACES];
    if (next_block(r) == NULL || keep(r, text, id, faults, reading) != ERR_OK)
        return FACT_NOMEM;
    if (*replaces != '\0' && strmap_reserve(&r->named, r->named.count + 1) != ERR_OK)
        return FACT_NOMEM;
    int naming = strmap_get(&r->named, reading->id);
    if (fact_log_enter(&r->log, reading->id) != ERR_OK)
        return FACT_NOMEM;
    if (*replaces != '\0')
        note_replaced(r, reading->text.field[READING_REPLACES], place);
    struct kept *own = at(&r->blocks, place);
    own->reading = *reading;
    if (reading->aside == ASIDE_NOT && (reading->car < 0 || reading->point < 0))
        return FACT_ADDED; /* see reading_parse: nobody looks for it */
    atomic_int *latest = reading->aside != ASIDE_NOT
                             ? &r->blocks.latest_aside
                             : latest_of(&r->blocks, reading->car, reading->point);
    own->before = atomic_load_explicit(latest, memory_order_relaxed);
    atomic_init(&own->replaced_by, naming >= 0 ? naming : NOTHING);
    /* With memory_order_release: a thread that finds the reading through `latest` finds it whole.
     */
    atomic_store_explicit(latest, place, memory_order_release);
    return FACT_ADDED;
}

/* Adds a reading, or, with `try_only`, finds out whether it could be added. */
static enum fact_result take(struct readings *r, const struct reading_text *text, bool try_only,
                             struct textbuf *reason, int *index) {
    struct fault_count faults[PARTS_MAX];
    struct reading reading = {0};
    char id[FACT_ID_MAX + 1];
    if (!reading_parse(r->rules, r->entries, text, &reading, faults, reason))
        return FACT_REFUSED;
    fact_id(text->field, READING_HASHED, id);
    int known = fact_log_find(&r->log, id);
    if (index != NULL)
        *index = known >= 0 ? known : (int)r->log.count;
    if (known >= 0)
        return fact_log_repeat(&r->log, id, text->field, at(&r->blocks, known)->reading.text.field,
                               reason);
    return try_only ? FACT_ADDED : append(r, text, id, faults, &reading);
}

enum fact_result readings_add(struct readings *r, const struct reading_text *text,
                              struct textbuf *reason, int *index) {
    return take(r, text, false, reason, index);
}

enum fact_result readings_try(struct readings *r, const struct reading_text *text,
                              struct textbuf *reason) {
    return take(r, text, true, reason, NULL);
}

static enum fact_result add_row(void *owner, const char *const *fields, struct extra *extras,
                                long line, struct textbuf *reason) {
    struct reading_text text = {.extras = extras};
    (void)line;
    memcpy(text.field, fields, sizeof text.field);
    return readings_add(owner, &text, reason, NULL);
}

static enum fact_result add_unassigned_row(void *owner, const char *const *fields,
                                           struct extra *extras, long line,
                                           struct textbuf *reason) {
    struct reading_text text = {.extras = extras, .from_desk = reading_names_desk(extras)};
    (void)line;
    memcpy(text.field, fields, sizeof text.field);
    return readings_add(owner, &text, reason, NULL);
}

int readings_read(struct readings *r, const char *file, const char *text, size_t len,
                  struct problems *problems) {
    return fact_log_read(&r->log, file, text, len, add_row, r, problems);
}

int readings_read_unassigned(struct readings *r, const char *file, const char *text, size_t len,
                             struct problems *problems) {
    return fact_log_read(&r->log, file, text, len, add_unassigned_row, r, problems);
}

bool reading_names_desk(const struct extra *extras) {
    return *extra_value(extras, "desk") != '\0';
}

int readings_count(const struct readings *r) {
    return (int)r->log.count;
}

const struct reading *readings_at(const struct readings *r, int index) {
    return &at(&r->blocks, index)->reading;
}

int readings_find(const struct readings *r, const char *id) {
    return fact_log_find(&r->log, id);
}

struct readings_view readings_view(const struct readings *r) {
    return (struct readings_view){&r->blocks, (int)r->log.count};
}

struct readings_view readings_view_upto(struct readings_view view, int count) {
    if (count < view.count)
        view.count = count;
    return view;
}

const struct reading *readings_view_at(struct readings_view view, int index) {
    return &at(view.blocks, index)->reading;
}

int readings_latest(struct readings_view view, int car, int point) {
    int index = atomic_load_explicit(latest_of(view.blocks, car, point), memory_order_acquire);
    while (index >= view.count)
        index = at(view.blocks, index)->before;
    return index;
}

int readings_latest_aside(struct readings_view view) {
    int index = atomic_load_explicit(&view.blocks->latest_aside, memory_order_acquire);
    while (index >= view.count)
        index = at(view.blocks, index)->before;
    return index;
}

int readings_before(struct readings_view view, int index) {
    return at(view.blocks, index)->before;
}

int readings_replacing(struct readings_view view, const struct reading *reading) {
    int index = atomic_load_explicit(&kept_of(reading)->replaced_by, memory_order_relaxed);
    return index < view.count ? index : -1;
}

bool reading_is_replaced(struct readings_view view, const struct reading *reading) {
    return readings_replacing(view, reading) >= 0;
}

int readings_evidence_count(struct readings_view view, int car, int point) {
    int said = 0;
    /* A replaced reading is two facts; the other one may be of another car or point. */
    for (int i = readings_latest(view, car, point); i >= 0; i = readings_before(view, i))
        said += reading_is_replaced(view, readings_view_at(view, i)) ? 2 : 1;
    return said;
}

static bool before(const struct reading *a, const struct reading *b) {
    return fact_before(a->has_at, a->at, a->id, b->has_at, b->at, b->id);
}

/* The item's clock decides between a track and a marshal; then the contract's order. */
static bool goes_before(const struct reading *a, const struct reading *b, bool track_clock) {
    if (a->from_track != b->from_track)
        return a->from_track == track_clock;
    return before(a, b);
}

/* True where a reading that stands says something else than the one that counts. */
static bool is_contradicted(struct readings_view view, const struct reading *counted) {
    for (int i = readings_latest(view, counted->car, counted->point); i >= 0;
         i = readings_before(view, i)) {
        const struct reading *one = readings_view_at(view, i);
        if (one != counted && !one->is_void && !reading_is_replaced(view, one) &&
            !reading_agrees(counted, one))
            return true;
    }
    return false;
}

const struct reading *readings_counted(struct readings_view view, int car, int point,
                                       bool *conflict) {
    const struct rules *rules = view.blocks->rules;
    const bool track_clock = rules->items[rules->points[point].item].track_clock;
    const struct reading *best = NULL;
    int standing = 0;
    for (int i = readings_latest(view, car, point); i >= 0; i = readings_before(view, i)) {
        const struct reading *one = readings_view_at(view, i);
        if (one->is_void || reading_is_replaced(view, one))
            continue;
        standing++;
        if (best == NULL || goes_before(one, best, track_clock))
            best = one;
    }
    if (conflict != NULL)
        *conflict = standing > 1 && is_contradicted(view, best);
    return best;
}
