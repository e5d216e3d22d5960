/* SPDX-License-Identifier: MIT */
/* A bare loop of SQLite commits, one row each, as durable as the server's: WAL, synchronous FULL.
 *
 *   commits FILE BODIES MAX_ROWS MAX_MS
 *
 * Inserts one line of BODIES a transaction into a new FILE. Prints rows, microseconds in all, and
 * the median and 99th percentile of a commit in microseconds. */
#include <sqlite3.h>

#include "measures.h"

static void run(sqlite3 *db, const char *sql) {
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) == SQLITE_OK)
        return;
    (void)fprintf(stderr, "commits: %s\n", sqlite3_errmsg(db));
    exit(1);
}

int main(int argc, char **argv) {
    sqlite3 *db = NULL;
    sqlite3_stmt *insert = NULL;
    size_t count = 0;
    if (argc != 5)
        return 2;
    char **bodies = read_lines(argv[2], &count);
    size_t max = strtoul(argv[3], NULL, 10);
    int64_t end = strtol(argv[4], NULL, 10) * 1000;
    int64_t *times = calloc(max, sizeof *times);
    must(times != NULL && count > 0, "bodies");
    must(sqlite3_open(argv[1], &db) == SQLITE_OK, argv[1]);
    run(db, "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;"
            "CREATE TABLE reading (seq INTEGER PRIMARY KEY, body TEXT NOT NULL) STRICT;");
    must(sqlite3_prepare_v2(db, "INSERT INTO reading (body) VALUES (?1)", -1, &insert, NULL) ==
             SQLITE_OK,
         "prepare");
    int64_t from = microseconds();
    int64_t now = from;
    size_t rows = 0;
    while (rows < max && now - from < end) {
        must(sqlite3_bind_text(insert, 1, bodies[rows % count], -1, SQLITE_STATIC) == SQLITE_OK &&
                 sqlite3_step(insert) == SQLITE_DONE && sqlite3_reset(insert) == SQLITE_OK,
             "insert");
        int64_t then = microseconds();
        times[rows++] = then - now;
        now = then;
    }
    (void)printf("%zu %lld %lld %lld\n", rows, (long long)(now - from),
                 (long long)quantile(times, rows, 0.5), (long long)quantile(times, rows, 0.99));
    (void)sqlite3_finalize(insert);
    return sqlite3_close(db) == SQLITE_OK ? 0 : 1;
}
