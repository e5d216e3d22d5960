/* SPDX-License-Identifier: MIT */
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "commands/command.h"
#include "remote/doctor.h"

static const char help[] =
    "cairn doctor DATA_DIR [options]\n"
    "\n"
    "Looks over the machine and the event files, and changes nothing: clock, disk, open files,\n"
    "memory, permissions, schema and wholeness of each event, whether a server has it open and\n"
    "can write it now, by that server's own word. One line each, beginning with\n"
    "good:, doubtful: or bad:. Works while the server runs; run it as the user who serves.\n"
    "\n"
    "  --backups FOLDER   also how old the newest copy of each event is\n"
    "  --tls-cert FILE    also a certificate's dates\n"
    "  --tls-key FILE     and whether its key belongs to it and is kept close\n"
    "  --url URL          also whether a server answers there, whether it can write, and what\n"
    "                     a stranger sees of its certificate where it is https\n"
    "\n"
    "Exit status: 0; 2 where anything is bad, or for a wrong command line; 1 for a failure of\n"
    "the machine. It says nothing of people: search, marshals and radio have their own plan.\n";

static int run(int argc, char **argv) {
    struct options o;
    struct doctor d = {0};
    const char *backups = NULL;
    const char *cert = NULL;
    const char *key = NULL;
    const char *url = NULL;
    const struct {
        const char *name;
        const char **value;
    } known[] = {{"backups", &backups}, {"tls-cert", &cert}, {"tls-key", &key}, {"url", &url}};
    options_init(&o, &command_doctor, argc, argv);
    while (options_next(&o)) {
        const char **into = NULL;
        if (strcmp(o.name, "help") == 0) {
            (void)fputs(help, stdout);
            return EXIT_GOOD;
        }
        for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
            if (strcmp(o.name, known[i].name) == 0)
                into = known[i].value;
        }
        if (into == NULL)
            return options_unknown(&o);
        *into = options_value(&o);
        if (*into == NULL)
            return EXIT_INPUT;
    }
    if (o.operand_count != 1)
        return usage_error(&command_doctor, "it needs one data folder");
    if (key != NULL && cert == NULL)
        return usage_error(&command_doctor, "--tls-key needs --tls-cert");
    (void)signal(SIGPIPE, SIG_IGN);
    doctor_machine(&d);
    doctor_folder(&d, o.operands[0], backups);
    if (cert != NULL)
        doctor_certificate(&d, cert, key);
    if (url != NULL)
        doctor_url(&d, url);
    int code = print_output(&d.report);
    if (code == EXIT_GOOD && d.counts[FOUND_BAD] > 0)
        code = EXIT_INPUT;
    textbuf_clear(&d.report);
    return code;
}

const struct command command_doctor = {
    .name = "doctor",
    .summary = "look over the machine and the event files",
    .help = help,
    .run = run,
};
