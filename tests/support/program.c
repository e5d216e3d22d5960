/* SPDX-License-Identifier: MIT */
#include "program.h"

#include <errno.h>
#include <poll.h>
#include <spawn.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "testing.h"

enum { READ_STEP = 65536 };

extern char **environ;

void *need(void *p) {
    if (p == NULL) {
        fprintf(stderr, "out of memory\n");
        exit(EXIT_FAILURE);
    }
    return p;
}

/* Takes what is there to read from `fd`. False at the end of it. */
static bool take(int fd, struct said *into) {
    ssize_t got;

    into->bytes = need(realloc(into->bytes, into->len + READ_STEP + 1));
    do
        got = read(fd, into->bytes + into->len, READ_STEP);
    while (got < 0 && errno == EINTR);
    if (got > 0)
        into->len += (size_t)got;
    into->bytes[into->len] = '\0';
    return got > 0;
}

/* Runs the program and reads both its outputs to their ends, whichever comes first, so that neither
 * pipe fills up while we wait for the other. */
void program_run(const char *path, char *const argv[], struct outcome *result) {
    int out[2];
    int err[2];
    posix_spawn_file_actions_t actions;
    pid_t child;
    int status = 0;
    int spawned;
    struct pollfd ends[2];

    *result = (struct outcome){.exit_code = -1};
    assert_int_equal(pipe(out), 0);
    assert_int_equal(pipe(err), 0);
    assert_int_equal(posix_spawn_file_actions_init(&actions), 0);
    assert_int_equal(posix_spawn_file_actions_adddup2(&actions, out[1], STDOUT_FILENO), 0);
    assert_int_equal(posix_spawn_file_actions_adddup2(&actions, err[1], STDERR_FILENO), 0);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(posix_spawn_file_actions_addclose(&actions, out[i]), 0);
        assert_int_equal(posix_spawn_file_actions_addclose(&actions, err[i]), 0);
    }
    spawned = posix_spawn(&child, path, &actions, NULL, argv, environ);
    posix_spawn_file_actions_destroy(&actions);
    close(out[1]);
    close(err[1]);
    if (spawned != 0) {
        close(out[0]);
        close(err[0]);
        fail_msg("cannot start %s: %s", path, strerror(spawned));
    }
    ends[0] = (struct pollfd){.fd = out[0], .events = POLLIN};
    ends[1] = (struct pollfd){.fd = err[0], .events = POLLIN};
    while (ends[0].fd >= 0 || ends[1].fd >= 0) {
        if (poll(ends, 2, -1) < 0) {
            if (errno == EINTR)
                continue;
            break;
        }
        for (int i = 0; i < 2; i++)
            if (ends[i].fd >= 0 && ends[i].revents != 0 &&
                !take(ends[i].fd, i == 0 ? &result->out : &result->err))
                ends[i].fd = -1;
    }
    close(out[0]);
    close(err[0]);
    while (waitpid(child, &status, 0) < 0 && errno == EINTR)
        continue;
    if (WIFEXITED(status))
        result->exit_code = WEXITSTATUS(status);
}

void outcome_clear(struct outcome *o) {
    free(o->out.bytes);
    free(o->err.bytes);
    *o = (struct outcome){0};
}

const char *said_text(const struct said *s) {
    return s->bytes != NULL ? s->bytes : "";
}
