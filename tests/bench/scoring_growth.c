/* SPDX-License-Identifier: MIT */
/* Nanoseconds a car and scored point at growing fields, every kind of point and every rule on; and
 * what one changed car costs. The event is made in memory and read as a folder would be.
 *
 * A car's number ends at NUMBER_MAX, so that 20,000 cars cannot be in one event: the last line is
 * two events of 9,999 cars, one after the other. */
#include "figures.h"

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event/event.h"
#include "scoring/scoring.h"

enum { DAYS = 4, POINTS_A_DAY = 30, CONTROLS = 10, ROUNDS = 7 };

static const char scoring_rules[] =
    "\"scoring\":{\"timing\":\"target\",\"max_lateness\":\"02:00:00\","
    "\"coefficient\":{\"by\":\"year\",\"apply\":\"total\",\"kinds\":[\"regularity\",\"set-time\"]},"
    "\"drop_worst\":{\"count\":1,\"kinds\":[\"regularity\"],\"when\":\"end\"},"
    "\"ties\":[\"most-clean\",\"furthest-clean\",\"older-car\",\"first-difference\"],"
    "\"absent_day_cap\":\"2000\",\"finisher\":{\"share\":\"2/3\",\"last_point\":true},"
    "\"defaults\":{"
    "\"time-control\":{\"precision\":\"minute\",\"early\":60,\"late\":10,\"missed\":900},"
    "\"passage-control\":{\"missed\":300},"
    "\"regularity\":{\"precision\":\"second\",\"early\":1,\"late\":1,\"cap\":60,\"missed\":120}}}";

/* One day: ten controls, two passages, three regularities of four checks, three pads, a test by
 * the watch and a loop of three laps of which two are scored: thirty scored points. */
static void write_day(struct textbuf *b, int day) {
    for (int i = 1; i <= CONTROLS; i++)
        textbuf_printf(b,
                       "%s{\"day\":%d,\"id\":\"C%d-%d\",\"kind\":\"time-control\","
                       "\"target\":\"00:12:00\"}",
                       day == 1 && i == 1 ? "" : ",", day, day, i);
    for (int i = 1; i <= 2; i++)
        textbuf_printf(b, ",{\"day\":%d,\"id\":\"P%d-%d\",\"kind\":\"passage-control\"}", day, day,
                       i);
    for (int i = 1; i <= 3; i++)
        textbuf_printf(b,
                       ",{\"day\":%d,\"id\":\"R%d-%d\",\"kind\":\"regularity\","
                       "\"speeds\":[{\"from\":0,\"speed\":48},{\"from\":3.2,\"speed\":42.5}],"
                       "\"checks\":[{\"at\":2.1},{\"at\":4.4},{\"at\":6.05},{\"at\":9.3}]}",
                       day, day, i);
    textbuf_printf(b,
                   ",{\"day\":%d,\"id\":\"T%d\",\"kind\":\"set-time\","
                   "\"targets\":[\"11.70\",\"9.00\",\"10.40\"],\"penalty\":{\"precision\":"
                   "\"hundredth\",\"cap\":300,\"missed\":600}}",
                   day, day);
    textbuf_printf(b,
                   ",{\"day\":%d,\"id\":\"S%d\",\"kind\":\"special-test\",\"bogey\":\"00:01:00\","
                   "\"maximum\":\"00:03:00\",\"method\":\"behind-best\",\"faults\":{\"cone\":5}}",
                   day, day);
    textbuf_printf(b,
                   ",{\"day\":%d,\"id\":\"L%d\",\"kind\":\"consistency\",\"laps\":3,"
                   "\"reference\":\"first\",\"penalty\":{\"precision\":\"tenth\"}}",
                   day, day);
}

static void write_rules(struct textbuf *b) {
    textbuf_puts(b, "{\"name\":\"Merrow Bench\",\"slug\":\"merrow-bench\",\"timezone\":\"Atlantic/"
                    "Azores\",\"unit\":\"km\",\"days\":[");
    for (int day = 1; day <= DAYS; day++)
        textbuf_printf(b,
                       "%s{\"date\":\"2027-05-%02d\",\"first_start\":\"06:00\","
                       "\"interval\":\"00:00:05\",\"order\":\"number\"}",
                       day == 1 ? "" : ",", 19 + day);
    textbuf_puts(b, "],\"classes\":{\"scheme\":\"fiva\",\"capacity\":[{\"id\":\"1\",\"to\":1600},"
                    "{\"id\":\"2\"}]},");
    textbuf_puts(b, scoring_rules);
    textbuf_puts(b, ",\"route\":[");
    for (int day = 1; day <= DAYS; day++)
        write_day(b, day);
    textbuf_puts(b, "]}");
}

/* The next of a row of numbers that is the same in each run. */
static uint32_t roll(uint32_t *state, uint32_t sides) {
    *state = *state * 1664525u + 1013904223u;
    return (*state >> 8) % sides;
}

