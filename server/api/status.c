/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

#include "api/event_object.h"
#include "base/err.h"
#include "format/json_write.h"
#include "http/connections.h"
#include "http/request.h"
#include "http/server.h"
#include "http/stream.h"
#include "live/desk_list.h"
#include "office/unassigned.h"
#include "system/backups.h"
#include "system/data_dir.h"
#include "system/disk_space.h"
#include "system/hard_limits.h"
#include "system/system_clock.h"
#include "system/tls.h"
#include "system/version.h"

/* From here on somebody should look. */
enum {
    COMMIT_SLOW_US = 250000,
    PUBLISH_SLOW_US = 500000,
    QUEUE_LONG = LIMIT_QUEUE / 16,
    KEY_FAILURES_MANY = 50
};

enum health { HEALTH_FINE, HEALTH_LOOK, HEALTH_UNKNOWN };

/* The lines so far. */
struct status {
    struct request *r;
    struct textbuf *b;
};

/* Adds a line.
 *   id, what     its name, for programs and for people
 *   advice       what to do where it is not fine; told only then
 *   format, ...  how it is, as printf */
static void say(struct status *s, const char *id, const char *what, enum health state,
                const char *advice, const char *format, ...) __attribute__((format(printf, 6, 7)));

static void say(struct status *s, const char *id, const char *what, enum health state,
                const char *advice, const char *format, ...) {
    static const char *const words[] = {"fine", "look", "unknown"};
    char is[256];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(is, sizeof is, format, args);
    va_end(args);
    json_line(s->b);
    json_open_object(s->b);
    json_member_text(s->b, "id", id);
    json_member_text(s->b, "what", what);
    json_member_text(s->b, "state", words[state]);
    json_member_text(s->b, "is", is);
    json_member_text_or_null(s->b, "advice", state == HEALTH_FINE ? NULL : advice);
    json_close_object(s->b);
}

static enum health look_if(bool wrong) {
    return wrong ? HEALTH_LOOK : HEALTH_FINE;
}

enum { SPAN_LEN = 40 };

/* Seconds in the largest units that say enough: "3 d 4 h", "5 min". */
static const char *span(int64_t seconds, char out[SPAN_LEN]) {
    int64_t minutes = seconds / 60;
    int64_t hours = minutes / 60;
    if (seconds < 120)
        (void)snprintf(out, SPAN_LEN, "%" PRId64 " s", seconds < 0 ? 0 : seconds);
    else if (minutes < 120)
        (void)snprintf(out, SPAN_LEN, "%" PRId64 " min", minutes);
    else if (hours < 48)
        (void)snprintf(out, SPAN_LEN, "%" PRId64 " h %" PRId64 " min", hours, minutes % 60);
    else
        (void)snprintf(out, SPAN_LEN, "%" PRId64 " d %" PRId64 " h", hours / 24, hours % 24);
    return out;
}

/* A bound of a histogram: "within 2.5 ms". */
static const char *within(int64_t us, char out[SPAN_LEN]) {
    if (us == INT64_MAX)
        (void)snprintf(out, SPAN_LEN, "after more than 5 s");
    else
        (void)snprintf(out, SPAN_LEN, "within %" PRId64 ".%02" PRId64 " ms", us / 1000,
                       us % 1000 / 10);
    return out;
}

static void say_times(struct status *s, const char *id, const char *what, const struct histogram *h,
                      int64_t slow_us, const char *advice) {
    char half[SPAN_LEN];
    char most[SPAN_LEN];
    int64_t p99 = histogram_quantile(h, 990);
    if (p99 < 0)
        say(s, id, what, HEALTH_FINE, "", "none yet since the start");
    else
        say(s, id, what, look_if(p99 > slow_us), advice,
            "half %s, 99 of 100 %s; %" PRId64 " since the start",
            within(histogram_quantile(h, 500), half), within(p99, most), histogram_count(h));
}

static void say_without_car(struct status *s, int waiting) {
    say(s, "without-car", "Readings without a car of the list", look_if(waiting > 0),
        "They count for nobody. Review names them: enter the car, or give the number.", "%d",
        waiting);
}

