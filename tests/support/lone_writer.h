/* SPDX-License-Identifier: MIT */
/* lone_writer.h - a writer without its thread, and the event that it serves: writes are done by the
 * caller, one list after the other. There is one at a time. Whatever fails, fails the test. */
#ifndef CAIRN_TESTS_LONE_WRITER_H
#define CAIRN_TESTS_LONE_WRITER_H

#include "live/writer.h"
#include "served.h"

extern struct served served;
extern struct served_event event;
extern struct write_figures figures;
extern struct writer *writer;

/* A fixture for cmocka: opens the event of served.h; closes and removes it. */
int lone_writer_set_up(void **state);
int lone_writer_tear_down(void **state);

/* A test with that fixture. */
#define WITH_LONE_WRITER(name)                                                                     \
    cmocka_unit_test_setup_teardown(name, lone_writer_set_up, lone_writer_tear_down)

/* Does writes that wait together, in their order. */
void work(struct write **heads, int count);

/* Does one. Returns what came of it. */
enum write_result work_one(struct write *head);

/* Writes of rows by the organiser, for the caller to do and free. */
struct rows_write *readings(const char *rows);
struct rows_write *decisions(const char *rows);

/* Takes one reading, which must be good. */
void read_one(const char *row);

/* The current snapshot, held; and figures of it. */
struct snapshot *acquire(void);
int64_t office_revision(void);
int64_t public_revision(void);
int shown_readings(void);

/* True where the disk holds a reading of that id. */
bool is_kept(const char *id);

#endif
