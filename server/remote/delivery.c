/* SPDX-License-Identifier: MIT */
#include "remote/delivery.h"

#include <jansson.h>
#include <poll.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "format/json_write.h"
#include "remote/http_client.h"
#include "remote/sent_file.h"
#include "system/problem_lines.h"
#include "system/system_clock.h"

enum { WAIT_MAX_MS = 60000, DOUBLINGS_MAX = 6 };

/* What an answer asks for. */
enum verdict {
    TAKEN, /* each row is acknowledged or refused */
    AGAIN,
    HALVE,
    NEVER,
    STOPPED
};

/* The rows of one request. */
struct batch {
    struct reading_row **rows;
    size_t count;
};

/* A line on standard error that does not mix with the progress. It may quote what others wrote. */
static void report(const struct delivery *d, const char *text) {
    struct problems problems = {0};
    problems_add(&problems, PROBLEM_ERROR, d->command, 0, "%s", text);
    progress_hide(d->progress);
    print_problems(&problems);
    problems_clear(&problems);
}

static void report_refused(struct delivery *d, struct reading_row *row, const char *reason) {
    struct problems problems = {0};
    problems_add(&problems, PROBLEM_REFUSED, d->name, row->line, "%s", reason);
    progress_hide(d->progress);
    print_problems(&problems);
    problems_clear(&problems);
    row->state = ROW_REFUSED;
    row->refusal = arena_text(d->file->arena, reason, strlen(reason));
    if (row->refusal == NULL)
        row->refusal = "the server refuses it";
    d->progress->refused++;
}

/* The "detail" of a problem document; NULL where the answer is none. */
static json_t *read_problem(const struct http_answer *answer, const char **detail) {
    json_t *root = answer->body == NULL
                       ? NULL
                       : json_loadb(answer->body, answer->len, JSON_REJECT_DUPLICATES, NULL);
    const char *type = json_string_value(json_object_get(root, "type"));
    *detail = json_string_value(json_object_get(root, "detail"));
    if (type != NULL && strncmp(type, "urn:cairn:", 10) == 0 && *detail != NULL)
        return root;
    json_decref(root);
    *detail = NULL;
    return NULL;
}

static bool read_count(const json_t *root, const char *name, size_t most, size_t *out) {
    const json_t *value = json_object_get(root, name);
    json_int_t number = json_integer_value(value);
    if (!json_is_integer(value) || number < 0 || (uintmax_t)number > most)
        return false;
    *out = (size_t)number;
    return true;
}

/* Takes the answer to a batch: nothing of it where it does not fit the rows that were sent. */
static bool take_answer(struct delivery *d, const struct batch *batch,
                        const struct http_answer *answer) {
    size_t accepted;
    size_t duplicates;
    size_t row;
    bool good = false;
    const char **reasons = calloc(batch->count, sizeof *reasons);
    json_t *root = answer->body == NULL
                       ? NULL
                       : json_loadb(answer->body, answer->len, JSON_REJECT_DUPLICATES, NULL);
    const json_t *refused = json_object_get(root, "refused");
    if (reasons == NULL || !json_is_array(refused) ||
        !read_count(root, "accepted", batch->count, &accepted) ||
        !read_count(root, "duplicates", batch->count, &duplicates) ||
        accepted + duplicates + json_array_size(refused) != batch->count)
        goto done;
    for (size_t i = 0; i < json_array_size(refused); i++) {
        const json_t *told = json_array_get(refused, i);
        const char *reason = json_string_value(json_object_get(told, "reason"));
        if (!read_count(told, "row", batch->count, &row) || row == 0 || reason == NULL ||
            reasons[row - 1] != NULL)
            goto done;
        reasons[row - 1] = reason;
    }
    for (size_t i = 0; i < batch->count; i++) {
        if (reasons[i] != NULL) {
            report_refused(d, batch->rows[i], reasons[i]);
            continue;
        }
        batch->rows[i]->state = ROW_SENT;
        /* One that cannot be noted is sent once more by the next run: no harm. */
        (void)sent_file_add(d->sent_file, batch->rows[i]->digest);
        d->progress->sent++;
    }
    d->accepted += accepted;
    d->duplicates += duplicates;
    d->recognised = true;
    good = true;
done:
    free(reasons);
    json_decref(root);
    return good;
}

