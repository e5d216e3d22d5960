/* SPDX-License-Identifier: MIT */
#include "commands/event_source.h"

#include <stdio.h>

#include "base/err.h"
#include "base/problem.h"
#include "commands/event_file.h"
#include "store/store.h"
#include "store/stored_documents.h"
#include "system/event_folder.h"
#include "system/files.h"
#include "system/problem_lines.h"
#include "system/system_clock.h"

static int open_folder(struct event_source *source) {
    struct problems problems = {0};
    int err = event_folder_read(source->path, &problems, &source->folder);
    if (err == ERR_OK)
        err = model_read(&source->folder.files, &problems, &source->model);
    print_problems(&problems);
    problems_clear(&problems);
    return exit_code(err);
}

static int open_file(struct event_source *source, const char *data_dir, const char *slug,
                     bool writing) {
    int err = event_file_open(data_dir, slug, false, &source->store);
    if (err == ERR_OK && writing) {
        err = store_begin(source->store);
        source->writing = err == ERR_OK;
    }
    if (err == ERR_OK)
        err = store_load_event(source->store, &source->model);
    if (err != ERR_OK && source->store != NULL)
        (void)fprintf(stderr, "cairn: %s/%s.cairn: %s\n", data_dir, slug,
                      store_message(source->store));
    return exit_code(err == ERR_UNKNOWN ? ERR_INPUT : err);
}

int event_source_open(struct event_source *source, const struct arguments *a, bool writing) {
    *source = (struct event_source){0};
    if (a->count == 2)
        return open_file(source, a->operands[0], a->operands[1], writing);
    source->path = a->operands[0];
    return open_folder(source);
}

int event_source_save_starts(struct event_source *source, const char *text, size_t len) {
    struct stored_revision last;
    int64_t upload = 0;
    if (source->path != NULL)
        return exit_code(file_write(source->path, "starts.csv", text, len));
    int err = store_add_upload(source->store, now_ms(), "import", 0, "starts.csv", "text/csv", text,
                               len, &upload);
    if (err == ERR_OK)
        err = store_add_document(source->store, "starts.csv", upload);
    if (err == ERR_OK)
        err = store_last_revision(source->store, &last);
    if (err == ERR_OK)
        err = store_add_revision(source->store, last.office + 1, last.public_number + 1, now_ms());
    if (err == ERR_OK)
        err = store_commit(source->store);
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn: %s\n", store_message(source->store));
    else
        source->writing = false;
    return exit_code(err);
}

void event_source_close(struct event_source *source) {
    if (source->writing)
        store_rollback(source->store);
    model_free(source->model);
    event_folder_clear(&source->folder);
    store_close(source->store);
    *source = (struct event_source){0};
}
