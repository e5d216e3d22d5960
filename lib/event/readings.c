/* SPDX-License-Identifier: MIT */
#include "event/readings.h"

#include <limits.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/strmap.h"
#include "base/textbuf.h"
#include "event/fact.h"
#include "event/kind.h"

/* Room for over four million readings of one event. */
enum { BLOCK_SIZE = 1024, BLOCKS_MAX = 4096 };

/* `replaced_by` where nothing does. */
enum { NOTHING = INT_MAX };

/* A reading and what comes to be known of it; who is given a reading is not given this. */
struct kept {
    struct reading reading; /* the first member: see kept_of */
    atomic_int replaced_by; /* the first reading that names it */
    int32_t before;         /* an earlier one of the same car and point, -1 at the end */
};

/* What those who look at an earlier state read: it needs no lock, since readings stay where they
 * are. Blocks are added, never moved. */
struct reading_blocks {
    struct kept *list[BLOCKS_MAX];
    atomic_int *latest; /* [car * points + point] */
    size_t points;
};

struct readings {
    const struct rules *rules;
    const struct entries *entries;
    struct arena *arena;
    struct reading_blocks blocks;
    size_t count;
    struct strmap by_id;
    struct strmap shared; /* texts that many readings share, and their copies */
    const char **shared_list;
    size_t shared_cap;
    struct strmap named; /* ids that some reading replaces or withdraws, seen or still to come */
};

const char *const reading_field_names[READING_FIELD_COUNT] = {
    "point", "car", "time", "elapsed", "faults", "at", "by", "replaces", "void", "reason", "id"};

struct readings *readings_new(const struct rules *rules, const struct entries *entries) {
    struct readings *r = calloc(1, sizeof *r);
    if (r == NULL)
        return NULL;
    size_t cells = (size_t)rules->point_count * (size_t)entries->count;
    r->rules = rules;
    r->entries = entries;
    r->arena = arena_new();
    r->blocks.points = (size_t)rules->point_count;
    r->blocks.latest = malloc((cells + 1) * sizeof *r->blocks.latest);
    if (r->arena == NULL || r->blocks.latest == NULL) {
        readings_free(r);
        return NULL;
    }
    for (size_t i = 0; i < cells; i++)
        atomic_init(&r->blocks.latest[i], -1);
    return r;
}

static struct kept *at(const struct reading_blocks *blocks, int index) {
    return &blocks->list[index / BLOCK_SIZE][index % BLOCK_SIZE];
}

static const struct kept *kept_of(const struct reading *reading) {
    return (const struct kept *)reading;
}

static atomic_int *latest_of(const struct reading_blocks *blocks, int car, int point) {
    return &blocks->latest[(size_t)car * blocks->points + (size_t)point];
}

void readings_free(struct readings *r) {
    if (r == NULL)
        return;
    strmap_clear(&r->by_id);
    strmap_clear(&r->named);
    strmap_clear(&r->shared);
    free(r->shared_list);
    free(r->blocks.latest);
    arena_free(r->arena);
    free(r);
}

void reading_derive_id(const struct reading_text *text, struct textbuf *id) {
    fact_derive_id(text->field, READING_HASHED, id);
}

static int fault_named(const struct item *item, const char *name, size_t len) {
    for (int i = 0; i < item->fault_count; i++) {
        if (strncmp(item->faults[i].name, name, len) == 0 && item->faults[i].name[len] == '\0')
            return i;
    }
    return -1;
}

/* "cone=2;line=1" into `out`, which has room for the item's faults. False with a reason. Without
 * an item (NULL) only how they are written is looked at, and `out` is not used. */
