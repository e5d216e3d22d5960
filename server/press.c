/* SPDX-License-Identifier: MIT */
#include "press.h"

#include <dlfcn.h>
#include <pthread.h>
#include <stdbool.h>
#include <string.h>

#include "textbuf.h"

static struct {
    pthread_once_t once;
    struct press press;
    bool loaded;
} loading = {.once = PTHREAD_ONCE_INIT};

static void load(void) {
    static const struct {
        const char *name;
        size_t at;
    } wanted[] = {
#define PRESS_NAME(name) {#name, offsetof(struct press, name)},
        PRESS_FUNCTIONS(PRESS_NAME)
#undef PRESS_NAME
    };
    void *library = dlopen("libpangocairo-1.0.so.0", RTLD_NOW | RTLD_LOCAL);
    loading.loaded = library != NULL;
    for (size_t i = 0; loading.loaded && i < sizeof wanted / sizeof wanted[0]; i++) {
        void *found = dlsym(library, wanted[i].name);
        memcpy((char *)&loading.press + wanted[i].at, &found, sizeof found);
        loading.loaded = found != NULL;
    }
}

const struct press *press_load(struct textbuf *why) {
    (void)pthread_once(&loading.once, load);
    if (loading.loaded)
        return &loading.press;
    textbuf_puts(why, "the library pangocairo, which draws paper, is not there; on Debian: apt-get "
                      "install libpangocairo-1.0-0 fonts-dejavu-core");
    return NULL;
}
