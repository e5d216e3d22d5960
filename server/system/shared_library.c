/* SPDX-License-Identifier: MIT */
#include "system/shared_library.h"

#include <dlfcn.h>
#include <string.h>

bool library_load(const char *file, const struct library_function *functions, size_t count,
                  void *table) {
    void *library = dlopen(file, RTLD_NOW | RTLD_LOCAL);
    if (library == NULL)
        return false;
    for (size_t i = 0; i < count; i++) {
        void *found = dlsym(library, functions[i].name);
        if (found == NULL)
            return false;
        memcpy((char *)table + functions[i].at, &found, sizeof found);
    }
    return true;
}
