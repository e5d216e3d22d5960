/* SPDX-License-Identifier: MIT */
#include "remote/server_check.h"

#include <inttypes.h>
#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "base/err.h"
#include "remote/http_client.h"
#include "store/writability.h"
#include "system/certificate_check.h"
#include "system/system_clock.h"

enum {
    ANSWER_BYTES = 65536,
    CONNECT_SECONDS = 5,
    ANSWER_SECONDS = 10, /* with the connecting */
    ANSWER_DOUBTFUL_MS = 500,
    CLOCK_DOUBTFUL_SECONDS = 2
};

/* The clock of a server on another machine against this one's. */
static void check_date(struct findings *f, const char *url, int64_t date) {
    int64_t apart = date - now_ms() / 1000;
    if (date >= 0 && (apart > CLOCK_DOUBTFUL_SECONDS || apart < -CLOCK_DOUBTFUL_SECONDS))
        findings_add(f, FINDING_DOUBTFUL,
                     "%s: its clock and this machine's are %" PRId64 " s apart", url,
                     apart < 0 ? -apart : apart);
}

/* What it cannot write, each a finding; how many. That one stands by is as it should be. */
static size_t add_unwritable(struct findings *f, const char *url, const json_t *list) {
    size_t told = 0;
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *item = json_array_get(list, i);
        const char *event = json_string_value(json_object_get(item, "event"));
        const char *why = json_string_value(json_object_get(item, "why"));
        if (event == NULL)
            continue;
        if (why != NULL && strcmp(why, writability_message(UNWRITABLE_STANDBY)) == 0)
            findings_add(f, FINDING_GOOD,
                         "%s: %s stands by for another server: promote it first to "
                         "write here",
                         url, event);
        else
            findings_add(f, FINDING_BAD, "%s: it cannot write %s: %s", url, event,
                         why == NULL ? "no reason given" : why);
        told++;
    }
    return told;
}

void server_check_health(struct findings *f, const char *url, const char *body, size_t len) {
    json_t *root = json_loadb(body, len, JSON_REJECT_DUPLICATES, NULL);
    const json_t *can_write = json_object_get(root, "can_write");
    if (!json_is_string(json_object_get(root, "status")))
        findings_add(f, FINDING_BAD, "%s: what answers is no cairn server", url);
    else if (add_unwritable(f, url, json_object_get(root, "cannot_write")) > 0)
        ; /* each is a finding */
    else if (json_is_true(can_write))
        findings_add(f, FINDING_GOOD, "%s: it can write", url);
    else if (json_is_false(can_write))
        findings_add(f, FINDING_BAD, "%s: it cannot write", url);
    else
        findings_add(f, FINDING_DOUBTFUL, "%s: it does not say whether it can write", url);
    json_decref(root);
}

static void check_answer(struct findings *f, const char *url, const struct http_answer *answer) {
    if (answer->location != NULL) {
        findings_add(f, FINDING_BAD, "%s: it sends on to %s: give that address", url,
                     answer->location);
        return;
    }
    if (answer->status != 200) {
        findings_add(f, FINDING_BAD, "%s: /healthz is answered with %ld", url, answer->status);
    } else {
        findings_add(f, answer->took_ms >= ANSWER_DOUBTFUL_MS ? FINDING_DOUBTFUL : FINDING_GOOD,
                     "%s: answered after %" PRId64 " ms", url, answer->took_ms);
        server_check_health(f, url, answer->body == NULL ? "" : answer->body, answer->len);
    }
    check_date(f, url, answer->date);
}

/* Asks, and looks at the certificate as somebody would who knows the machine's authorities only.
 *   any_certificate  asks on where it is not trusted, and says no more of it
 * Returns false where that is to be done. */
static bool ask(struct findings *f, const char *url, const char *healthz, bool any_certificate) {
    const struct http_options line = {.any_certificate = any_certificate,
                                      .answer_max = ANSWER_BYTES,
                                      .connect_seconds = CONNECT_SECONDS,
                                      .silent_seconds = ANSWER_SECONDS,
                                      .total_seconds = ANSWER_SECONDS};
    struct http_client *client = NULL;
    struct http_answer answer = {0};
    struct textbuf why = {0};
    int err = http_client_new(&line, &client, &why);
    if (err != ERR_OK) {
        findings_add(f, FINDING_BAD, "%s: %s", url,
                     why.len > 0 ? textbuf_text(&why) : err_text(err));
        textbuf_clear(&why);
        return true;
    }
    enum http_result result = http_get(client, healthz, &answer, &why);
    const char *cert = any_certificate ? NULL : http_client_certificate(client);
    if (cert != NULL)
        certificate_check_text(f, url, cert, strlen(cert));
    if (result == HTTP_ANSWERED)
        check_answer(f, url, &answer);
    else if (result == HTTP_UNTRUSTED)
        findings_add(f, FINDING_DOUBTFUL, "%s: browsers will warn of the certificate: %s", url,
                     textbuf_text(&why));
    else if (result == HTTP_NO_TLS)
        findings_add(f, FINDING_BAD, "%s: no TLS: %s", url, textbuf_text(&why));
    else if (result == HTTP_NO_ANSWER)
        findings_add(f, FINDING_BAD, "%s: no answer: %s", url, textbuf_text(&why));
    else
        findings_add(f, FINDING_BAD, "%s: %s", url, textbuf_text(&why));
    http_answer_clear(&answer);
    http_client_free(client);
    textbuf_clear(&why);
    return result != HTTP_UNTRUSTED;
}

void server_check(struct findings *f, const char *url) {
    char healthz[HTTP_BASE_MAX + sizeof "/healthz"];
    size_t len = http_base_length(url);
    if (len == 0) {
        findings_add(f, FINDING_BAD, "%s: that is no http:// or https:// address", url);
        return;
    }
    (void)snprintf(healthz, sizeof healthz, "%.*s/healthz", (int)len, url);
    if (!ask(f, url, healthz, false))
        (void)ask(f, url, healthz, true);
}
