/* SPDX-License-Identifier: MIT */
#include "system/pdf_library.h"

#include <pthread.h>
#include <stdbool.h>

#include "base/textbuf.h"
#include "system/shared_library.h"

static struct {
    pthread_once_t once;
    struct pdf_library press;
    bool loaded;
} loading = {.once = PTHREAD_ONCE_INIT};

static void load(void) {
    static const struct library_function wanted[] = {
#define PRESS_NAME(name) {#name, offsetof(struct pdf_library, name)},
        PRESS_FUNCTIONS(PRESS_NAME)
#undef PRESS_NAME
    };
    loading.loaded = library_load("libpangocairo-1.0.so.0", wanted,
                                  sizeof wanted / sizeof wanted[0], &loading.press);
}

const struct pdf_library *pdf_library_load(struct textbuf *why) {
    (void)pthread_once(&loading.once, load);
    if (loading.loaded)
        return &loading.press;
    textbuf_puts(why, "the library pangocairo, which draws paper, is not there; on Debian: apt-get "
                      "install libpangocairo-1.0-0 fonts-dejavu-core");
    return NULL;
}
