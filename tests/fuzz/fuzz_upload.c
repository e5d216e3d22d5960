/* SPDX-License-Identifier: MIT */
/* Any bytes as a posted body of rows: the first says whether JSON, NDJSON or CSV, and of what. Rows
 * that can be read are offered to an event, whose facts they become or which says why not. */
#include "live/upload.h"
#include "fuzz_folder.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool holds) {
    if (!holds)
        abort();
}

static struct model *new_event(void) {
    const struct event_files files = fuzz_files();
    struct problems problems = {0};
    struct model *model = NULL;
    must(model_read(&files, &problems, &model) == ERR_OK);
    problems_clear(&problems);
    return model;
}

static void offer_reading(struct model *model, const struct upload_row *row) {
    struct reading_text text = {.extras = row->extras};
    struct textbuf reason = {0};
    memcpy(text.field, row->fields, sizeof text.field);
    enum fact_result result = readings_add(model->readings, &text, &reason, NULL);
    must((result == FACT_REFUSED) == (reason.len > 0));
    if (result != FACT_REFUSED)
        must(readings_add(model->readings, &text, &reason, NULL) == FACT_DUPLICATE);
    textbuf_clear(&reason);
}

static void offer_decision(struct model *model, const struct upload_row *row) {
    struct decision_text text = {.extras = row->extras};
    struct textbuf reason = {0};
    memcpy(text.field, row->fields, sizeof text.field);
    enum fact_result result = decisions_add(model->decisions, &text, &reason, NULL);
    must((result == FACT_REFUSED) == (reason.len > 0));
    if (result != FACT_REFUSED)
        must(decisions_add(model->decisions, &text, &reason, NULL) == FACT_DUPLICATE);
    textbuf_clear(&reason);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    struct upload upload = {0};
    struct textbuf why = {0};
    if (size < 1)
        return -1;
    enum media media = (enum media)(data[0] % 3);
    bool readings = (data[0] & 4) == 0;
    const char *const *names = readings ? reading_field_names : decision_field_names;
    size_t count = readings ? READING_FIELD_COUNT : DECISION_FIELD_COUNT;
    char *body = malloc(size);
    if (body == NULL)
        return 0;
    memcpy(body, data + 1, size - 1);
    body[size - 1] = '\0';
    int err = upload_parse(media, body, size - 1, names, count, 2, NULL, &upload, &why);
    must(err != ERR_INPUT || why.len > 0);
    struct model *model = err == ERR_OK ? new_event() : NULL;
    for (size_t i = 0; err == ERR_OK && i < upload.count; i++) {
        const struct upload_row *row = &upload.rows[i];
        for (size_t f = 0; f < count && row->wrong == NULL; f++)
            must(row->fields[f] != NULL);
        if (row->wrong != NULL)
            continue;
        if (readings)
            offer_reading(model, row);
        else
            offer_decision(model, row);
    }
    model_free(model);
    upload_clear(&upload);
    textbuf_clear(&why);
    free(body);
    return 0;
}
