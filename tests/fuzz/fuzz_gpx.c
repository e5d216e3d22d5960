/* SPDX-License-Identifier: MIT */
/* Any bytes as a GPX file: it ends, each point that is given is one on the earth with a moment that
 * follows the one before or begins anew, and all points are accounted for. */
#include <stdint.h>
#include <stdlib.h>
#include <unistd.h>
#include <sys/mman.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "track/gpx.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

struct got {
    size_t count;
    int64_t last;
};

static int take(void *owner, const struct track_fix *fix) {
    struct got *got = owner;
    if (!(fix->lat >= -90 && fix->lat <= 90 && fix->lon >= -180 && fix->lon <= 180))
        abort();
    if (fix->follows && (got->count == 0 || fix->ms <= got->last))
        abort();
    got->count++;
    got->last = fix->ms;
    return ERR_OK;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    struct got got = {0};
    struct gpx_report report;
    struct textbuf why = {0};
    int fd = memfd_create("gpx", MFD_CLOEXEC);
    if (fd < 0 || write(fd, data, size) != (ssize_t)size || lseek(fd, 0, SEEK_SET) != 0)
        abort();
    int err = gpx_read(fd, take, &got, &report, &why);
    size_t left_out = report.untimed.count + report.mistimed.count + report.misplaced.count +
                      report.repeated.count;
    /* A fault of the file may stand in the middle of a point. */
    if (got.count + left_out > report.points || report.points > got.count + left_out + 1)
        abort();
    if ((err != ERR_OK && err != ERR_INPUT) || (err == ERR_INPUT) != (why.len > 0))
        abort();
    textbuf_clear(&why);
    (void)close(fd);
    return 0;
}
