/* SPDX-License-Identifier: MIT */
/* entries.h - the entry list and the start times that replace the computed ones.
 * Immutable once read. Source: the contract, "entries.csv" and "Start times". */
#ifndef CAIRN_ENTRIES_H
#define CAIRN_ENTRIES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "event/rules.h"
#include "format/csv_columns.h"

enum { NUMBER_MAX = 9999 };

/* "Not known": the birth of a driver whose entry does not tell it. */
#define BORN_UNKNOWN INT64_MIN

/* One car and its crew. Texts are owned by the entries' arena; empty where not given. */
struct entry {
    int number; /* 1 .. NUMBER_MAX */
    const char *driver;
    const char *navigator;
    const char *make;
    const char *model;
    int year;
    int64_t engine_cc; /* -1 where unknown */
    bool supercharged;
    int category; /* place among the rules' categories, -1 where none */
    const char *category_text;
    uint64_t groups;     /* bit 1 << place among the rules' groups; 0 where it names none */
    int64_t coefficient; /* thousandths, 1 .. 99999; 1000 where empty */
    /* The driver's birth: days since 1970-01-01 (a year alone: its first of January), or
     * BORN_UNKNOWN. Personal: what is made of it may order cars, and it is itself written nowhere
     * but in the entry list, which organisers alone read. */
    int64_t born;
    const char *team;
    const char *country;
    const char *club;
    int period;                    /* place among the rules' periods */
    int class_index;               /* see rules_class_id */
    int team_index;                /* place among the teams, -1 where none */
    const struct car_route *route; /* see car_route.h */
    struct extra *extras;
    long line;
};

struct entries {
    struct arena *arena;
    bool unread;         /* a row or the header has an error: not all is known of each car */
    bool numbers_unread; /* nor which cars there are */
    struct entry *list;  /* in number order */
    int count;
    int16_t by_number[NUMBER_MAX + 1]; /* place in the list, -1 where no such car */
    const char **teams; /* names, or clubs where these are the teams; in byte order */
    int team_count;
    int64_t *starts; /* [day * count + car]: start times that were set, TIME_NONE where not */
};

/* Reads entries.csv and, where `starts_text` is not NULL, starts.csv.
 *   rules     borrowed for the call
 *   problems  gets every error with its line
 *   out       the entries; the caller frees them with entries_free
 * Returns: ERR_OK; ERR_INPUT; ERR_NOMEM. `out` is NULL unless ERR_OK. */
int entries_read(const struct rules *rules, const char *text, size_t len, const char *starts_text,
                 size_t starts_len, struct problems *problems, struct entries **out);

/* As entries_read, but where anything is wrong `out` gets what could be read, so that other files
 * can be looked through for what does not depend on the rest; its cars have no routes. `out` is
 * NULL only where memory is out.
 *   rules  may be such as rules_read_partly gives; what is not known of them is not asked for
 *   text   NULL: there is no file; nothing is reported, and no car is known */
int entries_read_partly(const struct rules *rules, const char *text, size_t len,
                        const char *starts_text, size_t starts_len, struct problems *problems,
                        struct entries **out);

/* Frees entries; NULL is accepted. */
void entries_free(struct entries *entries);

/* What an entry has in that column, "" where nothing. */
const char *entry_column_word(const struct entry *entry, enum entry_column column);

/* The place of the car of that number, -1 where there is none. Any number may be asked. */
int entries_find(const struct entries *entries, int64_t number);

/* True where a number that was not found may be that of a car whose row could not be read. */
bool entries_may_have(const struct entries *entries, int64_t number);

#endif
