/* SPDX-License-Identifier: MIT */
/* store_lock.h - who is at work on an event file: SLUG.cairn-lock beside it, an empty file but for
 * a word of the server that holds it, whether it can write (writability.h). Servers, followers and
 * commands take a share of it while they have the event open; what puts another file in its place
 * takes it whole. The kernel gives a share back when its process ends, however it ends. */
#ifndef CAIRN_STORE_LOCK_H
#define CAIRN_STORE_LOCK_H

#include <stdbool.h>
#include <stddef.h>

struct textbuf;

enum store_holder { HOLDER_SERVER, HOLDER_FOLLOWER, HOLDER_COMMAND, HOLDER_COUNT };

/* Takes a share; waits some seconds where somebody has it whole.
 *   path  of the event file
 *   fd    gets the lock, for store_lock_release; -1 where no lock can be made there (a read-only
 *         or full disk, a file of another user): then nothing is held and ERR_OK returned
 *   why   gets why not; may be NULL
 * Returns: ERR_OK; ERR_BUSY; ERR_NOMEM. */
int store_lock_share(const char *path, enum store_holder who, int *fd, struct textbuf *why);

/* Takes it whole; waits some seconds for commands, and not at all for a server or a follower.
 * Returns: ERR_OK; ERR_CONFLICT, with who holds it in `why`; ERR_IO; ERR_NOMEM. */
int store_lock_whole(const char *path, int *fd, struct textbuf *why);

/* Whether what is locked is still what is there under that name. */
bool store_lock_stands(const char *path, int fd);

/* Whether somebody of that sort has the event open now. */
bool store_lock_is_held(const char *path, enum store_holder who);

/* Writes the state of the server that holds it; nothing where the file may not be written. */
void store_lock_leave_state(const char *path, const char *word);

/* The state that was written there, for as long as its server holds it; "" for none.
 *   room  bytes of `word`, at least 1 */
void store_lock_read_state(const char *path, char *word, size_t room);

/* Gives it back; -1 is accepted. */
void store_lock_release(int fd);

#endif
