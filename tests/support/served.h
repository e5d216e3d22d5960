/* SPDX-License-Identifier: MIT */
/* served.h - an event file in a folder of its own, and writes to it: what tests of the writing side
 * begin with. Whatever fails, fails the test. */
#ifndef CAIRN_TESTS_SERVED_H
#define CAIRN_TESTS_SERVED_H

#include "live/served_events.h"
#include "live/write.h"
#include "store/keys.h"

#define SERVED_SLUG "skerry"

/* A plain value; served_remove removes what it made. */
struct served {
    char folder[64];
    char path[96];              /* of the event file */
    char key[KEY_TEXT_LEN + 1]; /* an organiser's */
    unsigned char hash[32];     /* of it */
};

/* Makes an event of two cars (1 and 2) and two controls (PC1, and PC2 with the same penalty for a
 * miss), without facts, with an organiser's key. */
void served_make(struct served *served);
void served_remove(struct served *served);

/* Removes an event file and what lies beside it. */
void served_remove_file(const char *path);

/* Fills the head of a write with that key; `head` is not NULL. */
void served_ask(const struct served *served, struct served_event *event, struct write *head);

/* Writes of readings and of decisions with that key. The caller frees them with write_free.
 *   rows  a JSON array; may be written with ' for " */
struct rows_write *served_readings(const struct served *served, struct served_event *event,
                                   const char *rows);
struct rows_write *served_decisions(const struct served *served, struct served_event *event,
                                    const char *rows);

/* Submits a write and waits until it is done. */
void served_write(struct write *head);

#endif
