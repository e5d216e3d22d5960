/* SPDX-License-Identifier: MIT */
/* commands.h - the commands of the program, in the order of its help. */
#ifndef CAIRN_COMMANDS_H
#define CAIRN_COMMANDS_H

#include <stddef.h>

#include "commands/command.h"

extern const struct command *const commands[];
extern const size_t command_count;

/* The command of that name, NULL where there is none. */
const struct command *command_find(const char *name);

extern const struct command command_new;
extern const struct command command_check;
extern const struct command command_score;
extern const struct command command_import;
extern const struct command command_export;
extern const struct command command_backup;
extern const struct command command_serve;
extern const struct command command_publish;
extern const struct command command_send;
extern const struct command command_feed;
extern const struct command command_key;
extern const struct command command_startlist;
extern const struct command command_track;
extern const struct command command_prizes;
extern const struct command command_verify;
extern const struct command command_merge;
extern const struct command command_doctor;
extern const struct command command_restore;
extern const struct command command_promote;
extern const struct command command_follow;
extern const struct command command_paper;
extern const struct command command_codes;
extern const struct command command_number;

#endif
