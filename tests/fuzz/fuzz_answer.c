/* SPDX-License-Identifier: MIT */
/* Any bytes as what a server answers /healthz with; and as an address that people give. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "remote/event_address.h"
#include "remote/http_client.h"
#include "remote/server_check.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* Each finding is one line, whatever was answered. */
static void try_answer(const uint8_t *data, size_t size) {
    struct findings found = {0};
    int lines = 0;
    server_check_health(&found, "http://fell.example/", (const char *)data, size);
    for (const char *c = textbuf_text(&found.report); *c != '\0'; c++)
        lines += *c == '\n';
    if (lines < 1 || lines != found.counts[FINDING_GOOD] + found.counts[FINDING_DOUBTFUL] +
                                  found.counts[FINDING_BAD])
        abort();
    textbuf_clear(&found.report);
}

static void try_address(const char *url) {
    struct event_address event;
    struct textbuf why = {0};
    size_t len = http_base_length(url);
    if (len > HTTP_BASE_MAX || len > strlen(url) || strcspn(url, " @\r\n") < len ||
        (len > 0 && strchr("/?#", url[len]) == NULL))
        abort();
    (void)http_is_this_machine(url);
    int err = event_address_parse(url, &event, &why);
    if ((err == ERR_OK) != (why.len == 0) ||
        (err == ERR_OK && http_base_length(event.readings) == 0))
        abort();
    event_address_clear(&event);
    textbuf_clear(&why);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    char *text = malloc(size + 1);
    if (text == NULL)
        return 0;
    if (size > 0)
        memcpy(text, data, size);
    text[size] = '\0';
    try_answer(data, size);
    try_address(text);
    free(text);
    return 0;
}