static bool parse_faults(const struct item *item, const char *text, struct fault_count *out,
                         int *count, struct textbuf *reason) {
    *count = 0;
    for (const char *p = text; *p != '\0';) {
        size_t len = strcspn(p, ";");
        const char *equals = memchr(p, '=', len);
        char digits[8] = "";
        int64_t number = 0;
        if (equals != NULL && len - (size_t)(equals - p) - 1 < sizeof digits)
            memcpy(digits, equals + 1, len - (size_t)(equals - p) - 1);
        int wrong = equals == NULL || equals == p
                        ? ERR_SYNTAX
                        : decimal_parse_whole(digits, 0, FAULT_COUNT_MAX, &number);
        if (wrong == ERR_RANGE) {
            textbuf_printf(reason, "faults “%s”: at most %d of one fault", text, FAULT_COUNT_MAX);
            return false;
        }
        if (wrong != ERR_OK) {
            textbuf_printf(reason, "faults “%s” must be written like cone=2;line=1", text);
            return false;
        }
        int fault = item == NULL ? 0 : fault_named(item, p, (size_t)(equals - p));
        if (fault < 0) {
            textbuf_printf(reason, "%s names no fault “%.*s”", item->id, (int)(equals - p), p);
            return false;
        }
        for (int i = 0; item != NULL && i < *count; i++) {
            if (out[i].fault == fault) {
                textbuf_printf(reason, "faults “%s” name one fault twice", text);
                return false;
            }
        }
        if (item != NULL)
            out[(*count)++] = (struct fault_count){fault, (int)number};
        p += len;
        if (*p == ';' && *++p == '\0') {
            textbuf_printf(reason, "faults “%s” end in a semicolon", text);
            return false;
        }
    }
    return true;
}

static bool parse_value(const char *what, const char *text, int (*parse)(const char *, int64_t *),
                        int64_t *out, struct textbuf *reason) {
    *out = TIME_NONE;
    if (*text == '\0')
        return true;
    int err = parse(text, out);
    if (err == ERR_OK)
        return true;
    if (err == ERR_PRECISION)
        textbuf_printf(reason, "%s “%s” has more than three decimals", what, text);
    else
        textbuf_printf(reason, "%s “%s” is not written as %s", what, text,
                       parse == time_parse ? "a time of day, such as 10:42:59"
                                           : "a duration, such as 00:01:23.45 or 83.45");
    return false;
}

/* What the correction columns say. False with a reason. */
static bool parse_correction(const struct reading_text *text, struct reading *out,
                             struct textbuf *reason) {
    const char *is_void = text->field[READING_VOID];
    const char *replaces = text->field[READING_REPLACES];
    out->is_void = strcmp(is_void, "yes") == 0;
    if (!out->is_void && *is_void != '\0' && strcmp(is_void, "no") != 0) {
        textbuf_printf(reason, "void “%s” must be yes or no", is_void);
        return false;
    }
    if (*replaces != '\0' && !fact_id_is_good(replaces)) {
        textbuf_printf(reason, "replaces “%s” is no id of a reading", replaces);
        return false;
    }
    if (out->is_void && *replaces == '\0') {
        textbuf_puts(reason, "void needs the id of a reading in “replaces”");
        return false;
    }
    if (*replaces != '\0' && text->field[READING_REASON][0] == '\0') {
        textbuf_puts(reason, out->is_void ? "withdrawing a reading needs a reason"
                                          : "correcting a reading needs a reason");
        return false;
    }
    if (*replaces != '\0' && strcmp(replaces, text->field[READING_ID]) == 0) {
        textbuf_puts(reason, "a reading cannot replace itself");
        return false;
    }
    return true;
}

static bool id_is_written(const char *id, struct textbuf *reason) {
    if (*id == '\0' || fact_id_is_good(id))
        return true;
    textbuf_printf(reason, "id “%s” must be 1 to %d of A-Z a-z 0-9 . _ : -", id, FACT_ID_MAX);
    return false;
}

static bool parse_times(const struct reading_text *text, struct reading *out,
                        struct textbuf *reason) {
    if (!parse_value("time", text->field[READING_TIME], time_parse, &out->time, reason) ||
        !parse_value("elapsed", text->field[READING_ELAPSED], duration_parse, &out->elapsed,
                     reason))
        return false;
    if (out->time == TIME_NONE || out->elapsed == TIME_NONE)
        return true;
    textbuf_puts(reason, "it has both a time and an elapsed");
    return false;
}

static bool parse_at(const char *at, struct reading *out, struct textbuf *reason) {
    out->has_at = *at != '\0';
    if (!out->has_at || instant_parse(at, &out->at) == ERR_OK)
        return true;
    textbuf_printf(reason, "at “%s” is no RFC 3339 time with offset", at);
    return false;
}

