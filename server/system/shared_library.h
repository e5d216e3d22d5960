/* SPDX-License-Identifier: MIT */
/* shared_library.h - libraries that are loaded when they are first needed, not linked.
 *
 * Each library that is linked is loaded, with all that it needs in turn, at every start of the
 * program and stays in the memory of a server that never calls it. So those that few commands use
 * (HTTP, TLS, the HTTP client, drawing) are declared as a table of functions:
 *
 *   #define TEA_FUNCTIONS(X) X(tea_boil) X(tea_pour)        in a header, below the library's own
 *   struct tea_library { TEA_FUNCTIONS(LIBRARY_MEMBER) };
 *   const struct tea_library *tea_library(struct textbuf *why);
 *
 *   SHARED_LIBRARY(tea_library, TEA_FUNCTIONS, "what is missing, and where it is", "libtea.so.1")
 *
 * and called as `tea->tea_boil(kettle)`, checked by the compiler against the library's header. */
#ifndef CAIRN_SHARED_LIBRARY_H
#define CAIRN_SHARED_LIBRARY_H

#include <stdbool.h>
#include <stddef.h>

struct textbuf;

/* A pointer to a function, under the function's name; the name as text. */
#define LIBRARY_MEMBER(function) __typeof__(function) *(function);
#define LIBRARY_NAME(function) #function,

struct shared_library {
    const char *const files[3]; /* names tried in turn, such as "libcurl.so.4"; NULL ends them */
    const char *const missing;  /* said where none is there */
    const char *const *names;   /* of functions in the library, or in one that it needs */
    size_t count;
    void *functions; /* gets their addresses, in the order of the names */
    bool loaded;
};

/* Loads a library, unless it is loaded. It stays for good, since libraries keep threads and data
 * that outlive an unloading. Any thread may call it.
 *   why  gets what is missing
 * Returns: true once it is there. */
bool shared_library_load(struct shared_library *library, struct textbuf *why);

/* Defines `const struct NAME *NAME(struct textbuf *why)`: the functions of a library, which stay
 * valid for ever; NULL where it is missing, with `why`. The files' names come last. */
#define SHARED_LIBRARY(name, list, absent, ...)                                                    \
    const struct name *name(struct textbuf *why) {                                                 \
        static const char *const names[] = {list(LIBRARY_NAME)};                                   \
        static struct name functions;                                                              \
        static struct shared_library library = {.files = {__VA_ARGS__},                            \
                                                .missing = (absent),                               \
                                                .names = names,                                    \
                                                .count = sizeof names / sizeof names[0],           \
                                                .functions = &functions};                          \
        _Static_assert(sizeof functions == sizeof names, "a pointer for each name");               \
        return shared_library_load(&library, why) ? &functions : NULL;                             \
    }                                                                                              \
    _Static_assert(true, "takes the semicolon")

#endif