static void say_event(struct status *s) {
    const struct request *r = s->r;
    char text[SPAN_LEN];
    struct desk_gaps desks;
    say(s, "server", "Server", HEALTH_FINE, "", "version %s, up for %s", CAIRN_VERSION,
        span(server_uptime_seconds(r->server), text));
    say(s, "revision", "Results", HEALTH_FINE, "", "revision %" PRId64 ", changed %s ago",
        r->results->revision, span((now_ms() - r->results->changed_ms) / 1000, text));
    if (desk_list_gaps(&r->snapshot->event, r->served, server_desk_reports(r->server), &desks) !=
        ERR_OK)
        say(s, "desks", "Desks", HEALTH_UNKNOWN, "Memory is out.", "cannot be counted");
    else if (desks.missing == 0)
        say(s, "desks", "Desks", HEALTH_FINE, "", "%d heard of, nothing missing", desks.desks);
    else
        say(s, "desks", "Desks", HEALTH_LOOK,
            "The control room names the desks and the numbers; ask there whether they still wait "
            "to "
            "be sent.",
            "%d of %d with gaps, %" PRId64 " reading%s not here", desks.with_gaps, desks.desks,
            desks.missing, desks.missing == 1 ? "" : "s");
}

static void say_writes(struct status *s) {
    const struct write_figures *f = served_events_figures(server_events(s->r->server));
    int waiting = atomic_load(&f->waiting);
    long long failures = atomic_load(&f->failures);
    say_times(s, "commit", "Time to the disk", &f->commit, COMMIT_SLOW_US,
              "The disk is slow. Is something else writing to it, a copy, an update?");
    say_times(s, "publish", "Time to score and publish", &f->publish, PUBLISH_SLOW_US,
              "The processor is short. What else runs on this machine?");
    say(s, "queue", "Writes that wait", look_if(waiting > QUEUE_LONG),
        "More comes in than the disk takes. Desks keep what is not taken.", "%d", waiting);
    say(s, "failures", "Writes that could not be kept", look_if(failures > 0),
        "Is the disk full? The log names the event and the reason. Desks send again by themselves.",
        "%lld since the start", failures);
}

static void say_crowd(struct status *s) {
    struct server *server = s->r->server;
    const struct connections *connections = server_connections(server);
    int connected = atomic_load(&connection_figures(connections)->connections);
    unsigned connection_limit = connections_max(connections);
    int listeners = stream_listeners(server_streams(server));
    int listener_limit = stream_limit(server_streams(server));
    long long away = server_refusals(server, REFUSAL_CROWDED) +
                     server_refusals(server, REFUSAL_QUEUE_FULL) +
                     atomic_load(&connection_figures(connections)->not_admitted) +
                     stream_turned_away(server_streams(server));
    long long wrong = server_key_failures(server);
    say(s, "connections", "Connections", look_if((unsigned)connected > connection_limit / 4 * 3),
        "It fills up. Put a proxy with a cache in front for the public.", "%d of %u", connected,
        connection_limit);
    say(s, "listeners", "Live pages", look_if(listeners > listener_limit / 4 * 3),
        "It fills up. Pages beyond the limit go on by asking now and then.", "%d of %d", listeners,
        listener_limit);
    say(s, "turned-away", "Turned away since it was too full", look_if(away > 0),
        "Desks and the office are served first. Put a proxy with a cache in front for the public.",
        "%lld since the start", away);
    say(s, "keys", "Wrong keys and codes", look_if(wrong >= KEY_FAILURES_MANY),
        "Somebody may be guessing, or a desk has an old link. The access log, where it is on, "
        "tells from where.",
        "%lld since the start", wrong);
}

static void say_disk(struct status *s) {
    const char *folder = server_data_dir(s->r->server);
    char *path = data_dir_path(folder, s->r->served->slug);
    struct textbuf *log = request_text(s->r);
    struct stat file;
    struct stat wal = {0};
    int64_t free_mb = 0;
    int64_t all_mb = 0;
    if (disk_space(folder, &free_mb, &all_mb, NULL) != 0)
        say(s, "disk", "Disk", HEALTH_UNKNOWN, "Look at the machine.", "the system does not tell");
    else
        say(s, "disk", "Disk", look_if(free_mb < DISK_DOUBTFUL_MB),
            "Make room: old copies first, then logs; never the event's own files.",
            "%" PRId64 " MB of %" PRId64 " MB free", free_mb, all_mb);
    if (path != NULL && request_owns(s->r, path, free)) {
        textbuf_printf(log, "%s-wal", path);
        (void)stat(textbuf_text(log), &wal);
    } else {
        path = NULL;
    }
    enum writability writes = (enum writability)atomic_load(&s->r->served->writability);
    if (writes == UNWRITABLE_GONE)
        say(s, "file", "Event file", HEALTH_LOOK,
            "Do not restart the server: put the file back where it was, or save the event first "
            "(Rules, Entries, and the log as CSV), then look at the runbook.",
            "removed or replaced; nothing can be written, all can be read");
    else if (writes != WRITABLE)
        say(s, "file", "Event file", HEALTH_LOOK, writability_message(writes),
            "%s; nothing can be written, all can be read", writability_word(writes));
    else if (path == NULL || stat(path, &file) != 0)
        say(s, "file", "Event file", HEALTH_UNKNOWN, "Look at the machine.", "not found");
    else
        say(s, "file", "Event file", HEALTH_FINE, "", "%" PRId64 " KB",
            ((int64_t)file.st_size + wal.st_size + 1023) / 1024);
}