bool reading_form_is_good(const struct reading_text *text, struct textbuf *reason) {
    const char *car = text->field[READING_CAR];
    struct reading unused = {0};
    int64_t number;
    int count = 0;
    if (!id_is_written(text->field[READING_ID], reason))
        return false;
    if (text->field[READING_POINT][0] == '\0') {
        textbuf_puts(reason, "it names no point");
        return false;
    }
    if (decimal_parse_whole(car, 1, NUMBER_MAX, &number) != ERR_OK) {
        textbuf_printf(reason, "car “%s” is no number from 1 to %d", car, NUMBER_MAX);
        return false;
    }
    return parse_times(text, &unused, reason) &&
           parse_faults(NULL, text->field[READING_FAULTS], NULL, &count, reason) &&
           parse_at(text->field[READING_AT], &unused, reason) &&
           parse_correction(text, &unused, reason);
}

/* Everything about a reading that can be told without the log. False with a reason. */
static bool parse_reading(const struct readings *r, const struct reading_text *text,
                          struct reading *out, struct fault_count *faults, struct textbuf *reason) {
    const char *id = text->field[READING_ID];
    const char *point = text->field[READING_POINT];
    const char *car = text->field[READING_CAR];
    int64_t number = 0;
    if (!id_is_written(id, reason))
        return false;
    out->point = strmap_get(&r->rules->point_by_id, point);
    if (out->point < 0) {
        int item = strmap_get(&r->rules->item_by_id, point);
        if (item >= 0)
            textbuf_printf(reason, "“%s” is a test: name one of its points, such as “%s”", point,
                           r->rules->points[r->rules->items[item].first_point].id);
        else
            textbuf_printf(reason, "point “%s” is not on the route", point);
        return false;
    }
    if (decimal_parse_whole(car, 1, NUMBER_MAX, &number) == ERR_OK)
        out->car = entries_find(r->entries, number);
    else
        out->car = -1;
    if (out->car < 0) {
        textbuf_printf(reason, "car “%s” is not in the entry list", car);
        return false;
    }
    if (!parse_times(text, out, reason))
        return false;
    const struct item *item = &r->rules->items[r->rules->points[out->point].item];
    if (!parse_faults(item, text->field[READING_FAULTS], faults, &out->fault_count, reason))
        return false;
    if (!parse_at(text->field[READING_AT], out, reason) || !parse_correction(text, out, reason))
        return false;
    const char *refusal =
        out->is_void ? NULL
                     : kind_of(item->kind)->refusal(item, &r->rules->points[out->point], out);
    if (refusal != NULL) {
        textbuf_puts(reason, refusal);
        return false;
    }
    return true;
}

static struct fault_count no_faults[1];

/* A text that many readings share, kept once. */
static const char *shared_text(struct readings *r, const char *text) {
    if (*text == '\0')
        return "";
    int32_t place = strmap_get(&r->shared, text);
    if (place >= 0)
        return r->shared_list[place];
    const char **list =
        array_reserve(r->shared_list, &r->shared_cap, r->shared.count + 1, sizeof *list);
    if (list == NULL)
        return NULL;
    r->shared_list = list;
    char *copy = arena_text(r->arena, text, strlen(text));
    int32_t next = (int32_t)r->shared.count;
    if (copy == NULL || strmap_put(&r->shared, copy, next) != ERR_OK)
        return NULL;
    list[next] = copy;
    return copy;
}

/* Copies the fields. Points, cars and desks come again and again, the rest is each its own. */
static bool keep_text(struct readings *r, const struct reading_text *from, struct reading *out) {
    if (fact_keep_extras(r->arena, from->extras, &out->text.extras) != ERR_OK)
        return false;
    for (int i = 0; i < READING_FIELD_COUNT; i++) {
        const char *field = from->field[i];
        bool shared = i == READING_POINT || i == READING_CAR || i == READING_BY ||
                      i == READING_REASON || i == READING_FAULTS || *field == '\0';
        if (i == READING_ID && *field != '\0')
            out->text.field[i] = out->id;
        else
            out->text.field[i] =
                shared ? shared_text(r, field) : arena_text(r->arena, field, strlen(field));
        if (out->text.field[i] == NULL)
            return false;
    }
    return true;
}

