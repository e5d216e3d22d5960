/* SPDX-License-Identifier: MIT */
#include "failing_memory.h"

#include <limits.h>
#include <stddef.h>

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *old, size_t size);
char *__real_strdup(const char *text);
char *__real_strndup(const char *text, size_t len);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *old, size_t size);
char *__wrap_strdup(const char *text);
char *__wrap_strndup(const char *text, size_t len);

static long requests;
static long to_meet = LONG_MAX; /* before the next refusal */
static long to_refuse;          /* then */
static bool was_refused;

void memory_refuses(long met, long count) {
    to_meet = met;
    to_refuse = count;
    was_refused = false;
}

void memory_ends_after(long met) {
    memory_refuses(met, LONG_MAX);
}

void memory_is_back(void) {
    to_meet = LONG_MAX;
    to_refuse = 0;
}

bool memory_was_refused(void) {
    return was_refused;
}

long memory_requests(void) {
    return requests;
}

static bool is_met(void) {
    requests++;
    if (to_meet > 0) {
        to_meet--;
        return true;
    }
    if (to_refuse == 0)
        return true;
    to_refuse--;
    was_refused = true;
    return false;
}

void *__wrap_malloc(size_t size) {
    return is_met() ? __real_malloc(size) : NULL;
}

void *__wrap_calloc(size_t count, size_t size) {
    return is_met() ? __real_calloc(count, size) : NULL;
}

void *__wrap_realloc(void *old, size_t size) {
    return is_met() ? __real_realloc(old, size) : NULL;
}

char *__wrap_strdup(const char *text) {
    return is_met() ? __real_strdup(text) : NULL;
}

char *__wrap_strndup(const char *text, size_t len) {
    return is_met() ? __real_strndup(text, len) : NULL;
}
