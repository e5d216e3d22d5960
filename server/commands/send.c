/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "commands/commands.h"
#include "commands/device_options.h"
#include "commands/sending.h"
#include "remote/delivery.h"
#include "remote/event_address.h"
#include "remote/http_client.h"
#include "remote/reject_file.h"
#include "remote/sent_file.h"
#include "system/files.h"
#include "system/problem_lines.h"

enum {
    BATCH_DEFAULT = 200,
    BATCH_MAX = 5000,
    TRIES_MAX = 1000000,
    ANSWER_MAX = 32 << 20, /* an answer to 50,000 rows that are all refused is shorter */
    CONNECT_SECONDS = 20,
    SILENT_SECONDS = 60
};

static const char about[] =
    "cairn send URL FILE [options]\n"
    "\n"
    "Sends a file of readings to a cairn server, and goes on until all are there. URL is the\n"
    "event's address, https://HOST/SLUG/. FILE is a readings.csv or the table of a timing device;\n"
    "“-” is standard input.\n";

struct send_options {
    struct device_form form; /* the first member: see device_options.h */
    const char *key_file;
    const char *ca_file;
    const char *rejects;
    struct reading_file_options file;
    int64_t batch;
    int64_t tries;
    bool again;
    bool whole;
    bool dry_run;
    bool quiet;
};

static int take_map(void *options, const char *name, char *value, struct textbuf *why) {
    struct send_options *s = options;
    (void)name;
    textbuf_puts(why, ": ");
    return column_map_parse(&s->form.map, value, why);
}

static const struct option_row rows[] = {
    {"key-file", OPTION_TEXT, "FILE", "the key, or the link that holds it",
     .at = offsetof(struct send_options, key_file)},
    {"map", OPTION_TAKEN, "OURS=THEIRS,...", "the file's own headings: --map time=Zeit,car=Nr",
     .take = take_map},
    DEVICE_OPTION_ROWS(device_take),
    {"point", OPTION_TEXT, "ID", "the point of rows that name none",
     .at = offsetof(struct send_options, file.point)},
    {"by", OPTION_TEXT, "NAME", "who made rows that do not say",
     .at = offsetof(struct send_options, file.by)},
    {"batch", OPTION_NUMBER, "N", "rows sent at once, 1 to 5000; default 200",
     .at = offsetof(struct send_options, batch), .least = 1, .most = BATCH_MAX},
    {"tries", OPTION_NUMBER, "N", "tries of a batch before it gives up; default: it keeps on",
     .at = offsetof(struct send_options, tries), .least = 1, .most = TRIES_MAX},
    {"again", OPTION_FLAG, NULL, "send all rows, also those that FILE.sent says were sent",
     .at = offsetof(struct send_options, again)},
    {"whole", OPTION_FLAG, NULL, "a last line without a line end is whole",
     .at = offsetof(struct send_options, whole)},
    {"rejects", OPTION_TEXT, "FILE", "where rejected rows go; default: FILE.rejects",
     .at = offsetof(struct send_options, rejects)},
    {"dry-run", OPTION_FLAG, NULL, "only check the file; nothing is sent",
     .at = offsetof(struct send_options, dry_run)},
    {"ca", OPTION_TEXT, "FILE", "certificates to trust instead of the system's",
     .at = offsetof(struct send_options, ca_file)},
    {"quiet", OPTION_FLAG, NULL, "only say what is wrong",
     .at = offsetof(struct send_options, quiet)},
    {0},
};

