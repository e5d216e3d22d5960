/* SPDX-License-Identifier: MIT */
/* shared_library.h - shared libraries that are loaded when they are first needed.
 * Every library that is linked makes every start of the program slower, and most commands need few:
 * what only some of them use is loaded by the module that uses it. */
#ifndef CAIRN_SHARED_LIBRARY_H
#define CAIRN_SHARED_LIBRARY_H

#include <stdbool.h>
#include <stddef.h>

/* A function that is wanted, and where its address goes. */
struct library_function {
    const char *name;
    size_t at; /* bytes from the start of the table */
};

/* Loads a library. It stays loaded for good, since libraries keep threads and data that outlive an
 * unloading. Any thread may call it.
 *   file      such as "libcurl.so.4"
 *   functions `count` of them; each may stand in the library or in one that it needs
 *   table     gets their addresses
 * Returns: false where the library or a function is not there. */
bool library_load(const char *file, const struct library_function *functions, size_t count,
                  void *table);

#endif
