/* SPDX-License-Identifier: MIT */
#include "remote/line_intake.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "system/files.h"

enum { STEP = 65536, PAUSE_MS = 200, AGAIN_MS = 1000 };

struct line_intake {
    const struct line_source *source;
    const volatile sig_atomic_t *stop;
    int fd; /* of the source; -1 while a serial line is gone */
    int journal;
    enum text_encoding encoding;
    bool begun;           /* the encoding was looked for */
    bool passing;         /* the rest of a line that is too long is passed over */
    struct textbuf raw;   /* bytes that are no whole line or letter yet */
    struct textbuf part;  /* the line that is coming, as UTF-8 */
    struct textbuf last;  /* the line before */
    struct textbuf first; /* the header */
    struct textbuf out;   /* for the journal */
    int64_t taken;        /* bytes of the file read */
    pthread_t thread;
    atomic_bool asked_to_end;
    atomic_bool ended;
    _Atomic int64_t on_disk;
    _Atomic int64_t position;
};

static void tell(const char *text, const char *more) {
    (void)fprintf(stderr, "cairn feed: %s%s\n", text, more);
}

/* A whole line, without its end. */
static void take_line(struct line_intake *in) {
    const char *line = textbuf_text(&in->part);
    bool too_long = in->passing || in->part.len > INTAKE_LINE_MAX;
    bool again =
        in->part.len == in->last.len && memcmp(line, textbuf_text(&in->last), in->part.len) == 0;
    bool header = in->source->has_header && in->first.len > 0 && in->part.len == in->first.len &&
                  memcmp(line, in->first.bytes, in->first.len) == 0;
    if (in->part.len > 0 && !too_long && !again && !header) {
        textbuf_add(&in->out, line, in->part.len);
        textbuf_putc(&in->out, '\n');
        textbuf_reset(&in->last);
        textbuf_add(&in->last, line, in->part.len);
        if (in->first.len == 0)
            textbuf_add(&in->first, line, in->part.len);
    }
    in->passing = false;
    textbuf_reset(&in->part);
}

static void split(struct line_intake *in, const char *text, size_t len) {
    for (size_t i = 0; i < len; i++) {
        if (text[i] == '\n' || text[i] == '\r') {
            take_line(in);
        } else if (in->part.len < INTAKE_LINE_MAX) {
            textbuf_putc(&in->part, text[i]);
        } else if (!in->passing) {
            in->passing = true;
            tell("a line without end is passed over", "");
        }
    }
}

static bool is_wide(enum text_encoding encoding) {
    return encoding == TEXT_UTF16LE || encoding == TEXT_UTF16BE;
}

/* How many of the raw bytes can be decoded: all of two-byte letters, else whole lines. A line
 * without end is decoded in pieces, and passed over. */
static size_t ready(const struct line_intake *in) {
    size_t len = in->raw.len;
    if (is_wide(in->encoding) || len > (size_t)INTAKE_LINE_MAX * 4)
        return len;
    while (len > 0 && in->raw.bytes[len - 1] != '\n' && in->raw.bytes[len - 1] != '\r')
        len--;
    return len;
}

static void take_bytes(struct line_intake *in, const char *bytes, size_t len) {
    struct textbuf text = {0};
    textbuf_add(&in->raw, bytes, len);
    if (!in->begun && in->raw.len >= 3) {
        in->encoding = text_encoding_of(in->raw.bytes, in->raw.len, in->encoding);
        in->begun = true;
    }
    size_t used = in->raw.failed ? 0 : ready(in);
    if (used > 0)
        used = text_decode(in->encoding, in->raw.bytes, used, &text);
    const char *at = textbuf_text(&text);
    size_t left = text.len;
    if (left >= 3 && memcmp(at, "\xEF\xBB\xBF", 3) == 0) {
        at += 3;
        left -= 3;
    }
    split(in, at, left);
    if (used > 0) {
        memmove(in->raw.bytes, in->raw.bytes + used, in->raw.len - used);
        in->raw.len -= used;
        in->raw.bytes[in->raw.len] = '\0';
    }
    in->raw.failed = in->raw.failed || text.failed;
    textbuf_clear(&text);
}

/* Brings what is whole to the disk. False where that fails: then nothing more is read. */
static bool keep(struct line_intake *in) {
    if (in->raw.failed || in->part.failed || in->last.failed || in->first.failed ||
        in->out.failed) {
        tell(err_text(ERR_NOMEM), "");
        return false;
    }
    if (in->out.len > 0) {
        if (!descriptor_write(in->journal, in->out.bytes, in->out.len) ||
            fdatasync(in->journal) != 0) {
            tell("the journal cannot be written: ", strerror(errno));
            return false;
        }
        atomic_fetch_add(&in->on_disk, (int64_t)in->out.len);
        textbuf_reset(&in->out);
    }
    /* What is no whole line is read again by the next run. */
    if (!is_wide(in->encoding))
        atomic_store(&in->position, in->taken - (int64_t)in->raw.len);
    return true;
}

/* A file that is shorter than what was read of it was begun anew. */
static void look_for_new_file(struct line_intake *in) {
    struct stat info;
    if (fstat(in->fd, &info) != 0 || info.st_size >= in->taken)
        return;
    tell("the file was begun anew: ", in->source->follow);
    (void)lseek(in->fd, 0, SEEK_SET);
    in->taken = 0;
    textbuf_reset(&in->raw);
    textbuf_reset(&in->part);
}