static const char notes[] =
    "The key is looked for in --key-file, then in the link that the organiser gave, if that is\n"
    "the URL (https://HOST/SLUG/control#KEY), then in the environment variable CAIRN_KEY. There "
    "is\n"
    "no option for the key itself: a command line can be read by everybody on the machine, and\n"
    "stays in the shell's history. That goes for a link as URL too (it is blotted out of the list\n"
    "of processes at once, not out of the history): on a shared machine use --key-file. The key\n"
    "travels in a header, never in an address.\n"
    "\n"
    "Columns: point, car and any of time, elapsed, faults, id, at, by, replaces, void, reason, in\n"
    "any order, set apart by commas, semicolons or tabs. Unknown columns are sent along and kept.\n"
    "Blanks around a field are dropped, except in by and reason. A decimal comma is taken in a\n"
    "time with colons (10:42:07,5), and in plain seconds (83,45) unless they could be thousands:\n"
    "“1,234” in a file with commas is refused.\n"
    "\n"
    "A table without headings is told by numbers: --columns car=1,time=3. Times may be written\n"
    "9:07:20.5, 210720, 9:07:20 PM or 2027-05-20T21:54:00+02:00 (that with --date), a duration\n"
    "0:11.7; seconds of the day need --time-format seconds. --mark tells what the device's clock\n"
    "showed when the event's showed something else; its times are set right by that, and each row\n"
    "keeps what was written (device_time) and how far it may be wrong (uncertainty_ms).\n"
    "\n"
    "A last line without a line end may still be being written: it waits for a second run, or for\n"
    "--whole. Rows that are wrong or refused are written to FILE.rejects, each below the reason:\n"
    "mend them there and send that file.\n"
    "\n"
    "Each row is checked first; what is wrong is told as FILE:LINE: what is wrong, and those rows\n"
    "are not sent. A row without an id gets the one that its content makes, so that sending it\n"
    "again counts once (keep --point and --by the same: they are content). What the server\n"
    "refuses is told with its reason.\n"
    "\n"
    "FILE.sent notes what the server has acknowledged; a second run goes on from there. It may be\n"
    "deleted. When the line is lost, or the server is busy, it waits and tries again, longer each\n"
    "time, up to a minute. Ctrl-C ends it; run the same command again to go on.\n"
    "\n"
    "Exit status: 0 where the server has every row; 2 for wrong rows or refused readings; 1 where\n"
    "rows are still to be sent: no answer, a key that is not taken, Ctrl-C.\n";

/* A file's text as UTF-8, without a last line that has no end. */
struct sent_text {
    struct textbuf text;
    bool held_back;
};

/* Leaves out a last line that may still be being written. */
static void hold_back(struct sent_text *t, const char *name) {
    size_t len = t->text.len;
    long line = 1;
    while (len > 0 && t->text.bytes[len - 1] != '\n' && t->text.bytes[len - 1] != '\r')
        len--;
    if (len == t->text.len || t->text.failed)
        return;
    for (size_t i = 0; i < len; i++)
        line +=
            t->text.bytes[i] == '\n' || (t->text.bytes[i] == '\r' && t->text.bytes[i + 1] != '\n');
    struct problems problems = {0};
    problems_add(&problems, PROBLEM_ERROR, name, line,
                 "the last line has no line end and may not be whole: it is not sent; end it, or "
                 "say --whole");
    print_problems(&problems);
    problems_clear(&problems);
    t->text.len = len;
    t->text.bytes[len] = '\0';
    t->held_back = true;
}

/* Reads and checks the file, and says what is wrong with it. Returns an exit code: EXIT_INPUT
 * only where nothing of it can be sent. */
static int read_rows(const char *path, const char *name, const struct send_options *s,
                     struct sent_text *t, struct reading_file *file) {
    struct problems problems = {0};
    char *text = NULL;
    size_t len = 0;
    int err =
        path == NULL ? descriptor_read(STDIN_FILENO, &text, &len) : file_read(path, &text, &len);
    if (err == ERR_UNKNOWN || err == ERR_IO) {
        (void)fprintf(stderr, "cairn send: %s cannot be read: %s\n", name, strerror(errno));
        return err == ERR_UNKNOWN ? EXIT_INPUT : EXIT_MACHINE;
    }
    if (err == ERR_OK) {
        enum text_encoding told = (enum text_encoding)s->form.encoding;
        (void)text_decode(text_encoding_of(text, len, told), text, len, &t->text);
        if (!s->whole)
            hold_back(t, name);
        err = t->text.failed ? ERR_NOMEM : ERR_OK;
    }
    free(text);
    if (err == ERR_OK)
        err =
            reading_file_read(name, textbuf_text(&t->text), t->text.len, &s->file, &problems, file);
    print_problems(&problems);
    problems_clear(&problems);
    return exit_code(err);
}

