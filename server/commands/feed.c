/* SPDX-License-Identifier: MIT */
#include <poll.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "commands/commands.h"
#include "commands/device_options.h"
#include "commands/sending.h"
#include "remote/event_address.h"
#include "remote/feed_sender.h"
#include "remote/http_client.h"
#include "remote/line_intake.h"
#include "remote/reading_file.h"

enum {
    BATCH_DEFAULT = 200,
    BATCH_MAX = 5000,
    ANSWER_MAX = 32 << 20,
    CONNECT_SECONDS = 20,
    SILENT_SECONDS = 60,
    PAUSE_SECONDS = 30,
    DESK_BYTES = 4
};

static const char about[] =
    "cairn feed URL [options]\n"
    "\n"
    "Sends the lines of a timing device to a cairn server as they come. URL is the event's\n"
    "address, https://HOST/SLUG/. Lines come from standard input, from a file that grows\n"
    "(--follow) or from a serial line (--serial).\n";

struct feed_options {
    struct device_form form; /* the first member: see device_options.h */
    const char *key_file;
    const char *ca_file;
    const char *journal;
    struct line_source source;
    struct reading_file_options file;
    int64_t batch;
    bool clock_checked;
    bool quiet;
};

static const struct option_row rows[] = {
    {"follow", OPTION_TEXT, "FILE", "a file that grows",
     .at = offsetof(struct feed_options, source.follow)},
    {"serial", OPTION_TEXT, "DEVICE", "a serial line: /dev/ttyUSB0",
     .at = offsetof(struct feed_options, source.serial)},
    {"speed", OPTION_NUMBER, "BITS", "of the serial line in a second; default 9600",
     .at = offsetof(struct feed_options, source.form.speed), .least = 1200, .most = 115200},
    {"bits", OPTION_NUMBER, "N", "of a letter, 7 or 8; default 8",
     .at = offsetof(struct feed_options, source.form.bits), .least = 7, .most = 8},
    {"parity", OPTION_CHOICE, "WHICH", "none, even or odd; default none",
     .at = offsetof(struct feed_options, source.form.parity), .choices = serial_parities},
    {"stop-bits", OPTION_NUMBER, "N", "1 or 2; default 1",
     .at = offsetof(struct feed_options, source.form.stops), .least = 1, .most = 2},
    {"journal", OPTION_TEXT, "FILE", "where all lines are kept; default: feed.lines",
     .at = offsetof(struct feed_options, journal)},
    {"key-file", OPTION_TEXT, "FILE", "the key, or the link that holds it",
     .at = offsetof(struct feed_options, key_file)},
    DEVICE_OPTION_ROWS(device_take),
    {"clock-checked", OPTION_FLAG, NULL, "the device's clock is the event's; no --mark is needed",
     .at = offsetof(struct feed_options, clock_checked)},
    {"point", OPTION_TEXT, "ID", "the point of rows that name none",
     .at = offsetof(struct feed_options, file.point)},
    {"by", OPTION_TEXT, "NAME", "who made rows that do not say",
     .at = offsetof(struct feed_options, file.by)},
    {"batch", OPTION_NUMBER, "N", "rows sent at once, 1 to 5000; default 200",
     .at = offsetof(struct feed_options, batch), .least = 1, .most = BATCH_MAX},
    {"ca", OPTION_TEXT, "FILE", "certificates to trust instead of the system's",
     .at = offsetof(struct feed_options, ca_file)},
    {"quiet", OPTION_FLAG, NULL, "only say what is wrong",
     .at = offsetof(struct feed_options, quiet)},
    {0},
};

static const char notes[] =
    "Each line is written to the journal and synced to the disk before it is sent; a line without\n"
    "its end waits. FILE.sent beside it tells how far it was sent: after Ctrl-C, a crash or a lost\n"
    "line the same command goes on there, and what arrives twice counts once. The journal is a\n"
    "table like others: cairn send takes it too. What is wrong or refused goes to FILE.rejects,\n"
    "each line below its reason, to be mended and sent with cairn send.\n"
    "\n"
    "The key, columns and times are as for cairn send. Without --columns car=1,time=2 the first\n"
    "line of the journal is the headings. A pulse without a car's number is sent as a time that\n"
    "the office numbers. Times of a clock with neither --mark nor --clock-checked carry the mark\n"
    "clock-unverified.\n"
    "\n"
    "Exit status: 0 where standard input has ended and the server has every row; 2 where rows\n"
    "were wrong or refused; 1 where rows are still to be sent.\n";

/* Whose pulses they are: the same each time for one journal. */
static void name_desk(const char *journal, char desk[DESK_BYTES * 2 + 1]) {
    unsigned char hash[crypto_generichash_BYTES];
    (void)crypto_generichash(hash, sizeof hash, (const unsigned char *)journal, strlen(journal),
                             NULL, 0);
    (void)sodium_bin2hex(desk, DESK_BYTES * 2 + 1, hash, DESK_BYTES);
}