/* Judges an answer by its status. `why` gets what to say unless all is well. */
static enum verdict judge(struct delivery *d, const struct batch *batch,
                          const struct http_answer *answer, struct textbuf *why) {
    const char *detail = NULL;
    enum verdict verdict = AGAIN;
    if (answer->status == 200) {
        if (take_answer(d, batch, answer))
            return TAKEN;
        textbuf_puts(why, "the answer is not one of a cairn server; there may be a sign-in page "
                          "in between");
        return AGAIN;
    }
    json_t *problem = read_problem(answer, &detail);
    if (problem != NULL)
        d->recognised = true;
    if (answer->status == 429 || answer->status == 408 || answer->status >= 500) {
        verdict = AGAIN;
    } else if (problem == NULL) {
        /* Not a cairn server. Before one has ever answered the address is wrong; after that
         * something is in between, which may go away. */
        verdict = d->recognised ? AGAIN : NEVER;
    } else if (answer->status == 400 || answer->status == 413) {
        verdict = HALVE;
    } else {
        verdict = NEVER;
    }
    if (answer->location != NULL)
        textbuf_printf(why, "the server sends on to %s: give that address", answer->location);
    else if (verdict == NEVER && (answer->status == 401 || answer->status == 403))
        textbuf_printf(why, "the key is not taken: %s",
                       detail == NULL ? "no reason given" : detail);
    else if (detail != NULL)
        textbuf_printf(why, "the server says: %s", detail);
    else
        textbuf_printf(why, "the answer has status %ld and is not one of a cairn server",
                       answer->status);
    json_decref(problem);
    return verdict;
}

static enum verdict try_once(struct delivery *d, const struct batch *batch, long *retry_after,
                             struct textbuf *why) {
    struct textbuf body = {0};
    struct http_answer answer = {0};
    enum verdict verdict = NEVER;
    *retry_after = 0;
    json_open_array(&body);
    for (size_t i = 0; i < batch->count; i++)
        reading_row_write_json(batch->rows[i], &body);
    json_close_array(&body);
    if (body.failed) {
        textbuf_puts(why, err_text(ERR_NOMEM));
        textbuf_clear(&body);
        return NEVER;
    }
    switch (http_post(d->client, d->url, body.bytes, body.len, &answer, why)) {
    case HTTP_ANSWERED:
        *retry_after = answer.retry_after;
        verdict = judge(d, batch, &answer, why);
        break;
    case HTTP_NO_ANSWER:
    case HTTP_NO_TLS:
    case HTTP_NO_HTTP:
    case HTTP_TOO_LARGE:
        verdict = AGAIN;
        break;
    case HTTP_UNTRUSTED:
        textbuf_puts(why, "; --ca FILE names the certificates to trust");
        verdict = d->recognised ? AGAIN : NEVER;
        break;
    case HTTP_STOPPED:
        verdict = STOPPED;
        break;
    case HTTP_FAILED:
        break;
    }
    http_answer_clear(&answer);
    textbuf_clear(&body);
    return verdict;
}

/* Waits, and counts down on a terminal. A signal ends the sleep; should it come just before one
 * begins, it is noticed a second later. */
static void wait_for(struct delivery *d, int64_t ms) {
    int64_t until = monotonic_microseconds() / 1000 + ms;
    for (int64_t left = ms; left > 0 && *d->stop == 0;
         left = until - monotonic_microseconds() / 1000) {
        progress_show(d->progress, (long)((left + 999) / 1000));
        int64_t step = left % 1000 == 0 ? 1000 : left % 1000;
        (void)poll(NULL, 0, (int)step);
    }
}

