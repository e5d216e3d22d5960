/* SPDX-License-Identifier: MIT */
#include "system/system_clock.h"

#include "base/textbuf.h"
#include "format/json_write.h"

int64_t now_ms(void) {
    struct timespec now;
    (void)clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

int64_t monotonic_microseconds(void) {
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

struct timespec monotonic_deadline(int64_t microseconds) {
    int64_t until = monotonic_microseconds() + microseconds;
    return (struct timespec){until / 1000000, until % 1000000 * 1000};
}

void monotonic_condition_init(pthread_cond_t *condition) {
    pthread_condattr_t attributes;
    (void)pthread_condattr_init(&attributes);
    (void)pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC);
    (void)pthread_cond_init(condition, &attributes);
    (void)pthread_condattr_destroy(&attributes);
}

void instant_text(char out[INSTANT_ROOM], int64_t ms) {
    time_t seconds = (time_t)(ms / 1000);
    struct tm parts;
    *out = '\0';
    if (gmtime_r(&seconds, &parts) != NULL)
        (void)strftime(out, INSTANT_ROOM, "%Y-%m-%dT%H:%M:%SZ", &parts);
}

void write_instant(struct textbuf *b, int64_t ms) {
    char text[INSTANT_ROOM];
    instant_text(text, ms);
    textbuf_puts(b, text);
}

void json_member_instant(struct textbuf *b, const char *key, int64_t ms) {
    json_key(b, key);
    size_t from = json_open_text(b);
    write_instant(b, ms);
    json_close_text(b, from);
}
