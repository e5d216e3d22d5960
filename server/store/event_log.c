/* SPDX-License-Identifier: MIT */
/* The log: every fact of the event in one order, the newest first. */
#include "store/event_log.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "store/store_private.h"

/* ---- the facts of each table, with the same columns ----
 *
 * when, which table (src), the row, what sort of fact, whose key, how it came, car, point, value,
 * reason, who, the upload, a word of its own, and what it replaced (word, car, point, value). The
 * values of a reading are one text. */

#define R_VALUE "trim(r.time || ' ' || r.elapsed || ' ' || r.faults)"
#define O_VALUE "trim(o.time || ' ' || o.elapsed || ' ' || o.faults)"

#define UPLOADS                                                                                    \
    "SELECT u.received_ms AS ms, 1 AS src, u.id AS id,"                                            \
    " CASE u.kind WHEN 'event.json' THEN 'rules' WHEN 'entries.csv' THEN 'entries'"                \
    " WHEN 'starts.csv' THEN 'starts' ELSE 'readings' END AS kind,"                                \
    " u.key_id AS key_id, u.source AS source, '' AS car, '' AS point, '' AS value,"                \
    " coalesce(n.reason, '') AS reason, coalesce(n.made_by, '') AS made_by,"                       \
    " u.id AS upload_id, coalesce(n.since, '') AS word,"                                           \
    " '' AS old_word, '' AS old_car, '' AS old_point, '' AS old_value"                             \
    " FROM upload AS u LEFT JOIN change_note AS n ON n.upload_id = u.id"                           \
    " WHERE u.kind IN ('event.json', 'entries.csv', 'starts.csv', 'readings')"

/* A revocation is told with the car and the point of what it revokes. */
#define DECISIONS                                                                                  \
    "SELECT u.received_ms, 2, d.seq, iif(d.kind = 'revoke', 'undo', 'decision'),"                  \
    " u.key_id, u.source,"                                                                         \
    " iif(d.kind = 'revoke', coalesce(o.car, ''), d.car),"                                         \
    " iif(d.kind = 'revoke', coalesce(o.point, ''), d.point),"                                     \
    " d.value, d.reason, d.made_by, u.id, d.kind,"                                                 \
    " coalesce(o.kind, ''), coalesce(o.car, ''), coalesce(o.point, ''), coalesce(o.value, '')"     \
    " FROM decision AS d JOIN upload AS u ON u.id = d.upload_id"                                   \
    " LEFT JOIN decision AS o ON d.kind = 'revoke' AND o.id = d.value"

#define CORRECTIONS                                                                                \
    "SELECT u.received_ms, 3, r.seq, iif(r.void = 'yes', 'withdrawal', 'correction'),"             \
    " u.key_id, u.source, r.car, r.point, " R_VALUE ","                                            \
    " r.reason, r.made_by, u.id, r.replaces,"                                                      \
    " iif(o.seq IS NULL, '', 'reading'), coalesce(o.car, ''), coalesce(o.point, ''),"              \
    " coalesce(" O_VALUE ", '')"                                                                   \
    " FROM reading AS r JOIN upload AS u ON u.id = r.upload_id"                                    \
    " LEFT JOIN reading AS o ON o.id = r.replaces"                                                 \
    " WHERE r.replaces <> ''"

#define NOTICES                                                                                    \
    "SELECT n.posted_ms, 4, n.id, 'notice', u.key_id, u.source, '', '', n.title,"                  \
    " '', '', 0, n.kind, '', '', '', ''"                                                           \
    " FROM notice AS n JOIN upload AS u ON u.id = n.upload_id"

#define ENQUIRIES                                                                                  \
    "SELECT opened_ms, 5, id, 'enquiry', key_id, source, car, point, '',"                          \
    " text, '', 0, kind, '', '', '', ''"                                                           \
    " FROM enquiry"

#define ANSWERS                                                                                    \
    "SELECT a.answered_ms, 6, e.id, 'answer', a.key_id, 'http', e.car, e.point, '',"               \
    " a.text, '', 0, a.outcome, e.kind, '', '', ''"                                                \
    " FROM enquiry_answer AS a JOIN enquiry AS e ON e.id = a.enquiry_id"

#define KEYS                                                                                       \
    "SELECT created_ms, 7, id, 'key', NULL, '', '', points, label,"                                \
    " '', '', 0, role, '', '', '', ''"                                                             \
    " FROM key"

