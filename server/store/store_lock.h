/* SPDX-License-Identifier: MIT */
/* store_lock.h - the lock of an event file: SLUG.cairn-lock beside it. Servers, followers and
 * commands hold it shared while they have the event open; a command that puts another file in its
 * place holds it exclusively. The kernel releases a lock when its process ends, however it ends.
 * The file is empty, but for one word of the server that holds it: whether it can write
 * (writability.h). Any thread. */
#ifndef CAIRN_STORE_LOCK_H
#define CAIRN_STORE_LOCK_H

#include <stdbool.h>
#include <stddef.h>

struct textbuf;

enum store_holder { HOLDER_SERVER, HOLDER_FOLLOWER, HOLDER_COMMAND, HOLDER_COUNT };

/* Takes the lock shared; waits some seconds where somebody has it exclusively.
 *   path  of the event file
 *   fd    gets the lock, for store_lock_release; -1 where no lock can be made there (a read-only
 *         or full disk, a file of another user), which is ERR_OK: nothing is held then
 *   why   gets why not; may be NULL
 * Returns: ERR_OK; ERR_BUSY; ERR_NOMEM. */
int store_lock_shared(const char *path, enum store_holder who, int *fd, struct textbuf *why);

/* Takes it exclusively; waits some seconds for commands, and not for a server or a follower.
 * Returns: ERR_OK; ERR_CONFLICT, with who holds it in `why`; ERR_IO; ERR_NOMEM. */
int store_lock_exclusive(const char *path, int *fd, struct textbuf *why);

/* True where the locked file is still the one under that name. */
bool store_lock_is_current(const char *path, int fd);

/* True where somebody of that sort has the event open now. */
bool store_lock_is_held(const char *path, enum store_holder who);

/* Writes the server's word into the lock file, where it may be written. */
void store_lock_write_state(const char *path, const char *word);

/* Reads that word; "" for none. It means something only while a server holds the lock.
 *   size  bytes of `word`, at least 1 */
void store_lock_read_state(const char *path, char *word, size_t size);

/* Releases it; -1 is accepted. */
void store_lock_release(int fd);

#endif
