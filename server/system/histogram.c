/* SPDX-License-Identifier: MIT */
#include "system/histogram.h"

/* A bound, and how OpenMetrics writes it: in seconds, as a float with at least one decimal. */
static const struct {
    int64_t us;
    const char *seconds;
} bounds[HISTOGRAM_BOUNDS] = {
    {100, "0.0001"},  {250, "0.00025"}, {500, "0.0005"},  {1000, "0.001"},  {2500, "0.0025"},
    {5000, "0.005"},  {10000, "0.01"},  {25000, "0.025"}, {50000, "0.05"},  {100000, "0.1"},
    {250000, "0.25"}, {500000, "0.5"},  {1000000, "1.0"}, {2500000, "2.5"}, {5000000, "5.0"},
};

void histogram_add(struct histogram *h, int64_t us) {
    int i = 0;
    while (i < HISTOGRAM_BOUNDS && us > bounds[i].us)
        i++;
    atomic_fetch_add(&h->counts[i], 1);
    atomic_fetch_add(&h->sum_us, us);
}

int64_t histogram_count(const struct histogram *h) {
    int64_t all = 0;
    for (int i = 0; i <= HISTOGRAM_BOUNDS; i++)
        all += atomic_load(&h->counts[i]);
    return all;
}

int64_t histogram_quantile(const struct histogram *h, int per_mille) {
    int64_t all = histogram_count(h);
    int64_t wanted = (all * per_mille + 999) / 1000;
    int64_t below = 0;
    if (all == 0)
        return -1;
    for (int i = 0; i < HISTOGRAM_BOUNDS; i++) {
        below += atomic_load(&h->counts[i]);
        if (below >= wanted)
            return bounds[i].us;
    }
    return INT64_MAX;
}

void histogram_write(const struct histogram *h, const char *name, struct textbuf *b) {
    long long below = 0;
    long long sum = atomic_load(&h->sum_us);
    for (int i = 0; i <= HISTOGRAM_BOUNDS; i++) {
        below += atomic_load(&h->counts[i]);
        textbuf_printf(b, "%s_bucket{le=\"%s\"} %lld\n", name,
                       i < HISTOGRAM_BOUNDS ? bounds[i].seconds : "+Inf", below);
    }
    textbuf_printf(b, "%s_count %lld\n%s_sum %lld.%06lld\n", name, below, name, sum / 1000000,
                   sum % 1000000);
}
