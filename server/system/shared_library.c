/* SPDX-License-Identifier: MIT */
#include "system/shared_library.h"

#include <dlfcn.h>
#include <pthread.h>
#include <string.h>

#include "base/textbuf.h"

static bool find_functions(void *handle, struct shared_library *library) {
    for (size_t i = 0; i < library->count; i++) {
        void *found = dlsym(handle, library->names[i]);
        if (found == NULL)
            return false;
        memcpy((char *)library->functions + i * sizeof found, &found, sizeof found);
    }
    return true;
}

bool shared_library_load(struct shared_library *library, struct textbuf *why) {
    static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
    (void)pthread_mutex_lock(&lock);
    for (size_t i = 0; !library->loaded && library->files[i] != NULL; i++) {
        void *handle = dlopen(library->files[i], RTLD_NOW | RTLD_LOCAL);
        library->loaded = handle != NULL && find_functions(handle, library);
    }
    bool loaded = library->loaded;
    (void)pthread_mutex_unlock(&lock);
    if (!loaded)
        textbuf_puts(why, library->missing);
    return loaded;
}
