/* SPDX-License-Identifier: MIT */
/* /healthz, and /metrics in the OpenMetrics text format (version 1.0.0). */
#include "api.h"
#include "stream.h"

unsigned api_health(struct request *r, struct textbuf *b) {
    (void)r;
    textbuf_puts(b, "{\"status\":\"ok\"}\n");
    return MHD_HTTP_OK;
}

static void family(struct textbuf *b, const char *name, const char *type, const char *unit,
                   const char *help) {
    textbuf_printf(b, "# TYPE %s %s\n", name, type);
    if (unit != NULL)
        textbuf_printf(b, "# UNIT %s %s\n", name, unit);
    textbuf_printf(b, "# HELP %s %s\n", name, help);
}

static void counter(struct textbuf *b, const char *name, const char *help, long long value) {
    family(b, name, "counter", NULL, help);
    textbuf_printf(b, "%s_total %lld\n", name, value);
}

static void gauge(struct textbuf *b, const char *name, const char *help, long long value) {
    family(b, name, "gauge", NULL, help);
    textbuf_printf(b, "%s %lld\n", name, value);
}

static void duration(struct textbuf *b, const char *name, const char *help, long long count,
                     long long us) {
    family(b, name, "summary", "seconds", help);
    textbuf_printf(b, "%s_count %lld\n%s_sum %lld.%06lld\n", name, count, name, us / 1000000,
                   us % 1000000);
}

unsigned api_metrics(struct request *r, struct textbuf *b) {
    const struct scorekeeper_figures *f = scorekeeper_figures(server_keeper(r->server));
    r->media_type = "application/openmetrics-text; version=1.0.0; charset=utf-8";
    family(b, "cairn_http_requests", "counter", NULL, "Requests answered, by class of status.");
    for (int i = 1; i < 6; i++)
        textbuf_printf(b, "cairn_http_requests_total{code=\"%dxx\"} %lld\n", i,
                       server_requests(r->server, i));
    counter(b, "cairn_key_failures", "Requests with a wrong key.", server_key_failures(r->server));
    counter(b, "cairn_rows_accepted", "Rows of readings and decisions taken.",
            atomic_load(&f->accepted));
    counter(b, "cairn_rows_duplicate", "Rows that were there already.",
            atomic_load(&f->duplicates));
    counter(b, "cairn_rows_refused", "Rows refused.", atomic_load(&f->refused));
    counter(b, "cairn_write_failures", "Writes that the machine could not keep.",
            atomic_load(&f->failures));
    duration(b, "cairn_commit_seconds", "Time to bring a batch to the disk.",
             atomic_load(&f->commits), atomic_load(&f->commit_us));
    duration(b, "cairn_publish_seconds", "Time to score and publish a revision.",
             atomic_load(&f->publishes), atomic_load(&f->publish_us));
    gauge(b, "cairn_writes_waiting", "Writes in the queue.", atomic_load(&f->waiting));
    gauge(b, "cairn_listeners", "Event streams open.", stream_listeners(server_streams(r->server)));
    gauge(b, "cairn_events", "Events served.", scorekeeper_count(server_keeper(r->server)));
    textbuf_puts(b, "# EOF\n");
    return MHD_HTTP_OK;
}
