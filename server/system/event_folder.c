/* SPDX-License-Identifier: MIT */
#include "system/event_folder.h"

#include <errno.h>
#include <pwd.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/err.h"
#include "base/problem.h"
#include "system/files.h"

/* "No such folder" of one that is there sends people looking in the wrong place. */
static void tell_unreadable(struct problems *problems, const char *path, int why) {
    char room[1024];
    struct passwd entry;
    struct passwd *user = NULL;
    if (why == EACCES)
        (void)getpwuid_r(geteuid(), &entry, room, sizeof room, &user);
    if (why == ENOENT)
        problems_add(problems, PROBLEM_ERROR, path, 0, "no such folder");
    else if (user != NULL)
        problems_add(problems, PROBLEM_ERROR, path, 0, "it may not be read by the user %s",
                     user->pw_name);
    else
        problems_add(problems, PROBLEM_ERROR, path, 0, "it cannot be read: %s", strerror(why));
}

int event_folder_read(const char *path, struct problems *problems, struct event_folder *out) {
    static const char *const names[] = {"event.json",   "entries.csv",   "starts.csv",
                                        "readings.csv", "decisions.csv", "unassigned.csv"};
    struct stat info;
    *out = (struct event_folder){0};
    struct file_text *files[] = {&out->files.rules,     &out->files.entries,
                                 &out->files.starts,    &out->files.readings,
                                 &out->files.decisions, &out->files.unassigned};
    int why = stat(path, &info) != 0 ? errno : S_ISDIR(info.st_mode) ? 0 : ENOTDIR;
    if (why == 0 && access(path, R_OK | X_OK) != 0)
        why = errno;
    if (why != 0) {
        tell_unreadable(problems, path, why);
        return ERR_INPUT;
    }
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        char *file = NULL;
        if (asprintf(&file, "%s/%s", path, names[i]) < 0)
            return ERR_NOMEM;
        int err = file_read(file, &out->texts[i], &files[i]->len);
        free(file);
        if (err == ERR_IO)
            problems_add(problems, PROBLEM_ERROR, names[i], 0, "cannot be read: %s",
                         strerror(errno));
        if (err == ERR_IO || err == ERR_NOMEM)
            return err;
        files[i]->text = out->texts[i];
    }
    return ERR_OK;
}

void event_folder_clear(struct event_folder *folder) {
    for (size_t i = 0; i < sizeof folder->texts / sizeof folder->texts[0]; i++)
        free(folder->texts[i]);
    *folder = (struct event_folder){0};
}