static enum reading_result add(struct readings *r, const struct reading_text *text, bool keep,
                               struct textbuf *reason, int *index) {
    struct textbuf derived = {0};
    struct fault_count faults[PARTS_MAX];
    struct reading reading = {0};
    enum reading_result result = READING_NOMEM;
    if (!parse_reading(r, text, &reading, faults, reason))
        return READING_REFUSED;
    const char *id = text->field[READING_ID];
    if (*id == '\0') {
        reading_derive_id(text, &derived);
        if (derived.failed)
            goto done;
        id = textbuf_text(&derived);
    }
    int32_t known = strmap_get(&r->by_id, id);
    if (known >= 0) {
        if (index != NULL)
            *index = known;
        if (fact_same(text->field, at(&r->blocks, known)->reading.text.field, READING_HASHED)) {
            result = READING_DUPLICATE;
        } else {
            textbuf_printf(reason, "id “%s” is there already with other content", id);
            result = READING_REFUSED;
        }
        goto done;
    }
    if (!keep) {
        result = READING_ADDED;
        goto done;
    }
    /* Nothing of the log changes before the last allocation has succeeded, but for the maps and
     * the blocks, which then hold no trace that counts. */
    size_t block = r->count / BLOCK_SIZE;
    if (block == BLOCKS_MAX)
        goto done;
    struct kept **kept = &r->blocks.list[block];
    if (*kept == NULL)
        *kept = arena_array(r->arena, BLOCK_SIZE, sizeof **kept);
    if (*kept == NULL)
        goto done;
    reading.id = arena_text(r->arena, id, strlen(id));
    reading.faults = reading.fault_count == 0
                         ? no_faults
                         : arena_array(r->arena, (size_t)reading.fault_count, sizeof *faults);
    if (reading.id == NULL || reading.faults == NULL || !keep_text(r, text, &reading))
        goto done;
    if (reading.fault_count > 0)
        memcpy(reading.faults, faults, (size_t)reading.fault_count * sizeof *faults);
    const char *replaces = reading.text.field[READING_REPLACES];
    int32_t place = (int32_t)r->count;
    int32_t naming = strmap_get(&r->named, reading.id);
    if (strmap_put(&r->by_id, reading.id, place) != ERR_OK)
        goto done;
    if (*replaces != '\0' && strmap_get(&r->named, replaces) < 0) {
        if (strmap_put(&r->named, replaces, place) != ERR_OK) {
            /* The id must not stay without its reading; a slot cannot be taken out, so it is
             * pointed at nothing. */
            (void)strmap_put(&r->by_id, reading.id, -1);
            goto done;
        }
        int32_t other = strmap_get(&r->by_id, replaces);
        if (other >= 0 && other != place)
            atomic_store_explicit(&at(&r->blocks, other)->replaced_by, place, memory_order_relaxed);
    }
    atomic_int *latest = latest_of(&r->blocks, reading.car, reading.point);
    struct kept *own = at(&r->blocks, place);
    own->reading = reading;
    own->before = atomic_load_explicit(latest, memory_order_relaxed);
    atomic_init(&own->replaced_by, naming >= 0 ? naming : NOTHING);
    /* Whoever finds the reading through its list must find it whole. */
    atomic_store_explicit(latest, place, memory_order_release);
    r->count++;
    if (index != NULL)
        *index = place;
    result = READING_ADDED;
done:
    textbuf_clear(&derived);
    return result;
}

enum reading_result readings_add(struct readings *r, const struct reading_text *text,
                                 struct textbuf *reason, int *index) {
    return add(r, text, true, reason, index);
}

enum reading_result readings_try(struct readings *r, const struct reading_text *text,
                                 struct textbuf *reason) {
    return add(r, text, false, reason, NULL);
}

/* What the rows will take is known beforehand: a record and an id each, and at most their text. */
static int reserve_rows(struct readings *r, const char *text, size_t len) {
    size_t rows = 1;
    const char *end = text + len;
    for (const char *p = text; p < end && (p = memchr(p, '\n', (size_t)(end - p))) != NULL; p++)
        rows++;
    arena_reserve(r->arena, rows * sizeof(struct kept) + len);
    return strmap_reserve(&r->by_id, rows);
}

