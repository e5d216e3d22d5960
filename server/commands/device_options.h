/* SPDX-License-Identifier: MIT */
/* device_options.h - the options that tell how a timing device writes, for the commands that take
 * its lines. The command's own struct begins with its struct device_form. */
#ifndef CAIRN_DEVICE_OPTIONS_H
#define CAIRN_DEVICE_OPTIONS_H

#include "commands/options.h"
#include "remote/device_form.h"

struct textbuf;

/* Takes the value of one of the options below, by its name; as `take` of struct option_row. */
int device_take(void *options, const char *name, char *value, struct textbuf *why);

/* The rows of the table; `by` is device_take, so that who uses them names it. */
#define DEVICE_OPTION_ROWS(by)                                                                     \
    {"columns", OPTION_TAKEN, "OURS=THEIRS,...",                                                   \
     "headings, or numbers where there are none: car=1,time=3", .take = (by)},                     \
        {"channel", OPTION_TAKEN, "CHANNEL=POINT",                                                 \
         "where a channel of the device stands: C1=T1/1; once for each", .take = (by)},            \
        {"time-format",                                                                            \
         OPTION_CHOICE,                                                                            \
         "FORM",                                                                                   \
         "h:mm:ss, hhmmss, seconds, rfc3339, am/pm; default: any",                                 \
         .at = offsetof(struct device_form, kind),                                                 \
         .choices = device_time_kinds},                                                            \
        {"date", OPTION_TAKEN, "DATE", "the day of the readings, where times have a date",         \
         .take = (by)},                                                                            \
        {"utc-offset", OPTION_TAKEN, "+HH:MM", "of the event's clock, where times tell theirs",    \
         .take = (by)},                                                                            \
        {"mark", OPTION_TAKEN, "DEVICE=EVENT",                                                     \
         "what both clocks showed at one moment; twice gives the drift", .take = (by)},            \
    {                                                                                              \
        "encoding", OPTION_CHOICE, "NAME",                                                         \
            "utf-8, windows-1252, utf-16le, utf-16be; default: any",                               \
            .at = offsetof(struct device_form, encoding), .choices = text_encodings                \
    }

#endif
