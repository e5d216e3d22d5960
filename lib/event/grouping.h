/* SPDX-License-Identifier: MIT */
/* grouping.h - by what standings are grouped. Source: the contract, "--by". */
#ifndef CAIRN_GROUPING_H
#define CAIRN_GROUPING_H

/* Into what groups standings are set out. */
enum standings_by {
    BY_OVERALL,
    BY_CLASS,
    BY_CATEGORY,
    BY_GROUP,
    BY_DAY,
    BY_TEST,
    BY_TEAM,
    BY_COUNT
};

/* The word of a grouping: "overall" .. "team". */
const char *by_word(enum standings_by by);

/* What an event lacks that has no such standings: "categories", "groups" or "teams"; "" for those
 * that every event has. */
const char *by_lacking(enum standings_by by);

/* Reads it. Returns ERR_OK or ERR_UNKNOWN. */
int by_parse(const char *text, enum standings_by *out);

#endif