int readings_read(struct readings *r, const char *file, const char *text, size_t len,
                  struct problems *problems) {
    struct column columns[READING_FIELD_COUNT];
    struct csv_columns table;
    struct textbuf reason = {0};
    for (int i = 0; i < READING_FIELD_COUNT; i++)
        columns[i] = (struct column){reading_field_names[i], i <= READING_CAR};
    int err =
        csv_columns_open(&table, file, text, len, columns, READING_FIELD_COUNT, r->arena, problems);
    if (err == ERR_OK)
        err = reserve_rows(r, text, len);
    while (err == ERR_OK) {
        enum csv_result row = csv_columns_next(&table);
        if (row == CSV_END)
            break;
        if (row == CSV_NOMEM) {
            err = ERR_NOMEM;
            break;
        }
        if (row == CSV_BAD) {
            problems_add(problems, PROBLEM_REFUSED, file, table.csv.line, "%s", table.csv.wrong);
            continue;
        }
        struct reading_text fields = {0};
        for (size_t i = 0; i < READING_FIELD_COUNT; i++)
            fields.field[i] = csv_columns_field(&table, i);
        err = csv_columns_extras(&table, &fields.extras);
        if (err != ERR_OK)
            break;
        textbuf_reset(&reason);
        switch (readings_add(r, &fields, &reason, NULL)) {
        case READING_REFUSED:
            problems_add(problems, PROBLEM_REFUSED, file, table.csv.line, "%s",
                         textbuf_text(&reason));
            break;
        case READING_NOMEM:
            err = ERR_NOMEM;
            break;
        case READING_ADDED:
        case READING_DUPLICATE:
            break;
        }
    }
    if (reason.failed || problems_out_of_memory(problems))
        err = ERR_NOMEM;
    textbuf_clear(&reason);
    csv_columns_close(&table);
    return err;
}

int readings_count(const struct readings *r) {
    return (int)r->count;
}

const struct reading *readings_at(const struct readings *r, int index) {
    return &at(&r->blocks, index)->reading;
}

int readings_find(const struct readings *r, const char *id) {
    return strmap_get(&r->by_id, id);
}

struct readings_view readings_view(const struct readings *r) {
    return (struct readings_view){&r->blocks, (int)r->count};
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

int readings_said(struct readings_view view, int car, int point) {
    int said = 0;
    /* What replaces it may name another car. */
    for (int i = readings_latest(view, car, point); i >= 0; i = readings_before(view, i))
        said += reading_is_replaced(view, readings_view_at(view, i)) ? 2 : 1;
    return said;
}

static bool before(const struct reading *a, const struct reading *b) {
    return fact_before(a->has_at, a->at, a->id, b->has_at, b->at, b->id);
}

static int count_of(const struct reading *r, int fault) {
    for (int i = 0; i < r->fault_count; i++) {
        if (r->faults[i].fault == fault)
            return r->faults[i].count;
    }
    return 0;
}

static bool faults_cover(const struct reading *a, const struct reading *b) {
    for (int i = 0; i < a->fault_count; i++) {
        if (a->faults[i].count != count_of(b, a->faults[i].fault))
            return false;
    }
    return true;
}

static bool same_value(const struct reading *a, const struct reading *b) {
    return a->time == b->time && a->elapsed == b->elapsed && faults_cover(a, b) &&
           faults_cover(b, a);
}

const struct reading *readings_counted(struct readings_view view, int car, int point,
                                       bool *conflict) {
    const struct reading *best = NULL;
    bool differ = false;
    for (int i = readings_latest(view, car, point); i >= 0; i = readings_before(view, i)) {
        const struct reading *one = readings_view_at(view, i);
        if (one->is_void || reading_is_replaced(view, one))
            continue;
        /* All alike, or not: comparing each with one of them is enough. */
        if (best != NULL && !same_value(best, one))
            differ = true;
        if (best == NULL || before(one, best))
            best = one;
    }
    if (conflict != NULL)
        *conflict = differ;
    return best;
}
