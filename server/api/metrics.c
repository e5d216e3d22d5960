/* SPDX-License-Identifier: MIT */
/* /healthz, and /metrics in the OpenMetrics text format (version 1.0.0). */
#include "api/api.h"

#include "format/json_write.h"
#include "http/connections.h"
#include "http/request.h"
#include "http/server.h"
#include "http/stream.h"
#include "http/worker_pool.h"
#include "live/desk_list.h"
#include "system/process_figures.h"
#include "system/system_clock.h"
#include "system/version.h"

/* Answered with 200 even where nothing can be written: who looks here to share out reads must not
 * take them away. */
unsigned api_health(struct request *r, struct textbuf *b) {
    struct served_events *events = server_events(r->server);
    struct textbuf *list = request_text(r);
    for (int i = 0; i < served_events_count(events); i++) {
        const struct served_event *served = served_events_at(events, i);
        const char *why = served_event_trouble(served);
        if (why == NULL)
            continue;
        json_open_object(list);
        json_member_text(list, "event", served->slug);
        json_member_text(list, "why", why);
        json_close_object(list);
    }
    json_open_object(b);
    json_member_text(b, "status", "ok");
    json_member_bool(b, "can_write", list->len == 0);
    if (list->len > 0) {
        json_member_array(b, "cannot_write");
        json_write_raw(b, list->bytes, list->len);
        json_close_array(b);
    }
    json_close_document(b);
    b->failed = b->failed || list->failed;
    return MHD_HTTP_OK;
}

static void family(struct textbuf *b, const char *name, const char *type, const char *unit,
                   const char *help) {
    textbuf_printf(b, "# TYPE %s %s\n", name, type);
    if (unit != NULL)
        textbuf_printf(b, "# UNIT %s %s\n", name, unit);
    textbuf_printf(b, "# HELP %s %s\n", name, help);
}

/* One figure of a family that has several, told apart by a label. */
static void sample(struct textbuf *b, const char *name, const char *label, const char *value,
                   long long figure) {
    textbuf_printf(b, "%s{%s=\"%s\"} %lld\n", name, label, value, figure);
}

static void counter(struct textbuf *b, const char *name, const char *help, long long value) {
    family(b, name, "counter", NULL, help);
    textbuf_printf(b, "%s_total %lld\n", name, value);
}

static void gauge(struct textbuf *b, const char *name, const char *help, long long value) {
    family(b, name, "gauge", NULL, help);
    textbuf_printf(b, "%s %lld\n", name, value);
}

static void duration(struct textbuf *b, const char *name, const char *help,
                     const struct histogram *h) {
    family(b, name, "histogram", "seconds", help);
    histogram_write(h, name, b);
}

/* What the system does not say is left out. */
static void optional_gauge(struct textbuf *b, const char *name, const char *unit, const char *help,
                           int64_t value) {
    if (value < 0)
        return;
    family(b, name, "gauge", unit, help);
    textbuf_printf(b, "%s %lld\n", name, (long long)value);
}

static void write_requests(struct textbuf *b, const struct server *server) {
    family(b, "cairn_http_requests", "counter", NULL, "Requests answered, by class of status.");
    for (int i = 1; i < 6; i++)
        sample(b, "cairn_http_requests_total", "code", (char[]){(char)('0' + i), 'x', 'x', '\0'},
               server_requests(server, i));
    family(b, "cairn_requests_refused", "counter", NULL, "Requests refused, by reason.");
    for (int i = REFUSAL_NONE + 1; i < REFUSAL_COUNT; i++)
        sample(b, "cairn_requests_refused_total", "reason", refusal_word((enum refusal)i),
               server_refusals(server, (enum refusal)i));
    counter(b, "cairn_key_failures", "Requests with a wrong key.", server_key_failures(server));
}

static void write_writes(struct textbuf *b, const struct write_figures *f) {
    static const char *const sorts[UPLOAD_SORT_COUNT] = {"readings", "decisions", "other"};
    family(b, "cairn_uploads", "counter", NULL, "Writes that were taken, by what they hold.");
    for (int i = 0; i < UPLOAD_SORT_COUNT; i++)
        sample(b, "cairn_uploads_total", "kind", sorts[i], atomic_load(&f->uploads[i]));
    counter(b, "cairn_rows_accepted", "Rows of readings and decisions taken.",
            atomic_load(&f->accepted));
    counter(b, "cairn_rows_duplicate", "Rows that were there already.",
            atomic_load(&f->duplicates));
    family(b, "cairn_rows_refused", "counter", NULL, "Rows refused, by reason.");
    for (int i = 0; i < ROW_REFUSAL_COUNT; i++)
        sample(b, "cairn_rows_refused_total", "reason", row_refusal_word((enum row_refusal)i),
               atomic_load(&f->refused.counts[i]));
    counter(b, "cairn_write_failures", "Writes that the machine could not keep.",
            atomic_load(&f->failures));
    duration(b, "cairn_commit_seconds", "Time to bring a batch to the disk.", &f->commit);
    duration(b, "cairn_publish_seconds", "Time to score and publish a revision.", &f->publish);
    gauge(b, "cairn_writes_waiting", "Writes in the queue.", atomic_load(&f->waiting));
}

