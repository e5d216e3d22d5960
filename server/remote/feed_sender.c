/* SPDX-License-Identifier: MIT */
#include "remote/feed_sender.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "base/times.h"
#include "remote/delivery.h"
#include "remote/line_intake.h"
#include "remote/reject_file.h"
#include "remote/sent_file.h"
#include "system/files.h"
#include "system/problem_lines.h"

enum { PART_MAX = 65536, BACKWARD_TOLD_MAX = 20, BACKWARD_MS = 1000, PATH_SIZE = 4096 };

static const char first_word[] = "cairn feed: how far the journal was sent; may be deleted\n";

static bool write_path(char *path, const char *journal, const char *tail) {
    return snprintf(path, PATH_SIZE, "%s%s", journal, tail) < PATH_SIZE;
}

/* A whole number and a blank at *at, which is moved past them. */
static bool take_number(const char **at, int64_t *out) {
    char *end;
    errno = 0;
    *out = strtoll(*at, &end, 10);
    if (errno != 0 || end == *at || *end != ' ' || *out < 0)
        return false;
    *at = end + 1;
    return true;
}

void feed_sender_load(struct feed_sender *f, int64_t on_disk) {
    char path[PATH_SIZE];
    char *text = NULL;
    size_t len = 0;
    struct feed_place place = {0};
    f->last_ms = TIME_NONE;
    if (!write_path(path, f->journal, ".sent") || file_read(path, &text, &len) != ERR_OK)
        return;
    static const size_t head = sizeof first_word - 1;
    const char *at = text + head;
    if (strncmp(text, first_word, head) == 0 && take_number(&at, &place.sent) &&
        take_number(&at, &place.lines) && take_number(&at, &place.source) &&
        strcmp(at, f->url) == 0 && place.sent <= on_disk)
        f->place = place;
    free(text);
}

static void save(const struct feed_sender *f) {
    char path[PATH_SIZE];
    char part[PATH_SIZE];
    struct textbuf b = {0};
    textbuf_printf(&b, "%s%" PRId64 " %" PRId64 " %" PRId64 " %s", first_word, f->place.sent,
                   f->place.lines, f->place.source, f->url);
    if (b.failed || !write_path(path, f->journal, ".sent") ||
        !write_path(part, f->journal, ".sent.new") ||
        file_replace(part, path, 0644, b.bytes, b.len) != ERR_OK)
        (void)fprintf(stderr, "cairn feed: how far it came cannot be noted: %s\n", strerror(errno));
    textbuf_clear(&b);
}

/* The whole lines that stand in the journal from `at`, of at most PART_MAX bytes. False with errno
 * where it cannot be read. */
static bool read_part(const char *journal, int64_t at, int64_t end, struct textbuf *out) {
    int64_t most = end - at > PART_MAX ? PART_MAX : end - at;
    int fd = open(journal, O_RDONLY | O_CLOEXEC);
    size_t had = out->len;
    if (fd < 0 || !textbuf_reserve(out, (size_t)most)) {
        if (fd >= 0)
            (void)close(fd);
        return false;
    }
    ssize_t got = pread(fd, out->bytes + had, (size_t)most, (off_t)at);
    int error = errno;
    (void)close(fd);
    errno = error;
    if (got < 0)
        return false;
    size_t len = (size_t)got;
    while (len > 0 && out->bytes[had + len - 1] != '\n')
        len--;
    out->len = had + len;
    out->bytes[out->len] = '\0';
    return true;
}

