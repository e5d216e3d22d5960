/* SPDX-License-Identifier: MIT */
#include "paper/drawing_process.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdint.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "paper/paper_pack.h"
#include "system/files.h"
#include "system/hard_limits.h"
#include "system/system_clock.h"

/* How often to ask whether somebody still waits, ms; bytes read or written at once; bytes that a
 * child may answer. */
enum { POLL_EVERY_MS = 50, PART_BYTES = 64 << 10, ANSWER_MAX = 64 << 20 };

/* What the child writes before its two texts: why it failed, and the file. */
struct reply {
    int64_t err;
    struct paper_count count;
    uint64_t why_len, pdf_len;
};

/* ---- the child ---- */

static void set_limit(__rlimit_resource_t what, rlim_t most) {
    struct rlimit limit;
    if (getrlimit(what, &limit) != 0)
        return;
    if (limit.rlim_max != RLIM_INFINITY && limit.rlim_max < most)
        most = limit.rlim_max;
    limit.rlim_cur = limit.rlim_max = most;
    (void)setrlimit(what, &limit);
}

static void set_limits(void) {
    set_limit(RLIMIT_CPU, LIMIT_PAPER_SECONDS);
    set_limit(RLIMIT_CORE, 0);
    /* A sanitizer's own tables take terabytes of addresses. */
#if !defined __SANITIZE_ADDRESS__ && !defined __SANITIZE_THREAD__
    set_limit(RLIMIT_AS, (rlim_t)LIMIT_PAPER_MEMORY);
#endif
    /* The service is kept from being ended where memory runs out; this process is to go first. */
    int fd = open("/proc/self/oom_score_adj", O_WRONLY | O_CLOEXEC);
    if (fd >= 0) {
        (void)!write(fd, "500", 3);
        (void)close(fd);
    }
    (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
}

static bool read_input(struct textbuf *b) {
    char part[PART_BYTES];
    ssize_t n = 0;
    while ((n = read(STDIN_FILENO, part, sizeof part)) > 0)
        textbuf_add(b, part, (size_t)n);
    return n == 0 && !b->failed;
}

int drawing_process_child(void) {
    struct textbuf asked = {0};
    struct textbuf pdf = {0};
    struct textbuf why = {0};
    struct reply reply = {.err = ERR_NOMEM};
    set_limits();
    struct paper_doc *doc = read_input(&asked) ? paper_unpack(asked.bytes, asked.len) : NULL;
    if (doc != NULL)
        reply.err = paper_print(doc, &pdf, &reply.count, &why);
    if (pdf.failed || reply.err != ERR_OK)
        textbuf_reset(&pdf);
    reply.why_len = why.len;
    reply.pdf_len = pdf.len;
    bool told = descriptor_write(STDOUT_FILENO, (const char *)&reply, sizeof reply) &&
                descriptor_write(STDOUT_FILENO, why.bytes, why.len) &&
                descriptor_write(STDOUT_FILENO, pdf.bytes, pdf.len);
    paper_free(doc);
    textbuf_clear(&asked);
    textbuf_clear(&pdf);
    textbuf_clear(&why);
    return told ? 0 : 1;
}

/* ---- the server ---- */

struct child {
    pid_t pid;
    int in, out; /* pipes to its input and from its output; -1 where closed */
};

static void close_pipe(int *fd) {
    if (*fd >= 0)
        (void)close(*fd);
    *fd = -1;
}

/* Its standard input and output are the pipes; all other descriptors but standard error are closed,
 * and no signal is blocked or ignored. Returns 0 or an error number. */
static int spawn_with(const char *program, int in, int out, pid_t *pid) {
    char name[] = "cairn";
    char command[] = "draw-paper";
    char *arguments[] = {name, command, NULL};
    posix_spawn_file_actions_t files;
    posix_spawnattr_t attributes;
    sigset_t none;
    sigset_t usual;
    int rc = posix_spawn_file_actions_init(&files);
    if (rc != 0)
        return rc;
    rc = posix_spawnattr_init(&attributes);
    if (rc != 0) {
        (void)posix_spawn_file_actions_destroy(&files);
        return rc;
    }
    (void)sigemptyset(&none);
    (void)sigemptyset(&usual);
    (void)sigaddset(&usual, SIGPIPE);
    (void)posix_spawnattr_setsigmask(&attributes, &none);
    (void)posix_spawnattr_setsigdefault(&attributes, &usual);
    (void)posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
    rc = posix_spawn_file_actions_adddup2(&files, in, STDIN_FILENO);
    if (rc == 0)
        rc = posix_spawn_file_actions_adddup2(&files, out, STDOUT_FILENO);
    if (rc == 0)
        rc = posix_spawn_file_actions_addclosefrom_np(&files, STDERR_FILENO + 1);
    if (rc == 0)
        rc = posix_spawn(pid, program, &files, &attributes, arguments, environ);
    (void)posix_spawnattr_destroy(&attributes);
    (void)posix_spawn_file_actions_destroy(&files);
    return rc;
}

static bool spawn(const char *program, struct child *child) {
    int in[2] = {-1, -1};
    int out[2] = {-1, -1};
    *child = (struct child){-1, -1, -1};
    bool good = pipe2(in, O_CLOEXEC) == 0 && pipe2(out, O_CLOEXEC) == 0 &&
                fcntl(in[1], F_SETFL, O_NONBLOCK) == 0 &&
                spawn_with(program, in[0], out[1], &child->pid) == 0;
    close_pipe(&in[0]);
    close_pipe(&out[1]);
    if (!good) {
        close_pipe(&in[1]);
        close_pipe(&out[0]);
        return false;
    }
    child->in = in[1];
    child->out = out[0];
    return true;
}

/* Kills it and waits for its end. */
static void end(struct child *child) {
    close_pipe(&child->in);
    close_pipe(&child->out);
    (void)kill(child->pid, SIGKILL);
    while (waitpid(child->pid, NULL, 0) < 0 && errno == EINTR)
        continue;
}

/* Writes a part of the document to it; at the end, or where it reads no more, closes the pipe. */
static void feed(struct child *child, const struct textbuf *asked, size_t *given) {
    ssize_t n = write(child->in, asked->bytes + *given, asked->len - *given);
    if (n > 0)
        *given += (size_t)n;
    if (*given == asked->len || (n < 0 && errno != EAGAIN && errno != EINTR))
        close_pipe(&child->in);
}

/* Takes a part of what it says. False at the end. */
static bool hear(const struct child *child, struct textbuf *told) {
    char part[PART_BYTES];
    ssize_t n = read(child->out, part, sizeof part);
    if (n > 0)
        textbuf_add(told, part, (size_t)n);
    return (n > 0 && !told->failed && told->len <= ANSWER_MAX) || (n < 0 && errno == EINTR);
}

/* Until the child has said all, the time is over, or nobody waits. Returns ERR_OK; ERR_BUSY where
 * it was given up; ERR_RANGE where it took too long. */
static int talk(struct child *child, const struct textbuf *asked, bool (*given_up)(void *context),
                void *context, struct textbuf *told) {
    int64_t until = monotonic_microseconds() + INT64_C(1000000) * LIMIT_PAPER_PATIENCE;
    size_t given = 0;
    for (;;) {
        struct pollfd fds[2] = {{.fd = child->out, .events = POLLIN},
                                {.fd = child->in, .events = POLLOUT}};
        (void)poll(fds, 2, POLL_EVERY_MS);
        if (fds[1].revents != 0)
            feed(child, asked, &given);
        if (fds[0].revents != 0 && !hear(child, told))
            return ERR_OK;
        if (given_up(context))
            return ERR_BUSY;
        if (monotonic_microseconds() > until)
            return ERR_RANGE;
    }
}

/* Takes the child's answer apart. False where it is not whole: the child ended before. */
static bool read_reply(const struct textbuf *told, struct reply *reply, struct textbuf *pdf,
                       struct textbuf *why) {
    if (told->failed || told->len < sizeof *reply)
        return false;
    memcpy(reply, told->bytes, sizeof *reply);
    size_t left = told->len - sizeof *reply;
    if (reply->why_len > left || reply->pdf_len != left - reply->why_len)
        return false;
    const char *texts = told->bytes + sizeof *reply;
    textbuf_add(why, texts, reply->why_len);
    textbuf_add(pdf, texts + reply->why_len, reply->pdf_len);
    return true;
}

int drawing_process_draw(const char *program, const struct paper_doc *doc,
                         bool (*given_up)(void *context), void *context, struct textbuf *pdf,
                         struct paper_count *count, struct textbuf *why) {
    struct textbuf asked = {0};
    struct textbuf told = {0};
    struct child child;
    struct reply reply = {0};
    int err = ERR_OK;
    *count = (struct paper_count){0};
    paper_pack(doc, &asked);
    if (asked.failed)
        err = ERR_NOMEM;
    if (err == ERR_OK && !spawn(program, &child)) {
        textbuf_puts(why, "there is no process to be had; try again");
        err = ERR_BUSY;
    } else if (err == ERR_OK) {
        int talked = talk(&child, &asked, given_up, context, &told);
        end(&child);
        err = ERR_IO;
        if (talked == ERR_BUSY) {
            textbuf_puts(why, "it is not waited for any more");
            err = ERR_BUSY;
        } else if (talked == ERR_RANGE) {
            textbuf_printf(why, "it took more than %d seconds", LIMIT_PAPER_PATIENCE);
        } else if (read_reply(&told, &reply, pdf, why)) {
            err = (int)reply.err;
            *count = reply.count;
        } else {
            textbuf_puts(why, "it could not be drawn");
        }
    }
    textbuf_clear(&asked);
    textbuf_clear(&told);
    return err;
}