static void write_entries(struct textbuf *b, int cars) {
    textbuf_puts(b, "number,driver,navigator,make,model,year,engine_cc\n");
    for (int car = 1; car <= cars; car++)
        textbuf_printf(b, "%d,Driver %d,Navigator %d,Calder,Six,%d,%d\n", car, car, car,
                       1908 + car % 67, 900 + car * 37 % 4000);
}

static void write_time(struct textbuf *b, const char *point, int number, int car, int64_t ms) {
    if (number > 0)
        textbuf_printf(b, "%s/%d,%d,", point, number, car);
    else
        textbuf_printf(b, "%s,%d,", point, car);
    time_write(b, ms, 2);
    textbuf_puts(b, "\n");
}

/* A car's day. Each test is begun a quarter of an hour after the one before; where it lies on the
 * road does not matter to the scoring. */
static void write_car_day(struct textbuf *b, int day, int car, uint32_t *state) {
    static const int64_t ideal[] = {157500, 341647, 481412, 756706};
    static const int64_t pad[] = {11700, 20700, 31100};
    char id[32];
    int64_t start = INT64_C(21600000) + (int64_t)(car - 1) * 5000;
    int64_t at = start;
    for (int i = 1; i <= CONTROLS; i++) {
        at += INT64_C(720000) + (roll(state, 10) < 8 ? 0 : 60000 * ((int64_t)roll(state, 5) - 1));
        (void)snprintf(id, sizeof id, "C%d-%d", day, i);
        write_time(b, id, 0, car, at + (int64_t)roll(state, 50) * 1000);
    }
    for (int i = 1; i <= 2; i++)
        textbuf_printf(b, "P%d-%d,%d,\n", day, i, car);
    at = start;
    for (int i = 1; i <= 3; i++, at += 900000) {
        (void)snprintf(id, sizeof id, "R%d-%d/start", day, i);
        write_time(b, id, 0, car, at);
        (void)snprintf(id, sizeof id, "R%d-%d", day, i);
        for (int c = 0; c < 4; c++)
            write_time(b, id, c + 1, car, at + ideal[c] + (int64_t)roll(state, 900) * 10 - 4000);
    }
    (void)snprintf(id, sizeof id, "T%d/start", day);
    write_time(b, id, 0, car, at);
    (void)snprintf(id, sizeof id, "T%d", day);
    for (int p = 0; p < 3; p++)
        write_time(b, id, p + 1, car, at + pad[p] + (int64_t)roll(state, 80) * 10 - 400);
    at += 900000;
    (void)snprintf(id, sizeof id, "S%d/start", day);
    write_time(b, id, 0, car, at);
    (void)snprintf(id, sizeof id, "S%d/finish", day);
    write_time(b, id, 0, car, at + 62000 + (int64_t)roll(state, 3000) * 10);
    (void)snprintf(id, sizeof id, "L%d/start", day);
    write_time(b, id, 0, car, at + 900000);
    (void)snprintf(id, sizeof id, "L%d", day);
    for (int lap = 1; lap <= 3; lap++)
        write_time(b, id, lap, car,
                   at + 900000 + (int64_t)lap * 65000 + (int64_t)roll(state, 300) * 10);
}

static void write_readings(struct textbuf *b, int cars) {
    uint32_t state = 20270520;
    textbuf_puts(b, "point,car,time\n");
    for (int day = 1; day <= DAYS; day++) {
        for (int car = 1; car <= cars; car++)
            write_car_day(b, day, car, &state);
    }
}

static void must(int err) {
    if (err == ERR_OK)
        return;
    (void)fprintf(stderr, "bench: %s\n", err_text(err));
    exit(1);
}

/* The event of so many cars; `seconds` gets how long it took to read. */
static struct model *make_event(int cars, double *seconds) {
    struct textbuf rules = {0};
    struct textbuf entries = {0};
    struct textbuf readings = {0};
    struct problems problems = {0};
    struct model *model = NULL;
    write_rules(&rules);
    write_entries(&entries, cars);
    write_readings(&readings, cars);
    struct event_files files = {.rules = {rules.bytes, rules.len},
                                .entries = {entries.bytes, entries.len},
                                .readings = {readings.bytes, readings.len}};
    double from = now_seconds();
    int err = model_read(&files, &problems, &model);
    *seconds = now_seconds() - from;
    for (size_t i = 0; i < problems.count && i < 5; i++)
        (void)fprintf(stderr, "%s: %s\n", problems.list[i].place, problems.list[i].text);
    if (problems.count > 0)
        must(ERR_INPUT);
    must(err);
    problems_clear(&problems);
    textbuf_clear(&rules);
    textbuf_clear(&entries);
    textbuf_clear(&readings);
    if (model->rules->scored_count != DAYS * POINTS_A_DAY) {
        (void)fprintf(stderr, "bench: %d scored points\n", model->rules->scored_count);
        exit(1);
    }
    return model;
}

/* One size of field: its event, and what it gave, one value a round. */
struct field {
    const char *name;
    int cars;
    struct model *model;
    struct view *view;
    struct scores *scores;
    struct scorer scorer;
    struct sample sheets;  /* ns a car and scored point, without the ranking */
    struct sample ranking; /* ns a car */
    struct sample read;    /* ns a reading */
    struct sample update;  /* us for one changed car, ranking and copy included */
};

