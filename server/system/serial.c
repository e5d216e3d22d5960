/* SPDX-License-Identifier: MIT */
#include "system/serial.h"

#include <errno.h>
#include <fcntl.h>
#include <stddef.h>
#include <termios.h>
#include <unistd.h>

const char *const serial_parities[] = {"none", "even", "odd", NULL};

static const struct {
    int64_t speed;
    speed_t code;
} speeds[] = {{1200, B1200},   {2400, B2400},   {4800, B4800},   {9600, B9600},
              {19200, B19200}, {38400, B38400}, {57600, B57600}, {115200, B115200}};

static int set_up(int fd, const struct serial_form *form) {
    struct termios how;
    speed_t code = B0;
    for (size_t i = 0; i < sizeof speeds / sizeof *speeds; i++) {
        if (speeds[i].speed == form->speed)
            code = speeds[i].code;
    }
    if (code == B0) {
        errno = EINVAL;
        return -1;
    }
    if (tcgetattr(fd, &how) != 0)
        return -1;
    cfmakeraw(&how);
    how.c_cflag &= ~(tcflag_t)(CSIZE | PARENB | PARODD | CSTOPB);
    how.c_cflag |= (tcflag_t)(CLOCAL | CREAD);
    how.c_cflag |= form->bits == 7 ? (tcflag_t)CS7 : (tcflag_t)CS8;
    if (form->parity != PARITY_NONE) {
        how.c_cflag |= (tcflag_t)PARENB;
        /* A letter that was spoilt on the way comes as NUL, which no good line has. */
        how.c_iflag |= (tcflag_t)INPCK;
        how.c_iflag &= ~(tcflag_t)(IGNPAR | PARMRK);
    }
    if (form->parity == PARITY_ODD)
        how.c_cflag |= (tcflag_t)PARODD;
    if (form->stops == 2)
        how.c_cflag |= (tcflag_t)CSTOPB;
    how.c_cc[VMIN] = 1;
    how.c_cc[VTIME] = 0;
    if (cfsetispeed(&how, code) != 0 || cfsetospeed(&how, code) != 0)
        return -1;
    return tcsetattr(fd, TCSANOW, &how);
}

int serial_open(const char *device, const struct serial_form *form) {
    int fd = open(device, O_RDONLY | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0)
        return -1;
    if (set_up(fd, form) == 0)
        return fd;
    int error = errno;
    (void)close(fd);
    errno = error;
    return -1;
}