/* Appends the rejected rows to their file, synced. */
static size_t keep_rejects(const struct feed_sender *f, const struct reading_file *file,
                           const struct textbuf *header, const char *text, size_t len) {
    char path[PATH_SIZE];
    struct textbuf b = {0};
    size_t count = reject_file_write(&b, file, text, len, (long)f->place.lines + 1);
    if (count > 0 && write_path(path, f->journal, ".rejects")) {
        int fd = open(path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
        bool fresh = fd >= 0 && lseek(fd, 0, SEEK_END) == 0;
        if (fd < 0 || b.failed || (fresh && !descriptor_write(fd, header->bytes, header->len)) ||
            !descriptor_write(fd, b.bytes, b.len) || fdatasync(fd) != 0)
            (void)fprintf(stderr, "cairn feed: %s cannot be written: %s\n", path, strerror(errno));
        if (fd >= 0)
            (void)close(fd);
    }
    textbuf_clear(&b);
    return count;
}

/* A clock that was set back, or a memory that is sent once more: told, and the rows are kept. */
static void tell_backward(struct feed_sender *f, const struct reading_file *file) {
    for (size_t i = 0; i < file->count; i++) {
        int64_t ms;
        if (time_parse(file->rows[i].text.field[READING_TIME], &ms) != ERR_OK)
            continue;
        if (f->last_ms != TIME_NONE && ms < f->last_ms - BACKWARD_MS &&
            f->backward_told++ < BACKWARD_TOLD_MAX)
            (void)fprintf(stderr,
                          "%s:%ld: warning: the device's times run backwards here: its clock was "
                          "set, or it sends what it had kept\n",
                          f->journal, file->rows[i].line);
        f->last_ms = ms;
    }
}

static enum feed_end deliver(struct feed_sender *f, struct reading_file *file) {
    struct sent_file *none = NULL;
    struct textbuf note = {0};
    struct progress progress;
    if (sent_file_open(NULL, f->url, &none, &note) != ERR_OK)
        return FEED_FAILED;
    progress_init(&progress, file->count, true);
    struct delivery delivery = {.command = "cairn feed",
                                .name = f->journal,
                                .file = file,
                                .client = f->client,
                                .url = f->url,
                                .sent_file = none,
                                .progress = &progress,
                                .stop = f->stop,
                                .batch = f->batch,
                                .recognised = f->recognised};
    enum delivery_end end = delivery_run(&delivery);
    f->accepted += delivery.accepted;
    f->duplicates += delivery.duplicates;
    /* A server that once took rows and now takes none may be mended, or given its key again. */
    bool hopeless = !f->recognised;
    f->recognised = f->recognised || (delivery.recognised && end == DELIVERY_DONE);
    sent_file_free(none);
    textbuf_clear(&note);
    return end == DELIVERY_DONE                 ? FEED_GOES_ON
           : end == DELIVERY_FAILED && hopeless ? FEED_FAILED
                                                : FEED_STOPPED;
}

/* One part: `text` begins with the header's `head` bytes. */
static enum feed_end send_part(struct feed_sender *f, const struct textbuf *text, size_t head,
                               const struct textbuf *header) {
    struct problems problems = {0};
    struct reading_file file = {0};
    f->options->first_line = (long)f->place.lines + 1;
    int err = reading_file_read(f->journal, text->bytes, text->len, f->options, &problems, &file);
    print_problems(&problems);
    problems_clear(&problems);
    enum feed_end end = err == ERR_OK ? FEED_GOES_ON : FEED_FAILED;
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn feed: %s\n", err_text(err));
    if (end == FEED_GOES_ON) {
        tell_backward(f, &file);
        end = deliver(f, &file);
    }
    if (end == FEED_GOES_ON) {
        const char *rows = text->bytes + head;
        size_t len = text->len - head;
        f->rejected += keep_rejects(f, &file, header, rows, len);
        f->place.sent += (int64_t)len;
        for (size_t i = 0; i < len; i++)
            f->place.lines += rows[i] == '\n';
    }
    reading_file_clear(&file);
    return end;
}

/* The header, which is the journal's first line; nothing where columns have numbers. */
static enum feed_end take_header(struct feed_sender *f, int64_t on_disk, struct textbuf *header) {
    struct problems problems = {0};
    struct reading_file none = {0};
    struct textbuf part = {0};
    if (f->options->form->map.numbered)
        return FEED_GOES_ON;
    bool good = read_part(f->journal, 0, on_disk, &part);
    if (good)
        reject_file_write_header(header, textbuf_text(&part), part.len);
    textbuf_clear(&part);
    if (!good || header->failed)
        return FEED_FAILED;
    if (f->place.sent == 0) {
        f->place.sent = (int64_t)header->len;
        f->place.lines = 1;
    }
    if (f->header_seen)
        return FEED_GOES_ON;
    f->options->first_line = 0;
    int err =
        reading_file_read(f->journal, header->bytes, header->len, f->options, &problems, &none);
    print_problems(&problems);
    problems_clear(&problems);
    reading_file_clear(&none);
    f->header_seen = err == ERR_OK;
    return err == ERR_OK ? FEED_GOES_ON : FEED_FAILED;
}

enum feed_end feed_sender_run(struct feed_sender *f, int64_t on_disk, int64_t source) {
    struct textbuf header = {0};
    size_t before = f->accepted + f->duplicates + f->rejected;
    if (on_disk <= f->place.sent)
        return FEED_GOES_ON;
    enum feed_end end = take_header(f, on_disk, &header);
    while (end == FEED_GOES_ON && f->place.sent < on_disk && *f->stop == 0) {
        struct textbuf text = {0};
        textbuf_add(&text, header.bytes, header.len);
        if (!read_part(f->journal, f->place.sent, on_disk, &text) || text.len == header.len) {
            (void)fprintf(stderr, "cairn feed: %s cannot be read: %s\n", f->journal,
                          strerror(errno));
            end = FEED_FAILED;
        } else {
            end = send_part(f, &text, header.len, &header);
        }
        textbuf_clear(&text);
        if (end == FEED_GOES_ON) {
            if (f->place.sent == on_disk)
                f->place.source = source;
            save(f);
        }
    }
    textbuf_clear(&header);
    if (!f->quiet && f->accepted + f->duplicates + f->rejected > before) {
        (void)printf("%zu new, %zu there already, %zu to be mended\n", f->accepted, f->duplicates,
                     f->rejected);
        (void)fflush(stdout);
    }
    return end;
}
