/* SPDX-License-Identifier: MIT */
/* figures.h - time taken in rounds, and the figures that a benchmark leaves for the table.
 * Each section is a file of its own under $BUILD/bench/figures/, one figure a line, parted by
 * tabs: name, unit, sense ("most", "least" or "-"), aim, median, lowest, highest, rounds, note.
 * tests/support/figures.py writes and reads the same. */
#ifndef CAIRN_BENCH_FIGURES_H
#define CAIRN_BENCH_FIGURES_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

enum { ROUNDS_MAX = 64 };

/* What was measured, one value a round. */
struct sample {
    double values[ROUNDS_MAX];
    int count;
};

/* What is wanted of a figure. */
enum sense { SENSE_NONE, SENSE_MOST, SENSE_LEAST };

struct aim {
    enum sense sense; /* at most, or at least, this */
    double value;
};

/* Seconds on a clock that only goes forward. */
static inline double now_seconds(void) {
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

static inline void sample_add(struct sample *s, double value) {
    if (s->count < ROUNDS_MAX)
        s->values[s->count++] = value;
}

static inline int compare_values(const void *a, const void *b) {
    double x = *(const double *)a;
    double y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Sorts the values; 0 for an empty sample. */
static inline double sample_median(struct sample *s) {
    if (s->count == 0)
        return 0;
    qsort(s->values, (size_t)s->count, sizeof s->values[0], compare_values);
    int half = s->count / 2;
    return s->count % 2 == 1 ? s->values[half] : (s->values[half - 1] + s->values[half]) / 2;
}

/* Opens a section's file, emptied. Ends the program where that fails. */
static inline FILE *figures_open(const char *section) {
    const char *build = getenv("BUILD");
    char path[512];
    int len = snprintf(path, sizeof path, "%s/bench", build == NULL ? "build" : build);
    (void)mkdir(build == NULL ? "build" : build, 0777);
    (void)mkdir(path, 0777);
    len += snprintf(path + len, sizeof path - (size_t)len, "/figures");
    (void)mkdir(path, 0777);
    (void)snprintf(path + len, sizeof path - (size_t)len, "/%s.tsv", section);
    FILE *f = fopen(path, "we");
    if (f == NULL) {
        perror(path);
        exit(1);
    }
    return f;
}

/* Prints a figure with its spread and writes it to its section.
 *   unit  "ns", "ms" or "x" for a ratio
 *   note  what was measured, for the table */
static inline void figure(FILE *f, const char *name, const char *unit, struct aim aim,
                          struct sample *s, const char *note) {
    static const char *const senses[] = {"-", "most", "least"};
    double median = sample_median(s);
    double low = s->count == 0 ? 0 : s->values[0];
    double high = s->count == 0 ? 0 : s->values[s->count - 1];
    (void)fprintf(f, "%s\t%s\t%s\t%.6g\t%.6g\t%.6g\t%.6g\t%d\t%s\n", name, unit, senses[aim.sense],
                  aim.value, median, low, high, s->count, note);
    (void)printf("  %-46s %10.4g %s (%.4g to %.4g)", name, median, unit, low, high);
    if (aim.sense != SENSE_NONE && aim.value > 0)
        (void)printf(", %.2f of the aim of at %s %g", median / aim.value, senses[aim.sense],
                     aim.value);
    (void)printf("\n");
    (void)fflush(stdout);
}

#endif
