/* SPDX-License-Identifier: MIT */
#include <signal.h>

#include "commands/commands.h"
#include "remote/server_check.h"
#include "store/folder_check.h"
#include "system/certificate_check.h"
#include "system/machine_check.h"

static const char about[] =
    "cairn doctor DATA_DIR [options]\n"
    "\n"
    "Looks over the machine and the event files, and changes nothing: clock, disk, open files,\n"
    "memory, permissions, schema and wholeness of each event, whether a server has it open and\n"
    "can write it now, by that server's own word. One line each, beginning with\n"
    "good:, doubtful: or bad:. Works while the server runs; run it as the user who serves.\n";

struct doctor_options {
    const char *backups, *cert, *key, *url;
};

static const struct option_row rows[] = {
    {"backups", OPTION_TEXT, "FOLDER", "also how old the newest copy of each event is",
     .at = offsetof(struct doctor_options, backups)},
    {"tls-cert", OPTION_TEXT, "FILE", "also a certificate's dates",
     .at = offsetof(struct doctor_options, cert)},
    {"tls-key", OPTION_TEXT, "FILE", "and whether its key belongs to it and is kept close",
     .at = offsetof(struct doctor_options, key)},
    {"url", OPTION_TEXT, "URL",
     "also whether a server answers there, whether it can write, and what\n"
     "a stranger sees of its certificate where it is https",
     .at = offsetof(struct doctor_options, url)},
    {0},
};

static const char notes[] =
    "Exit status: 0; 2 where anything is bad, or for a wrong command line; 1 for a failure of\n"
    "the machine. It says nothing of people: search, marshals and radio have their own plan.\n";

static int run(const struct arguments *a) {
    const struct doctor_options *o = a->options;
    struct findings found = {0};
    if (o->key != NULL && o->cert == NULL)
        return usage_error(&command_doctor, "--tls-key needs --tls-cert");
    (void)signal(SIGPIPE, SIG_IGN);
    machine_check(&found);
    folder_check(&found, a->operands[0], o->backups);
    if (o->cert != NULL)
        certificate_check(&found, o->cert, o->key);
    if (o->url != NULL)
        server_check(&found, o->url);
    int code = print_output(&found.report);
    if (code == EXIT_GOOD && found.counts[FINDING_BAD] > 0)
        code = EXIT_INPUT;
    textbuf_clear(&found.report);
    return code;
}

const struct command command_doctor = {
    .name = "doctor",
    .summary = "look over the machine and the event files",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 1,
    .most = 1,
    .needs = "one data folder",
    .defaults = &(const struct doctor_options){0},
    .size = sizeof(struct doctor_options),
    .run = run,
};
