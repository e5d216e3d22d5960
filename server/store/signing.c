/* SPDX-License-Identifier: MIT */
#include "store/signing.h"

#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "system/data_dir.h"

enum { SECRET_TEXT_LEN = 2 * SEAL_SEED_LEN };

static int read_secret(int fd, const char *path, unsigned char seed[SEAL_SEED_LEN],
                       struct textbuf *why) {
    char text[SECRET_TEXT_LEN + 2] = "";
    struct stat info;
    size_t len = 0;
    int err = ERR_OK;
    if (fstat(fd, &info) != 0) {
        textbuf_printf(why, "%s: %s", path, strerror(errno));
        return ERR_IO;
    }
    if ((info.st_mode & 077) != 0) {
        textbuf_printf(why, "%s may be read by others: chmod 600", path);
        return ERR_INPUT;
    }
    ssize_t got = read(fd, text, sizeof text - 1);
    if (got < SECRET_TEXT_LEN ||
        sodium_hex2bin(seed, SEAL_SEED_LEN, text, SECRET_TEXT_LEN, NULL, &len, NULL) != 0 ||
        len != SEAL_SEED_LEN) {
        textbuf_printf(why, "%s holds no signing key", path);
        err = ERR_INPUT;
    }
    sodium_memzero(text, sizeof text);
    return err;
}

/* Written beside and linked into place: a secret is never half there, and never made twice. */
static int make_secret(const char *path, unsigned char seed[SEAL_SEED_LEN], struct textbuf *why) {
    char text[SECRET_TEXT_LEN + 2];
    char *beside = NULL;
    bool good = false;
    if (asprintf(&beside, "%s.new", path) < 0)
        return ERR_NOMEM;
    randombytes_buf(seed, SEAL_SEED_LEN);
    (void)sodium_bin2hex(text, sizeof text, seed, SEAL_SEED_LEN);
    text[SECRET_TEXT_LEN] = '\n';
    (void)unlink(beside);
    int fd = open(beside, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (fd >= 0) {
        good = write(fd, text, SECRET_TEXT_LEN + 1) == SECRET_TEXT_LEN + 1 && fsync(fd) == 0;
        good = close(fd) == 0 && good && link(beside, path) == 0;
    }
    if (!good)
        textbuf_printf(why, "%s: %s", path, strerror(errno));
    else
        data_dir_give(path);
    (void)unlink(beside);
    free(beside);
    sodium_memzero(text, sizeof text);
    return good ? ERR_OK : ERR_IO;
}

int signing_seed(const char *data_dir, const char *slug, unsigned char seed[SEAL_SEED_LEN],
                 struct textbuf *why) {
    char *path = NULL;
    if (asprintf(&path, "%s/%s.signing", data_dir, slug) < 0)
        return ERR_NOMEM;
    int err;
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW);
    if (fd >= 0) {
        err = read_secret(fd, path, seed, why);
        (void)close(fd);
    } else if (errno == ENOENT) {
        err = make_secret(path, seed, why);
    } else {
        textbuf_printf(why, "%s: %s", path, strerror(errno));
        err = ERR_IO;
    }
    free(path);
    return err;
}
