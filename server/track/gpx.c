/* SPDX-License-Identifier: MIT */
#include "track/gpx.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "base/times.h"
#include "system/expat_library.h"

enum {
    CHUNK = 1 << 16,
    MARK_MAX = 1 << 20, /* bytes of one mark, which the library holds as a whole */
    DEPTH_MAX = 100,
    TIME_MAX = 63
};

struct reader {
    const struct expat_library *expat;
    XML_Parser parser;
    int (*take)(void *owner, const struct track_fix *fix);
    void *owner;
    struct gpx_report *report;
    struct textbuf *why;
    int err;
    int depth;
    int point_depth; /* of the track point that is open, 0 for none */
    int time_depth;
    bool placed;
    bool any;     /* a point was given */
    int64_t last; /* its moment */
    struct track_fix fix;
    char time[TIME_MAX + 1];
    size_t time_len;
};

static void fail(struct reader *r, int err) {
    r->err = err;
    (void)r->expat->XML_StopParser(r->parser, XML_FALSE);
}

static void refuse(struct reader *r, const char *text) {
    textbuf_printf(r->why, "line %lu: %s",
                   (unsigned long)r->expat->XML_GetCurrentLineNumber(r->parser), text);
    fail(r, ERR_INPUT);
}

static void count(struct gpx_count *of, long line) {
    if (of->count++ == 0)
        of->line = line;
}

/* What stands behind a prefix of a name. */
static const char *local(const char *name) {
    const char *colon = strrchr(name, ':');
    return colon == NULL ? name : colon + 1;
}

static bool parse_degrees(const char *text, double most, double *out) {
    char *end = NULL;
    if (*text == '\0' || strspn(text, "0123456789.-+eE") != strlen(text))
        return false;
    *out = strtod(text, &end);
    return *end == '\0' && *out >= -most && *out <= most;
}

static void open_point(struct reader *r, const char **attributes) {
    bool lat = false;
    bool lon = false;
    for (int i = 0; attributes[i] != NULL; i += 2) {
        if (strcmp(attributes[i], "lat") == 0)
            lat = parse_degrees(attributes[i + 1], 90, &r->fix.lat);
        else if (strcmp(attributes[i], "lon") == 0)
            lon = parse_degrees(attributes[i + 1], 180, &r->fix.lon);
    }
    r->point_depth = r->depth;
    r->placed = lat && lon;
    r->time_len = 0;
    r->fix.line = (long)r->expat->XML_GetCurrentLineNumber(r->parser);
    r->report->points++;
}

static void XMLCALL on_start(void *owner, const char *name, const char **attributes) {
    struct reader *r = owner;
    const char *own = local(name);
    if (r->err != ERR_OK)
        return;
    r->depth++;
    if (r->depth == 1 && strcmp(own, "gpx") != 0) {
        refuse(r, "this is no GPX: its first mark is not “gpx”");
        return;
    }
    if (r->depth > DEPTH_MAX) {
        refuse(r, "marks are nested too deep");
        return;
    }
    if (r->point_depth == 0 && strcmp(own, "trkpt") == 0)
        open_point(r, attributes);
    else if (r->point_depth > 0 && r->depth == r->point_depth + 1 && strcmp(own, "time") == 0)
        r->time_depth = r->depth;
}

static void XMLCALL on_text(void *owner, const char *text, int len) {
    struct reader *r = owner;
    if (r->time_depth == 0 || r->err != ERR_OK)
        return;
    for (int i = 0; i < len; i++) {
        bool blank = text[i] == ' ' || text[i] == '\n' || text[i] == '\r' || text[i] == '\t';
        if (!blank && r->time_len < TIME_MAX)
            r->time[r->time_len++] = text[i];
    }
}