/* Writes the rows that stay behind beside the file, or takes away an older file of them. */
static void write_rejects(const struct send_options *s, const char *path, const struct sent_text *t,
                          const struct reading_file *file) {
    struct textbuf name = {0};
    struct textbuf part = {0};
    struct textbuf b = {0};
    if (path == NULL && s->rejects == NULL)
        return;
    if (s->rejects != NULL)
        textbuf_puts(&name, s->rejects);
    else
        textbuf_printf(&name, "%s.rejects", path);
    textbuf_printf(&part, "%s.new", textbuf_text(&name));
    if (!s->form.map.numbered)
        reject_file_write_header(&b, textbuf_text(&t->text), t->text.len);
    size_t count = reject_file_write(&b, file, textbuf_text(&t->text), t->text.len, 1);
    if (name.failed || part.failed || b.failed)
        (void)fprintf(stderr, "cairn send: %s\n", err_text(ERR_NOMEM));
    else if (count == 0)
        (void)unlink(textbuf_text(&name));
    else if (file_replace(textbuf_text(&part), textbuf_text(&name), 0644, b.bytes, b.len) != ERR_OK)
        (void)fprintf(stderr, "cairn send: %s cannot be written: %s\n", textbuf_text(&name),
                      strerror(errno));
    else if (!s->quiet)
        (void)printf("%zu to be mended: %s\n", count, textbuf_text(&name));
    textbuf_clear(&name);
    textbuf_clear(&part);
    textbuf_clear(&b);
}

/* Rows that FILE.sent names need not go again. Returns how many. */
static size_t skip_sent(const struct sent_file *sent_file, struct reading_file *file) {
    size_t count = 0;
    for (size_t i = 0; i < file->count; i++) {
        if (sent_file_has(sent_file, file->rows[i].digest)) {
            file->rows[i].state = ROW_SENT;
            count++;
        }
    }
    return count;
}

static void write_left_out(struct textbuf *b, const struct reading_file *file) {
    if (file->repeated > 0) {
        textbuf_puts(b, ", ");
        progress_write_count(b, file->repeated);
        textbuf_puts(b, " repeated in the file");
    }
    if (file->wrong > 0) {
        textbuf_puts(b, ", ");
        progress_write_count(b, file->wrong);
        textbuf_puts(b, " wrong and not sent");
    }
}

static void print_line(const struct textbuf *b) {
    (void)printf("%s\n", textbuf_text(b));
    (void)fflush(stdout);
}

static void print_check(const struct reading_file *file) {
    struct textbuf b = {0};
    progress_write_count(&b, file->count);
    textbuf_puts(&b, " good");
    write_left_out(&b, file);
    textbuf_puts(&b, "; nothing was sent");
    print_line(&b);
    textbuf_clear(&b);
}

static void print_end(const struct delivery *d, enum delivery_end end, size_t earlier) {
    struct textbuf b = {0};
    progress_write(d->progress, &b);
    textbuf_puts(&b, ": ");
    progress_write_count(&b, d->accepted);
    textbuf_puts(&b, " new, ");
    progress_write_count(&b, d->duplicates);
    textbuf_puts(&b, " there already");
    if (earlier > 0) {
        textbuf_puts(&b, ", ");
        progress_write_count(&b, earlier);
        textbuf_puts(&b, " by an earlier run");
    }
    write_left_out(&b, d->file);
    print_line(&b);
    if (end != DELIVERY_DONE)
        (void)printf("The rest is still to be sent: run the same command again. %s\n",
                     sent_file_path(d->sent_file) != NULL ? "It goes on where this one ended."
                                                          : "What is there already counts once.");
    (void)fflush(stdout);
    textbuf_clear(&b);
}