/* Full jitter: of many desks that lost one line, few come back at once. */
static int64_t backoff_ms(int failures, long retry_after) {
    int64_t most = failures >= DOUBLINGS_MAX ? WAIT_MAX_MS : INT64_C(1000) << failures;
    if (most > WAIT_MAX_MS)
        most = WAIT_MAX_MS;
    int64_t wait = (int64_t)randombytes_uniform((uint32_t)most + 1);
    int64_t asked = (int64_t)retry_after * 1000;
    return wait < asked ? asked : wait;
}

/* Tries until there is a verdict other than AGAIN. The same trouble is reported once. */
static enum verdict send_batch(struct delivery *d, const struct batch *batch) {
    struct textbuf why = {0};
    struct textbuf told = {0};
    enum verdict verdict = STOPPED;
    for (int64_t failures = 0; *d->stop == 0;) {
        long retry_after = 0;
        textbuf_clear(&why);
        verdict = try_once(d, batch, &retry_after, &why);
        if (verdict == HALVE && batch->count == 1) {
            report_refused(d, batch->rows[0], textbuf_text(&why));
            verdict = TAKEN;
        }
        if (verdict != AGAIN)
            break;
        failures++;
        if (d->tries > 0 && failures >= d->tries) {
            verdict = NEVER;
            break;
        }
        if (strcmp(textbuf_text(&told), textbuf_text(&why)) != 0) {
            textbuf_clear(&told);
            textbuf_puts(&told, textbuf_text(&why));
            textbuf_puts(&why, "; trying again");
            report(d, textbuf_text(&why));
        }
        wait_for(d, backoff_ms((int)(failures > 60 ? 60 : failures - 1), retry_after));
        verdict = STOPPED;
    }
    if (verdict == NEVER)
        report(d, textbuf_text(&why));
    textbuf_clear(&why);
    textbuf_clear(&told);
    return verdict;
}

/* After each request that was taken, so that little is sent twice after a crash. */
static void note_batch(struct delivery *d) {
    struct textbuf note = {0};
    (void)sent_file_save(d->sent_file, &note);
    if (note.len > 0)
        report(d, textbuf_text(&note));
    textbuf_clear(&note);
    progress_show(d->progress, -1);
}

static enum verdict send_parts(struct delivery *d, struct batch batch) {
    for (size_t size = batch.count; batch.count > 0;) {
        struct batch part = {batch.rows, size < batch.count ? size : batch.count};
        enum verdict verdict = send_batch(d, &part);
        if (verdict == HALVE) {
            size = (part.count + 1) / 2;
            continue;
        }
        if (verdict != TAKEN)
            return verdict;
        note_batch(d);
        batch.rows += part.count;
        batch.count -= part.count;
        size *= 2; /* back to whole batches behind the row that was found */
    }
    return TAKEN;
}

enum delivery_end delivery_run(struct delivery *d) {
    size_t batch_max = d->batch < d->file->count ? d->batch : d->file->count;
    struct reading_row **rows = calloc(batch_max + 1, sizeof(struct reading_row *));
    enum verdict verdict = TAKEN;
    if (rows == NULL) {
        report(d, err_text(ERR_NOMEM));
        return DELIVERY_FAILED;
    }
    for (size_t next = 0; verdict == TAKEN && next < d->file->count;) {
        struct batch batch = {rows, 0};
        for (; next < d->file->count && batch.count < batch_max; next++) {
            if (d->file->rows[next].state == ROW_WAITING)
                rows[batch.count++] = &d->file->rows[next];
        }
        verdict = send_parts(d, batch);
    }
    progress_hide(d->progress);
    free(rows);
    if (verdict == TAKEN)
        return DELIVERY_DONE;
    return verdict == STOPPED ? DELIVERY_STOPPED : DELIVERY_FAILED;
}