static void set_up(struct field *f) {
    double seconds;
    f->model = make_event(f->cars, &seconds);
    sample_add(&f->read, seconds * 1e9 / readings_count(f->model->readings));
    must(view_new(&f->model->event, (struct view_request){.after = -1}, &f->view));
    must(scorer_init(&f->scorer, &f->model->event));
    must(scores_new(&f->model->event, f->view, &f->scores));
}

static void take_down(struct field *f) {
    scores_free(f->scores);
    scorer_clear(&f->scorer);
    view_free(f->view);
    model_free(f->model);
}

static void measure_round(struct field *f, int round) {
    int repeats = f->cars < 1000 ? 20 : f->cars < 5000 ? 2 : 1;
    double from = now_seconds();
    for (int i = 0; i < repeats; i++)
        scores_update_all(f->scores, &f->scorer);
    double between = now_seconds();
    for (int i = 0; i < repeats; i++)
        scores_rank(f->scores, &f->scorer);
    double to = now_seconds();
    sample_add(&f->sheets, (between - from) * 1e9 / repeats / f->cars / (DAYS * POINTS_A_DAY));
    sample_add(&f->ranking, (to - between) * 1e9 / repeats / f->cars);
    from = now_seconds();
    for (int i = 0; i < repeats; i++) {
        struct scores *next = NULL;
        int car = (round * repeats + i) * 7 % f->cars;
        must(scores_copy(f->scores, &f->model->event, f->view, &next));
        scores_update(next, &f->scorer, &car, 1);
        scores_rank(next, &f->scorer);
        scores_free(next);
    }
    sample_add(&f->update, (now_seconds() - from) * 1e6 / repeats);
}

/* The ratio of two sizes, round by round; the rounds lie side by side in time. */
static struct sample ratio_of(const struct sample *large, const struct sample *small) {
    struct sample out = {0};
    for (int i = 0; i < large->count && i < small->count; i++)
        sample_add(&out, large->values[i] / small->values[i]);
    return out;
}

static void tell(FILE *out, struct field *f) {
    const struct aim none = {SENSE_NONE, 0};
    char name[96];
    (void)snprintf(name, sizeof name, "score, a car and point, %s cars", f->name);
    figure(out, name, "ns", none, &f->sheets, "120 scored points, every kind, all rules on");
    (void)snprintf(name, sizeof name, "rank, a car, %s cars", f->name);
    figure(out, name, "ns", none, &f->ranking, "overall and each class; this part sorts");
    (void)snprintf(name, sizeof name, "read, a reading, %s cars", f->name);
    figure(out, name, "ns", none, &f->read, "CSV text to facts in memory");
    (void)snprintf(name, sizeof name, "one changed car, %s cars", f->name);
    figure(out, name, "us", none, &f->update, "copy, that car, bests, ranking, freeing the copy");
}

/* Two events of the largest size, as one field of twice as many. */
static void join(struct sample *first, const struct sample *second, double share) {
    for (int i = 0; i < first->count; i++)
        first->values[i] = (first->values[i] + second->values[i]) * share;
}

int main(void) {
    struct field fields[] = {{.name = "200", .cars = 200},
                             {.name = "2,000", .cars = 2000},
                             {.name = "2 x 9,999", .cars = NUMBER_MAX},
                             {.name = "second 9,999", .cars = NUMBER_MAX}};
    enum { FIELDS = sizeof fields / sizeof fields[0] };
    FILE *out = figures_open("1-growth");
    (void)printf("Scoring in memory: %d points, growing field\n", DAYS * POINTS_A_DAY);
    for (int i = 0; i < FIELDS; i++)
        set_up(&fields[i]);
    for (int round = 0; round < ROUNDS; round++) {
        for (int i = 0; i < FIELDS; i++)
            measure_round(&fields[i], round);
    }
    struct sample tenfold = ratio_of(&fields[1].sheets, &fields[0].sheets);
    join(&fields[2].sheets, &fields[3].sheets, 0.5);
    join(&fields[2].ranking, &fields[3].ranking, 0.5);
    join(&fields[2].read, &fields[3].read, 0.5);
    join(&fields[2].update, &fields[3].update, 0.5); /* a car is in one of the two */
    struct sample hundredfold = ratio_of(&fields[2].sheets, &fields[0].sheets);
    for (int i = 0; i < 3; i++)
        tell(out, &fields[i]);
    figure(out, "growth a car and point, 200 to 2,000 cars", "x", (struct aim){SENSE_MOST, 1.5},
           &tenfold, "1 is linear");
    figure(out, "growth a car and point, 200 to 2 x 9,999 cars", "x", (struct aim){SENSE_MOST, 2},
           &hundredfold, "1 is linear; the rest is memory out of the caches");
    for (int i = 0; i < FIELDS; i++)
        take_down(&fields[i]);
    return fclose(out) == 0 ? 0 : 1;
}
