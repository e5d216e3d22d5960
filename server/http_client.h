/* SPDX-License-Identifier: MIT */
/* sender.h - posts bodies over HTTP, by libcurl.
 * The library is loaded when a sender is made, not linked: with all that it needs in turn it would
 * make every other command slower to start. Follows no redirection, so that the key goes to
 * nobody else. One owner at a time. */
#ifndef CAIRN_SENDER_H
#define CAIRN_SENDER_H

#include <signal.h>
#include <stddef.h>

struct sender;
struct textbuf;

enum sender_result {
    SENDER_ANSWERED,  /* an HTTP answer came, whatever its status */
    SENDER_NO_LINE,   /* none came; a later try may do better */
    SENDER_UNTRUSTED, /* the server's certificate is not to be trusted */
    SENDER_STOPPED,   /* *stop was set */
    SENDER_FAILED     /* the machine failed, or the address cannot be used */
};

/* An answer. A plain value; sender_answer_clear frees it. */
struct sender_answer {
    long status;      /* of HTTP */
    long retry_after; /* seconds that the server asks to wait, 0 where it does not */
    char *body;       /* NUL-terminated, NULL where there is none */
    size_t len;
    char *location; /* where the server sends on to; NULL */
};

/* Makes a sender.
 *   url      where bodies are posted, borrowed until sender_free
 *   key      sent as a bearer token in a header, copied
 *   ca_file  certificates to trust instead of the system's; NULL; borrowed
 *   stop     looked at while a request is under way: not 0 ends it; borrowed
 *   why      gets what is wrong
 * Returns: ERR_OK; ERR_IO where the library cannot be used; ERR_NOMEM. */
int sender_new(const char *url, const char *key, const char *ca_file,
               const volatile sig_atomic_t *stop, struct sender **out, struct textbuf *why);

/* Frees a sender; NULL is accepted. */
void sender_free(struct sender *sender);

/* Posts JSON and waits for the answer.
 *   answer  set up in any case; call sender_answer_clear
 *   why     gets what went wrong, in words, unless it was answered or stopped */
enum sender_result sender_post(struct sender *sender, const char *body, size_t len,
                               struct sender_answer *answer, struct textbuf *why);

/* Frees what an answer owns. */
void sender_answer_clear(struct sender_answer *answer);

#endif
