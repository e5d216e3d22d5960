/* SPDX-License-Identifier: MIT */
#include "commands/commands.h"

#include <string.h>

const struct command *const commands[] = {
    &command_new,    &command_check,  &command_score,     &command_import,  &command_export,
    &command_backup, &command_serve,  &command_publish,   &command_send,    &command_feed,
    &command_key,    &command_track,  &command_startlist, &command_prizes,  &command_verify,
    &command_merge,  &command_doctor, &command_restore,   &command_promote, &command_follow,
    &command_paper,  &command_codes,  &command_number,
};
const size_t command_count = sizeof commands / sizeof commands[0];

const struct command *command_find(const char *name) {
    for (size_t i = 0; i < command_count; i++) {
        if (strcmp(commands[i]->name, name) == 0)
            return commands[i];
    }
    return NULL;
}