#define REVOCATIONS                                                                                \
    "SELECT v.revoked_ms, 8, k.id, 'key', NULL, '', '', k.points, k.label,"                        \
    " '', '', 0, k.role, 'revoked', '', '', ''"                                                    \
    " FROM key_revocation AS v JOIN key AS k ON k.id = v.key_id"

#define RENEWALS                                                                                   \
    "SELECT renewed_ms, 9, id, 'code', key_id, '', CAST(car AS TEXT), '', '',"                     \
    " '', '', 0, '', '', '', '', ''"                                                               \
    " FROM code_renewal"

#define ACKNOWLEDGEMENTS                                                                           \
    "SELECT made_ms, 10, id, 'acknowledgement', key_id, 'http', car, point, title,"                \
    " reason, made_by, 0, state, '', '', '', ''"                                                   \
    " FROM acknowledgement"

#define ALL_FACTS                                                                                  \
    UPLOADS                                                                                        \
    " UNION ALL " DECISIONS " UNION ALL " CORRECTIONS " UNION ALL " NOTICES                        \
    " UNION ALL " ENQUIRIES " UNION ALL " ANSWERS " UNION ALL " KEYS " UNION ALL " REVOCATIONS     \
    " UNION ALL " RENEWALS " UNION ALL " ACKNOWLEDGEMENTS

/* ---- the log ---- */

/* Of an upload of readings: how many were taken, and the first of them. */
#define TAKEN                                                                                      \
    "SELECT upload_id, count(*) AS n, min(seq), car, point, " R_VALUE " AS value"                  \
    " FROM reading AS r GROUP BY upload_id"

/* And how many were refused; one row may stand for many, see struct stored_refusal. */
#define REFUSED                                                                                    \
    "SELECT upload_id, sum(iif(row = 0, CAST(reading_id AS INTEGER), 1)) AS n"                     \
    " FROM refusal GROUP BY upload_id"

#define IS_OF_KIND                                                                                 \
    ":kind = '' OR f.kind = :kind"                                                                 \
    " OR (:kind = 'office' AND (f.kind <> 'readings' OR f.source = 'import' OR x.n > 0))"

#define IS_OF_CAR                                                                                  \
    ":car = '' OR ltrim(f.car, '0') = :car OR ltrim(f.old_car, '0') = :car"                        \
    " OR f.kind IN ('entries', 'starts')"                                                          \
    " OR (f.kind = 'readings' AND f.id IN"                                                         \
    " (SELECT upload_id FROM reading WHERE ltrim(car, '0') = :car"                                 \
    " UNION SELECT upload_id FROM refusal WHERE ltrim(car, '0') = :car))"

const char store_log_sql[] =
    "SELECT f.ms, f.src, f.id, f.kind, coalesce(f.key_id, 0), coalesce(key.label, ''), f.source,"
    " f.car, f.point, f.value, f.reason, f.made_by, f.upload_id, f.word,"
    " f.old_word, f.old_car, f.old_point, f.old_value,"
    " coalesce(t.n, 0), coalesce(x.n, 0),"
    " coalesce(t.car, ''), coalesce(t.point, ''), coalesce(t.value, '')"
    " FROM (" ALL_FACTS ") AS f"
    " LEFT JOIN key ON key.id = f.key_id"
    " LEFT JOIN (" TAKEN ") AS t ON f.src = 1 AND t.upload_id = f.id"
    " LEFT JOIN (" REFUSED ") AS x ON f.src = 1 AND x.upload_id = f.id"
    " WHERE (" IS_OF_KIND ") AND (" IS_OF_CAR ")"
    " AND iif(:one, f.src = :src AND f.id = :id, (f.ms, f.src, f.id) < (:ms, :src, :id))"
    " ORDER BY f.ms DESC, f.src DESC, f.id DESC";

static const char letters[] = "?udcneakrpq"; /* a table's letter in names, by its `src` */

bool log_name_parse(const char *name, struct log_name *out) {
    const char *letter = *name == '\0' || *name == '?' ? NULL : strchr(letters, *name);
    char *end = NULL;
    if (letter == NULL || name[1] < '1' || name[1] > '9' || strlen(name) > 19)
        return false;
    *out = (struct log_name){(int)(letter - letters), strtoll(name + 1, &end, 10)};
    return *end == '\0';
}

