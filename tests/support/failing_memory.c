/* SPDX-License-Identifier: MIT */
#include "failing_memory.h"

#include <execinfo.h>
#include <limits.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <jansson.h>

#include "base/arena.h"

/* Functions of a place, behind those of this file; and places, more than any program has. */
enum { OWN_CALLS = 3, CALLS = 5, PLACES = 1 << 16 };

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *old, size_t size);
char *__real_strdup(const char *text);
char *__real_strndup(const char *text, size_t len);
void *__real_arena_alloc(struct arena *arena, size_t size);
void *__real_arena_array(struct arena *arena, size_t count, size_t size);
char *__real_arena_text(struct arena *arena, const char *text, size_t len);
json_t *__real_json_loadb(const char *text, size_t len, size_t flags, json_error_t *error);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *old, size_t size);
char *__wrap_strdup(const char *text);
char *__wrap_strndup(const char *text, size_t len);
void *__wrap_arena_alloc(struct arena *arena, size_t size);
void *__wrap_arena_array(struct arena *arena, size_t count, size_t size);
char *__wrap_arena_text(struct arena *arena, const char *text, size_t len);
json_t *__wrap_json_loadb(const char *text, size_t len, size_t flags, json_error_t *error);

static long requests;
static long to_meet = LONG_MAX; /* before the next refusal */
static long to_refuse;          /* then */
static bool was_refused;
static bool by_place;
static bool parsing;
static uint64_t places[PLACES]; /* from which a request was refused; 0: none */

void memory_refuses(long met, long count) {
    to_meet = met;
    to_refuse = count;
    was_refused = false;
}

void memory_ends_after(long met) {
    memory_refuses(met, LONG_MAX);
}

void memory_refuses_a_new_place(void) {
    memory_refuses(0, 1);
    by_place = true;
}

void memory_is_back(void) {
    to_meet = LONG_MAX;
    to_refuse = 0;
    by_place = false;
}

bool memory_was_refused(void) {
    return was_refused;
}

long memory_requests(void) {
    return requests;
}

/* Whether the place that asks is new; then it is known from now on. Neither this nor is_met may
 * become part of its caller: OWN_CALLS counts them. */
__attribute__((noinline)) static bool is_new_place(void) {
    void *calls[OWN_CALLS + CALLS];
    int count = backtrace(calls, OWN_CALLS + CALLS);
    uint64_t place = 14695981039346656037u;
    for (int i = OWN_CALLS; i < count; i++)
        place = (place ^ (uintptr_t)calls[i]) * 1099511628211u;
    place |= 1;
    for (size_t i = place >> 48; places[i] != place; i = (i + 1) % PLACES) {
        if (places[i] == 0) {
            places[i] = place;
            return true;
        }
    }
    return false;
}

__attribute__((noinline)) static bool is_met(void) {
    requests++;
    if (by_place && (parsing || to_refuse == 0 || !is_new_place()))
        return true;
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

void *__wrap_arena_alloc(struct arena *arena, size_t size) {
    return is_met() ? __real_arena_alloc(arena, size) : NULL;
}

void *__wrap_arena_array(struct arena *arena, size_t count, size_t size) {
    return is_met() ? __real_arena_array(arena, count, size) : NULL;
}

char *__wrap_arena_text(struct arena *arena, const char *text, size_t len) {
    return is_met() ? __real_arena_text(arena, text, len) : NULL;
}

json_t *__wrap_json_loadb(const char *text, size_t len, size_t flags, json_error_t *error) {
    parsing = true;
    json_t *root = __real_json_loadb(text, len, flags, error);
    parsing = false;
    return root;
}
