/* SPDX-License-Identifier: MIT */
#include "case_folders.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "testing.h"

static const char cases[] = "build/cases";

static char *file_text(const char *folder, const char *name, size_t *len) {
    char path[512];
    char part[4096];
    struct textbuf b = {0};
    int n = snprintf(path, sizeof path, "%s/%s", folder, name);
    assert_true(n > 0 && (size_t)n < sizeof path);
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        return NULL;
    for (size_t got; (got = fread(part, 1, sizeof part, file)) > 0;)
        textbuf_add(&b, part, got);
    assert_false(ferror(file) || b.failed);
    assert_int_equal(fclose(file), 0);
    textbuf_puts(&b, "");
    *len = b.len;
    return b.bytes;
}

void case_folder_open(struct case_folder *folder, const char *path) {
    static const char *const names[] = {"event.json", "entries.csv", "starts.csv", "readings.csv",
                                        "decisions.csv"};
    struct file_text *files[] = {&folder->files.rules, &folder->files.entries,
                                 &folder->files.starts, &folder->files.readings,
                                 &folder->files.decisions};
    *folder = (struct case_folder){0};
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        folder->texts[i] = file_text(path, names[i], &files[i]->len);
        files[i]->text = folder->texts[i];
    }
    if (folder->texts[0] == NULL)
        fail_msg("%s/event.json cannot be read; tests run in the repository's root, "
                 "after `make programs`",
                 path);
}

void case_folder_close(struct case_folder *folder) {
    for (size_t i = 0; i < COUNT_OF(folder->texts); i++)
        free(folder->texts[i]);
    *folder = (struct case_folder){0};
}

static bool is_good(const char *path) {
    struct case_folder folder;
    struct problems problems = {0};
    struct model *model = NULL;
    case_folder_open(&folder, path);
    bool good = model_read(&folder.files, &problems, &model) == ERR_OK;
    model_free(model);
    problems_clear(&problems);
    case_folder_close(&folder);
    return good;
}

static int not_hidden(const struct dirent *entry) {
    return entry->d_name[0] != '.';
}

int each_case_folder(void (*visit)(const char *path, void *context), void *context) {
    struct dirent **names = NULL;
    int found = scandir(cases, &names, not_hidden, alphasort);
    int good = 0;
    assert_true(found > 0);
    for (int i = 0; i < found; i++) {
        char path[512];
        int n = snprintf(path, sizeof path, "%s/%s/event", cases, names[i]->d_name);
        assert_true(n > 0 && (size_t)n < sizeof path);
        free(names[i]);
        if (!is_good(path))
            continue;
        visit(path, context);
        good++;
    }
    free(names);
    return good;
}