void log_name_write(struct textbuf *b, struct log_name name) {
    textbuf_putc(b, letters[name.table]);
    textbuf_int(b, name.row);
}

static const char *column(sqlite3_stmt *st, int i) {
    const char *text = (const char *)sqlite3_column_text(st, i);
    return text == NULL ? "" : text;
}

int store_log(struct store *s, const struct log_query *q, log_visitor *each, void *context) {
    sqlite3_stmt *st = store_statement(s, LOG_PAGE);
    int bad = 0;
    int err = ERR_OK;
    if (st == NULL)
        return store_failed(s);
    bind_text(st, ":kind", q->kind == NULL ? "" : q->kind, &bad);
    bind_text(st, ":car", q->car == NULL ? "" : q->car, &bad);
    bind_int(st, ":one", q->one, &bad);
    bind_int(st, ":ms", q->one || q->name.table == 0 ? INT64_MAX : q->before_ms, &bad);
    bind_int(st, ":src", q->name.table, &bad);
    bind_int(st, ":id", q->name.row, &bad);
    if (bad != SQLITE_OK)
        return store_failed(s);
    while (store_next_row(s, st, &err)) {
        struct logged f = {.ms = sqlite3_column_int64(st, 0),
                           .name = {sqlite3_column_int(st, 1), sqlite3_column_int64(st, 2)},
                           .kind = column(st, 3),
                           .key_id = sqlite3_column_int64(st, 4),
                           .label = column(st, 5),
                           .source = column(st, 6),
                           .car = column(st, 7),
                           .point = column(st, 8),
                           .value = column(st, 9),
                           .reason = column(st, 10),
                           .made_by = column(st, 11),
                           .upload = sqlite3_column_int64(st, 12),
                           .word = column(st, 13),
                           .old_word = column(st, 14),
                           .old_car = column(st, 15),
                           .old_point = column(st, 16),
                           .old_value = column(st, 17),
                           .taken = sqlite3_column_int64(st, 18),
                           .refused = sqlite3_column_int64(st, 19),
                           .first_car = column(st, 20),
                           .first_point = column(st, 21),
                           .first_value = column(st, 22)};
        int told = each(context, &f);
        if (told == LOG_GO_ON)
            continue;
        err = told == LOG_STOP ? ERR_OK : ERR_NOMEM;
        (void)sqlite3_reset(st);
        (void)sqlite3_clear_bindings(st);
        break;
    }
    return err;
}

int store_log_ends(struct store *s, const struct logged *f, struct log_ends *out) {
    sqlite3_stmt *st = store_statement(s, LOG_ENDS);
    int bad = 0;
    int err = ERR_OK;
    *out = (struct log_ends){0};
    if (st == NULL)
        return store_failed(s);
    bind_int(st, ":src", f->name.table, &bad);
    bind_int(st, ":id", f->name.row, &bad);
    bind_int(st, ":upload", f->upload, &bad);
    if (bad != SQLITE_OK)
        return store_failed(s);
    while (store_next_row(s, st, &err)) {
        for (int i = 0; i < LOG_END_COUNT; i++) {
            free(out->ids[i]);
            out->ids[i] = store_column_copy(st, i);
            if (out->ids[i] == NULL)
                err = ERR_NOMEM;
        }
    }
    return err;
}

void log_ends_clear(struct log_ends *ends) {
    for (int i = 0; i < LOG_END_COUNT; i++)
        free(ends->ids[i]);
    *ends = (struct log_ends){0};
}

int store_document_versions(struct store *s, const char *name, int64_t upload,
                            struct document_versions *out) {
    sqlite3_stmt *st = store_statement(s, DOCUMENT_VERSIONS);
    int bad = 0;
    int err = ERR_OK;
    *out = (struct document_versions){0};
    if (st == NULL)
        return store_failed(s);
    bind_text(st, ":name", name, &bad);
    bind_int(st, ":upload", upload, &bad);
    if (bad != SQLITE_OK)
        return store_failed(s);
    for (int i = 0; store_next_row(s, st, &err); i++) {
        char **text = i == 0 ? &out->now : &out->before;
        if (i < 2 && (*text = store_column_copy(st, 0)) == NULL)
            err = ERR_NOMEM;
    }
    return err;
}

void document_versions_clear(struct document_versions *versions) {
    free(versions->now);
    free(versions->before);
    *versions = (struct document_versions){0};
}
