/* SPDX-License-Identifier: MIT */
#include "system/tls_library.h"

#include <pthread.h>
#include <stdlib.h>

#include "base/textbuf.h"
#include "system/shared_library.h"

static struct {
    pthread_once_t once;
    struct tls_library library;
    bool loaded;
} loading = {.once = PTHREAD_ONCE_INIT};

static void load(void) {
    static const struct library_function wanted[] = {
#define TLS_WANTED(name) {"gnutls_" #name, offsetof(struct tls_library, name)},
        TLS_FUNCTIONS(TLS_WANTED)
#undef TLS_WANTED
    };
    loading.loaded =
        library_load("libgnutls.so.30", wanted, sizeof wanted / sizeof wanted[0], &loading.library);
}

bool tls_library_load(struct textbuf *why) {
    (void)pthread_once(&loading.once, load);
    if (!loading.loaded)
        textbuf_puts(why, "the library GnuTLS is not there; on Debian: apt-get install "
                          "libgnutls30");
    return loading.loaded;
}

const struct tls_library *tls_library(void) {
    (void)pthread_once(&loading.once, load);
    if (!loading.loaded)
        abort();
    return &loading.library;
}
