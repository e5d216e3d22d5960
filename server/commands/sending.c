/* SPDX-License-Identifier: MIT */
#include "commands/sending.h"

#include <errno.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "base/err.h"
#include "commands/commands.h"
#include "remote/event_address.h"
#include "system/files.h"

volatile sig_atomic_t sending_stop;

static void ask_to_stop(int number) {
    (void)number;
    sending_stop = 1;
}

void sending_catch_signals(void) {
    struct sigaction action = {.sa_handler = ask_to_stop, .sa_flags = (int)SA_RESETHAND};
    (void)sigemptyset(&action.sa_mask);
    (void)sigaction(SIGINT, &action, NULL);
    (void)sigaction(SIGTERM, &action, NULL);
    (void)signal(SIGPIPE, SIG_IGN);
}

int sending_find_key(const struct command *command, const char *key_file, bool quiet,
                     struct event_address *address, char **key) {
    const char *environment = getenv("CAIRN_KEY");
    char *text = NULL;
    size_t len = 0;
    int err = ERR_OK;
    *key = NULL;
    if (key_file != NULL) {
        struct stat info;
        err = file_read(key_file, &text, &len);
        if (err != ERR_OK) {
            (void)fprintf(stderr, "cairn %s: %s cannot be read: %s\n", command->name, key_file,
                          strerror(errno));
            return EXIT_INPUT;
        }
        if (!quiet && stat(key_file, &info) == 0 && (info.st_mode & (S_IRGRP | S_IROTH)) != 0)
            (void)fprintf(stderr, "cairn %s: warning: others on this machine can read %s\n",
                          command->name, key_file);
        err = event_key_parse(text, key);
        sodium_memzero(text, len);
        free(text);
        if (err == ERR_SYNTAX)
            return usage_error(command, "%s holds no key", key_file);
    } else if (address->key != NULL) {
        *key = address->key;
        address->key = NULL;
    } else if (environment != NULL && *environment != '\0') {
        err = event_key_parse(environment, key);
        if (err == ERR_SYNTAX)
            return usage_error(command, "CAIRN_KEY holds no key");
    } else {
        return usage_error(command, "a key is needed: --key-file, the link, or CAIRN_KEY");
    }
    return exit_code(err);
}