static void write_crowd(struct textbuf *b, struct server *server) {
    const struct connection_figures *f = connection_figures(server_connections(server));
    gauge(b, "cairn_connections", "Connections, without the event streams of plain HTTP.",
          atomic_load(&f->connections));
    counter(b, "cairn_connections_refused", "Connections closed unheard: one address had too many.",
            atomic_load(&f->not_admitted));
    family(b, "cairn_connections_slow", "counter", NULL,
           "Connections ended since a head or body did not come in time.");
    sample(b, "cairn_connections_slow_total", "part", "head", atomic_load(&f->slow_heads));
    sample(b, "cairn_connections_slow_total", "part", "body", atomic_load(&f->slow_bodies));
    struct worker_pool_figures answers;
    worker_pool_read_figures(server_workers(server), &answers);
    gauge(b, "cairn_answers_waiting", "Requests that wait for an answer to be made.",
          answers.waiting);
    counter(b, "cairn_answers_made", "Answers made by the worker threads.", answers.made);
    counter(b, "cairn_answers_shared", "Requests for which another's answer was made.",
            answers.shared);
    counter(b, "cairn_answers_given_up", "Answers not made: nobody waited for them any more.",
            answers.abandoned);
    gauge(b, "cairn_listeners", "Event streams open.", stream_listeners(server_streams(server)));
    counter(b, "cairn_listeners_refused", "Event streams told to come back later.",
            stream_turned_away(server_streams(server)));
}

/* A figure of each event, under its slug. */
struct event_figures {
    const char *slug;
    int64_t age_s;
    struct desk_gaps desks;
    bool writable;
    int64_t damaged;
};

static void read_event(struct server *server, struct served_event *served,
                       struct event_figures *out) {
    struct snapshot *s = snapshot_acquire(&served->slot);
    struct damaged_facts damage;
    served_event_damage(served, &damage);
    *out = (struct event_figures){.slug = served->slug,
                                  .writable = served_event_trouble(served) == NULL,
                                  .damaged = damage.count};
    damaged_facts_clear(&damage);
    if (s == NULL)
        return;
    int64_t age_ms = now_ms() - s->office_results.changed_ms;
    out->age_s = age_ms < 0 ? 0 : age_ms / 1000;
    (void)desk_list_gaps(&s->event, served, server_desk_reports(server), &out->desks);
    snapshot_release(s);
}

static void write_events(struct request *r, struct textbuf *b) {
    struct server *server = r->server;
    int count = served_events_count(server_events(server));
    struct event_figures *list = request_array(r, (size_t)count + 1, sizeof *list);
    gauge(b, "cairn_events", "Events served.", count);
    if (list == NULL)
        return;
    for (int i = 0; i < count; i++)
        read_event(server, served_events_at(server_events(server), i), &list[i]);
    family(b, "cairn_revision_age_seconds", "gauge", "seconds", "Since an event's last change.");
    for (int i = 0; i < count; i++)
        sample(b, "cairn_revision_age_seconds", "event", list[i].slug, list[i].age_s);
    family(b, "cairn_event_writable", "gauge", NULL, "1 where an event can be written, else 0.");
    for (int i = 0; i < count; i++)
        sample(b, "cairn_event_writable", "event", list[i].slug, list[i].writable ? 1 : 0);
    family(b, "cairn_damaged_facts", "gauge", NULL, "Stored facts that are damaged.");
    for (int i = 0; i < count; i++)
        sample(b, "cairn_damaged_facts", "event", list[i].slug, list[i].damaged);
    family(b, "cairn_desks", "gauge", NULL, "Desks heard of.");
    for (int i = 0; i < count; i++)
        sample(b, "cairn_desks", "event", list[i].slug, list[i].desks.desks);
    family(b, "cairn_desks_with_gaps", "gauge", NULL, "Desks that gave out numbers not here.");
    for (int i = 0; i < count; i++)
        sample(b, "cairn_desks_with_gaps", "event", list[i].slug, list[i].desks.with_gaps);
    family(b, "cairn_desk_numbers_missing", "gauge", NULL,
           "Numbers that desks gave out to readings which are not here.");
    for (int i = 0; i < count; i++)
        sample(b, "cairn_desk_numbers_missing", "event", list[i].slug, list[i].desks.missing);
}

unsigned api_metrics(struct request *r, struct textbuf *b) {
    r->media_type = "application/openmetrics-text; version=1.0.0; charset=utf-8";
    family(b, "cairn_build", "info", NULL, "What is running.");
    sample(b, "cairn_build_info", "version", CAIRN_VERSION, 1);
    write_requests(b, r->server);
    write_writes(b, served_events_figures(server_events(r->server)));
    write_crowd(b, r->server);
    write_events(r, b);
    optional_gauge(b, "cairn_uptime_seconds", "seconds", "Since the start.",
                   server_uptime_seconds(r->server));
    optional_gauge(b, "cairn_resident_memory_bytes", "bytes", "Memory in use.",
                   process_resident_bytes());
    optional_gauge(b, "cairn_open_files", NULL, "Files open, connections among them.",
                   process_open_files());
    textbuf_puts(b, "# EOF\n");
    return MHD_HTTP_OK;
}