/* Until the source has ended and all is sent, or the person asks to stop. */
static int pump(struct feed_sender *sender, struct line_intake *intake) {
    for (;;) {
        int64_t on_disk = line_intake_wait(intake, sender->place.sent);
        bool ended = line_intake_has_ended(intake);
        int64_t source = line_intake_position(intake);
        on_disk = line_intake_wait(intake, on_disk - 1);
        enum feed_end end = feed_sender_run(sender, on_disk, source);
        if (end == FEED_FAILED || sending_stop != 0)
            return EXIT_MACHINE;
        if (end == FEED_STOPPED) {
            for (int s = 0; s < PAUSE_SECONDS && sending_stop == 0; s++)
                (void)poll(NULL, 0, 1000);
        } else if (ended && sender->place.sent >= on_disk) {
            return sender->rejected > 0 ? EXIT_INPUT : EXIT_GOOD;
        }
    }
}

static int feed_lines(struct feed_options *o, const struct event_address *address,
                      const char *key) {
    struct textbuf why = {0};
    struct http_client *client = NULL;
    struct line_intake *intake = NULL;
    const struct http_options how = {.key = key,
                                     .ca_file = o->ca_file,
                                     .answer_max = ANSWER_MAX,
                                     .connect_seconds = CONNECT_SECONDS,
                                     .silent_seconds = SILENT_SECONDS,
                                     .stop = &sending_stop};
    struct feed_sender sender = {.journal = o->journal,
                                 .options = &o->file,
                                 .url = address->readings,
                                 .stop = &sending_stop,
                                 .batch = (size_t)o->batch,
                                 .quiet = o->quiet};
    int err = http_client_new(&how, &client, &why);
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn feed: %s\n", why.len > 0 ? textbuf_text(&why) : err_text(err));
    sender.client = client;
    feed_sender_load(&sender, INT64_MAX);
    o->source.from = sender.place.source;
    if (err == ERR_OK)
        err = line_intake_begin(&o->source, o->journal, &sending_stop, &intake);
    int code = exit_code(err);
    if (err == ERR_OK) {
        if (sender.place.sent > line_intake_wait(intake, -1))
            sender.place = (struct feed_place){0};
        code = pump(&sender, intake);
    }
    if (line_intake_end(intake) && code == EXIT_GOOD)
        code = EXIT_INPUT;
    http_client_free(client);
    textbuf_clear(&why);
    return code;
}

static int feed(struct feed_options *o, struct event_address *address) {
    char desk[DESK_BYTES * 2 + 1];
    char *key = NULL;
    if (o->source.follow != NULL && o->source.serial != NULL)
        return usage_error(&command_feed, "--follow and --serial do not go together");
    int code = sending_find_key(&command_feed, o->key_file, o->quiet, address, &key);
    if (code == EXIT_GOOD) {
        name_desk(o->journal, desk);
        o->form.desk = desk;
        o->form.marked_doubtful = !o->clock_checked;
        o->file.form = &o->form;
        o->source.encoding = (enum text_encoding)o->form.encoding;
        o->source.has_header = !o->form.map.numbered;
        sending_catch_signals();
        code = feed_lines(o, address, key);
        o->form.desk = NULL;
    }
    event_key_free(key);
    return code;
}

static void clear(void *options) {
    struct feed_options *o = options;
    device_form_clear(&o->form);
}

static int run(const struct arguments *a) {
    struct feed_options *o = a->options;
    struct event_address address = {0};
    struct textbuf why = {0};
    if (sodium_init() < 0)
        return exit_code(ERR_IO);
    int err = event_address_parse(a->operands[0], &address, &why);
    /* The arguments of a process can be read by others as long as it runs. */
    char *fragment = strchr(a->operands[0], '#');
    if (fragment != NULL)
        sodium_memzero(fragment, strlen(fragment));
    int code = err == ERR_INPUT ? usage_error(&command_feed, "%s", textbuf_text(&why))
               : err != ERR_OK  ? exit_code(err)
                                : feed(o, &address);
    event_address_clear(&address);
    textbuf_clear(&why);
    return code;
}

const struct command command_feed = {
    .name = "feed",
    .summary = "send a timing device's lines to a running server as they come",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 1,
    .most = 1,
    .needs = "an address",
    .defaults =
        &(const struct feed_options){.form = DEVICE_FORM_DEFAULTS,
                                     .journal = "feed.lines",
                                     .source = {.form = {.speed = 9600, .bits = 8, .stops = 1}},
                                     .batch = BATCH_DEFAULT},
    .size = sizeof(struct feed_options),
    .clear = clear,
    .run = run,
};