static bool open_again(struct line_intake *in) {
    if (in->fd >= 0) {
        (void)close(in->fd);
        in->fd = -1;
        textbuf_reset(&in->raw);
        textbuf_reset(&in->part);
        tell("the serial line is gone, and is waited for: ", in->source->serial);
    }
    (void)poll(NULL, 0, AGAIN_MS);
    in->fd = serial_open(in->source->serial, &in->source->form);
    if (in->fd >= 0)
        tell("the serial line is back: ", in->source->serial);
    return true;
}

/* One step. False at the end. */
static bool step(struct line_intake *in, char *room) {
    struct pollfd waits = {.fd = in->fd, .events = POLLIN};
    bool serial = in->source->serial != NULL;
    if (serial && in->fd < 0)
        return open_again(in);
    if (in->source->follow == NULL && poll(&waits, 1, PAUSE_MS) == 0)
        return true;
    ssize_t got = read(in->fd, room, STEP);
    if (got < 0 && (errno == EINTR || errno == EAGAIN))
        return true;
    if (got <= 0 && serial)
        return open_again(in);
    if (got <= 0 && in->source->follow != NULL) {
        look_for_new_file(in);
        (void)poll(NULL, 0, PAUSE_MS);
        return true;
    }
    if (got <= 0)
        return false;
    in->taken += got;
    take_bytes(in, room, (size_t)got);
    return keep(in);
}

static void *run(void *of) {
    struct line_intake *in = of;
    char *room = malloc(STEP);
    while (room != NULL && *in->stop == 0 && !atomic_load(&in->asked_to_end) && step(in, room))
        ;
    free(room);
    atomic_store(&in->ended, true);
    return NULL;
}

/* A journal that ends in the middle of a line lost its power there: that piece is no line. Its
 * header is the first line. */
static int open_journal(struct line_intake *in, const char *path) {
    char *text = NULL;
    size_t len = 0;
    in->journal = open(path, O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
    int err = in->journal < 0 ? ERR_IO : file_read(path, &text, &len);
    size_t whole = len;
    while (err == ERR_OK && whole > 0 && text[whole - 1] != '\n')
        whole--;
    if (err == ERR_OK && whole < len && ftruncate(in->journal, (off_t)whole) != 0)
        err = ERR_IO;
    if (err == ERR_OK && whole > 0)
        textbuf_add(&in->first, text, strcspn(text, "\n"));
    atomic_store(&in->on_disk, (int64_t)whole);
    if (err != ERR_OK && err != ERR_NOMEM) {
        (void)fprintf(stderr, "cairn feed: %s cannot be used: %s\n", path, strerror(errno));
        err = ERR_IO;
    }
    free(text);
    return err;
}

static int open_source(struct line_intake *in) {
    const struct line_source *s = in->source;
    const char *name = s->serial != NULL ? s->serial : s->follow;
    struct stat info;
    in->fd = s->serial != NULL   ? serial_open(s->serial, &s->form)
             : s->follow != NULL ? open(s->follow, O_RDONLY | O_CLOEXEC)
                                 : STDIN_FILENO;
    if (in->fd < 0) {
        (void)fprintf(stderr, "cairn feed: %s cannot be read: %s\n", name, strerror(errno));
        return ERR_INPUT;
    }
    if (s->follow != NULL && s->from > 0 && fstat(in->fd, &info) == 0 && info.st_size >= s->from &&
        lseek(in->fd, (off_t)s->from, SEEK_SET) >= 0)
        in->taken = s->from;
    atomic_store(&in->position, in->taken);
    return ERR_OK;
}

static void free_intake(struct line_intake *in) {
    if (in->fd > STDIN_FILENO)
        (void)close(in->fd);
    if (in->journal >= 0)
        (void)close(in->journal);
    textbuf_clear(&in->raw);
    textbuf_clear(&in->part);
    textbuf_clear(&in->last);
    textbuf_clear(&in->first);
    textbuf_clear(&in->out);
    free(in);
}

int line_intake_begin(const struct line_source *source, const char *journal,
                      const volatile sig_atomic_t *stop, struct line_intake **out) {
    struct line_intake *in = calloc(1, sizeof *in);
    *out = NULL;
    if (in == NULL)
        return ERR_NOMEM;
    *in = (struct line_intake){
        .source = source, .stop = stop, .fd = -1, .journal = -1, .encoding = source->encoding};
    int err = open_journal(in, journal);
    if (err == ERR_OK)
        err = open_source(in);
    if (err == ERR_OK && pthread_create(&in->thread, NULL, run, in) != 0)
        err = ERR_NOMEM;
    if (err != ERR_OK) {
        free_intake(in);
        return err;
    }
    *out = in;
    return ERR_OK;
}

int64_t line_intake_wait(struct line_intake *in, int64_t known) {
    for (int turns = 0; turns < 10; turns++) {
        if (atomic_load(&in->on_disk) > known || atomic_load(&in->ended) || *in->stop != 0)
            break;
        (void)poll(NULL, 0, PAUSE_MS / 4);
    }
    return atomic_load(&in->on_disk);
}

bool line_intake_has_ended(const struct line_intake *in) {
    return atomic_load(&in->ended);
}

int64_t line_intake_position(const struct line_intake *in) {
    return atomic_load(&in->position);
}

bool line_intake_end(struct line_intake *in) {
    if (in == NULL)
        return false;
    atomic_store(&in->asked_to_end, true);
    (void)pthread_join(in->thread, NULL);
    struct textbuf line = {0};
    textbuf_plain(&line, textbuf_text(in->part.len > 0 ? &in->part : &in->raw));
    bool left = line.len > 0 && in->source->follow == NULL;
    if (left)
        tell("the last line has no line end and may not be whole; it is not sent: ",
             textbuf_text(&line));
    textbuf_clear(&line);
    free_intake(in);
    return left;
}