static int deliver(const struct send_options *s, const struct event_address *address,
                   const char *key, const char *path, const char *name, struct reading_file *file) {
    struct textbuf why = {0};
    struct sent_file *sent_file = NULL;
    struct http_client *client = NULL;
    const struct http_options how = {.key = key,
                                     .ca_file = s->ca_file,
                                     .answer_max = ANSWER_MAX,
                                     .connect_seconds = CONNECT_SECONDS,
                                     .silent_seconds = SILENT_SECONDS,
                                     .stop = &sending_stop};
    struct progress progress;
    int code = EXIT_MACHINE;
    int err = sent_file_open(path, address->readings, &sent_file, &why);
    if (err != ERR_OK)
        return exit_code(err);
    if (why.len > 0)
        (void)fprintf(stderr, "cairn send: %s\n", textbuf_text(&why));
    textbuf_clear(&why);
    if (s->again)
        sent_file_forget(sent_file);
    size_t earlier = skip_sent(sent_file, file);
    err = http_client_new(&how, &client, &why);
    if (err != ERR_OK) {
        (void)fprintf(stderr, "cairn send: %s\n", why.len > 0 ? textbuf_text(&why) : err_text(err));
    } else {
        progress_init(&progress, file->count, s->quiet);
        progress.sent = earlier;
        struct delivery delivery = {.command = "cairn send",
                                    .name = name,
                                    .file = file,
                                    .client = client,
                                    .url = address->readings,
                                    .sent_file = sent_file,
                                    .progress = &progress,
                                    .stop = &sending_stop,
                                    .batch = (size_t)s->batch,
                                    .tries = s->tries};
        enum delivery_end end = delivery_run(&delivery);
        if (!s->quiet)
            print_end(&delivery, end, earlier);
        if (end == DELIVERY_DONE)
            code = progress.refused > 0 || file->wrong > 0 ? EXIT_INPUT : EXIT_GOOD;
    }
    textbuf_clear(&why);
    http_client_free(client);
    sent_file_free(sent_file);
    return code;
}

static int send_file(const struct send_options *s, struct event_address *address,
                     const char *operand) {
    struct reading_file file = {0};
    struct sent_text text = {0};
    const char *path = strcmp(operand, "-") == 0 ? NULL : operand;
    const char *name = path == NULL ? "standard input" : path;
    char *key = NULL;
    int code = s->dry_run ? EXIT_GOOD
                          : sending_find_key(&command_send, s->key_file, s->quiet, address, &key);
    if (code == EXIT_GOOD && !s->quiet && !s->dry_run && address->in_clear)
        (void)fprintf(stderr, "cairn send: warning: over http:// the key can be read on the way\n");
    if (code == EXIT_GOOD)
        code = read_rows(path, name, s, &text, &file);
    if (code == EXIT_GOOD && s->dry_run) {
        if (!s->quiet)
            print_check(&file);
        code = file.wrong > 0 ? EXIT_INPUT : EXIT_GOOD;
    } else if (code == EXIT_GOOD) {
        sending_catch_signals();
        code = deliver(s, address, key, path, name, &file);
        write_rejects(s, path, &text, &file);
    }
    if (code == EXIT_GOOD && text.held_back)
        code = EXIT_INPUT;
    textbuf_clear(&text.text);
    reading_file_clear(&file);
    event_key_free(key);
    return code;
}

static void clear(void *options) {
    struct send_options *s = options;
    device_form_clear(&s->form);
}

static int run(const struct arguments *a) {
    struct send_options *s = a->options;
    struct event_address address = {0};
    struct textbuf why = {0};
    s->file.form = &s->form;
    if (sodium_init() < 0)
        return exit_code(ERR_IO);
    int err = event_address_parse(a->operands[0], &address, &why);
    /* The arguments of a process can be read by others as long as it runs. */
    char *fragment = strchr(a->operands[0], '#');
    if (fragment != NULL)
        sodium_memzero(fragment, strlen(fragment));
    int code = err == ERR_INPUT ? usage_error(&command_send, "%s", textbuf_text(&why))
               : err != ERR_OK  ? exit_code(err)
                                : send_file(s, &address, a->operands[1]);
    event_address_clear(&address);
    textbuf_clear(&why);
    return code;
}

const struct command command_send = {
    .name = "send",
    .summary = "send a file of readings to a running server",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 2,
    .most = 2,
    .needs = "an address and a file",
    .defaults = &(const struct send_options){.form = DEVICE_FORM_DEFAULTS, .batch = BATCH_DEFAULT},
    .size = sizeof(struct send_options),
    .clear = clear,
    .run = run,
};