/* The moment of the point's time. A time without a zone gets the Z that GPX asks for. */
static bool parse_moment(struct reader *r, int64_t *ms) {
    struct instant instant;
    r->time[r->time_len] = '\0';
    int err = instant_parse(r->time, &instant);
    if (err != ERR_OK && r->time_len < TIME_MAX) {
        r->time[r->time_len] = 'Z';
        r->time[r->time_len + 1] = '\0';
        err = instant_parse(r->time, &instant);
        if (err == ERR_OK)
            count(&r->report->zoneless, r->fix.line);
    }
    if (err != ERR_OK)
        return false;
    *ms = instant.seconds * 1000 + instant.nanos / 1000000;
    return true;
}

static void close_point(struct reader *r) {
    struct gpx_report *report = r->report;
    r->point_depth = 0;
    if (!r->placed) {
        count(&report->misplaced, r->fix.line);
        return;
    }
    if (r->time_len == 0) {
        count(&report->untimed, r->fix.line);
        return;
    }
    if (!parse_moment(r, &r->fix.ms)) {
        count(&report->mistimed, r->fix.line);
        return;
    }
    if (r->any && r->fix.ms == r->last) {
        count(&report->repeated, r->fix.line);
        return;
    }
    if (r->any && r->fix.ms < r->last)
        count(&report->backwards, r->fix.line);
    r->fix.follows = r->any && r->fix.ms > r->last;
    r->any = true;
    r->last = r->fix.ms;
    int err = r->take(r->owner, &r->fix);
    if (err != ERR_OK)
        fail(r, err);
}

static void XMLCALL on_end(void *owner, const char *name) {
    struct reader *r = owner;
    (void)name;
    if (r->err != ERR_OK)
        return;
    if (r->depth == r->time_depth)
        r->time_depth = 0;
    if (r->depth == r->point_depth)
        close_point(r);
    r->depth--;
}

static void XMLCALL on_doctype(void *owner, const char *name, const char *system,
                               const char *public, int internal) {
    (void)name;
    (void)system;
    (void)public;
    (void)internal;
    refuse(owner, "it has a document type (DOCTYPE), which defines entities: a GPX file has none");
}

static int parse_all(struct reader *r, int fd) {
    static char chunk[CHUNK];
    int64_t given = 0;
    bool last = false;
    while (!last && r->err == ERR_OK) {
        ssize_t len = read(fd, chunk, sizeof chunk);
        if (len < 0 && errno == EINTR)
            continue;
        if (len < 0)
            return ERR_IO;
        last = len == 0;
        given += len;
        if (r->expat->XML_Parse(r->parser, chunk, (int)len, last) == XML_STATUS_ERROR) {
            enum XML_Error code = r->expat->XML_GetErrorCode(r->parser);
            if (r->err == ERR_OK && code == XML_ERROR_NO_MEMORY)
                return ERR_NOMEM;
            if (r->err == ERR_OK)
                refuse(r, given == 0 ? "the file is empty" : r->expat->XML_ErrorString(code));
        } else if (!last && given - r->expat->XML_GetCurrentByteIndex(r->parser) > MARK_MAX) {
            refuse(r, "a mark is longer than a megabyte");
        }
    }
    return r->err;
}

int gpx_read(int fd, int (*take)(void *owner, const struct track_fix *fix), void *owner,
             struct gpx_report *report, struct textbuf *why) {
    struct reader r = {.take = take, .owner = owner, .report = report, .why = why, .err = ERR_OK};
    *report = (struct gpx_report){0};
    r.expat = expat_library(why);
    if (r.expat == NULL) {
        errno = 0;
        return ERR_IO;
    }
    r.parser = r.expat->XML_ParserCreate(NULL);
    if (r.parser == NULL)
        return ERR_NOMEM;
    r.expat->XML_SetUserData(r.parser, &r);
    r.expat->XML_SetElementHandler(r.parser, on_start, on_end);
    r.expat->XML_SetCharacterDataHandler(r.parser, on_text);
    r.expat->XML_SetStartDoctypeDeclHandler(r.parser, on_doctype);
    int err = parse_all(&r, fd);
    r.expat->XML_ParserFree(r.parser);
    return err;
}