/* The line, and behind the lines each by name, for programs. */
static void say_facts(struct status *s, const struct damaged_facts *damage) {
    struct textbuf *first = request_text(s->r);
    if (damage->listed > 0)
        damaged_fact_write(first, &damage->list[0]);
    if (damage->count == 0)
        say(s, "facts", "Stored facts", HEALTH_FINE, "", "all as they were taken at the start");
    else
        say(s, "facts", "Stored facts", HEALTH_LOOK,
            "Results may be wrong there. The log and cairn doctor name each; see the runbook, "
            "“Facts are damaged”.",
            "%" PRId64 " damaged, the first: %s", damage->count, textbuf_text(first));
}

static void write_damage(struct textbuf *b, const struct damaged_facts *damage) {
    json_member_int(b, "damaged_facts", damage->count);
    json_member_array(b, "damaged");
    for (size_t i = 0; i < damage->listed; i++) {
        const struct damaged_fact *fact = &damage->list[i];
        json_line(b);
        json_open_object(b);
        json_member_text(b, "table", fact->table);
        json_member_int(b, "row", fact->row);
        json_member_text(b, "id", fact->id);
        json_member_text(b, "why", fact->reason);
        json_close_object(b);
    }
    json_close_array(b);
}

static void say_copies(struct status *s) {
    const char *folder = server_backups(s->r->server);
    int64_t newest = folder == NULL ? BACKUPS_NONE : backups_newest(folder, s->r->served->slug);
    char text[SPAN_LEN];
    if (folder == NULL)
        say(s, "copies", "Copies", HEALTH_UNKNOWN,
            "This server was not told where copies are made (--backups). Ask who runs the machine.",
            "not known");
    else if (newest == BACKUPS_UNREADABLE)
        say(s, "copies", "Copies", HEALTH_LOOK, "The folder of copies cannot be read.",
            "not known");
    else if (newest == BACKUPS_NONE)
        say(s, "copies", "Copies", HEALTH_LOOK, "Is the timer for copies on?",
            "none of this event");
    else
        say(s, "copies", "Copies",
            look_if(now_ms() / 60000 - newest / 60 >= BACKUP_DOUBTFUL_MINUTES),
            "Copies are made each five minutes. Is the timer on, is there room?",
            "the newest is %s old", span(now_ms() / 1000 - newest, text));
}

static void say_certificate(struct status *s) {
    int64_t until = server_tls_expires(s->r->server);
    if (until < 0)
        return;
    int64_t left = until - now_ms() / 1000;
    char text[SPAN_LEN];
    if (left <= 0)
        say(s, "certificate", "Certificate", HEALTH_LOOK, "Browsers refuse it. Put in a new one.",
            "has run out");
    else
        say(s, "certificate", "Certificate",
            look_if(left < INT64_C(24) * 60 * 60 * DATES_DOUBTFUL_DAYS),
            "Put in a new one before it ends, then restart the server.", "good for %s",
            span(left, text));
}

static void free_damage(void *damage) {
    damaged_facts_clear(damage);
}

unsigned api_status(struct request *r, struct textbuf *b) {
    struct status s = {r, b};
    struct damaged_facts *damage = request_value(r, sizeof *damage, free_damage);
    if (damage == NULL)
        return request_no_memory(r);
    results_object_open(r, b);
    json_member_array(b, "lines");
    say_event(&s);
    int waiting = unassigned_count(r->snapshot->event.readings);
    say_without_car(&s, waiting);
    say_writes(&s);
    say_crowd(&s);
    say_disk(&s);
    served_event_damage(r->served, damage);
    say_facts(&s, damage);
    say_copies(&s);
    say_certificate(&s);
    textbuf_putc(b, '\n');
    json_close_array(b);
    json_member_int(b, "without_car", waiting);
    json_member_text(b, "writes",
                     writability_word((enum writability)atomic_load(&r->served->writability)));
    write_damage(b, damage);
    json_close_document(b);
    return MHD_HTTP_OK;
}
