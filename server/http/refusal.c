/* SPDX-License-Identifier: MIT */
#include "http/refusal.h"

#include "system/http_library.h"

enum refusal refusal_of(unsigned status) {
    switch (status) {
    case MHD_HTTP_BAD_REQUEST:
        return REFUSAL_BAD_REQUEST;
    case MHD_HTTP_UNAUTHORIZED:
        return REFUSAL_NO_KEY;
    case MHD_HTTP_TOO_MANY_REQUESTS:
        return REFUSAL_GUESSING;
    case MHD_HTTP_FORBIDDEN:
        return REFUSAL_WRONG_KEY;
    case MHD_HTTP_NOT_FOUND:
        return REFUSAL_NOT_FOUND;
    case MHD_HTTP_METHOD_NOT_ALLOWED:
        return REFUSAL_WRONG_METHOD;
    case MHD_HTTP_CONFLICT:
        return REFUSAL_NOT_YET;
    case MHD_HTTP_PRECONDITION_FAILED:
        return REFUSAL_STALE;
    case MHD_HTTP_CONTENT_TOO_LARGE:
        return REFUSAL_TOO_LARGE;
    case MHD_HTTP_UNSUPPORTED_MEDIA_TYPE:
        return REFUSAL_MEDIA_TYPE;
    case MHD_HTTP_UNPROCESSABLE_CONTENT:
        return REFUSAL_BAD_DOCUMENT;
    case MHD_HTTP_SERVICE_UNAVAILABLE:
        return REFUSAL_MACHINE;
    default:
        return status < 400 ? REFUSAL_NONE : REFUSAL_OTHER;
    }
}

const char *refusal_word(enum refusal refusal) {
    static const char *const words[REFUSAL_COUNT] = {
        [REFUSAL_NONE] = "",
        [REFUSAL_BAD_REQUEST] = "bad-request",
        [REFUSAL_NO_KEY] = "no-key",
        [REFUSAL_GUESSING] = "too-many-wrong-keys",
        [REFUSAL_WRONG_KEY] = "wrong-key",
        [REFUSAL_NOT_FOUND] = "not-found",
        [REFUSAL_WRONG_METHOD] = "wrong-method",
        [REFUSAL_NOT_YET] = "not-yet",
        [REFUSAL_STALE] = "somebody-was-first",
        [REFUSAL_TOO_LARGE] = "too-large",
        [REFUSAL_MEDIA_TYPE] = "media-type",
        [REFUSAL_BAD_DOCUMENT] = "bad-document",
        [REFUSAL_OTHER] = "other",
        [REFUSAL_QUEUE_FULL] = "queue-full",
        [REFUSAL_BUSY] = "busy",
        [REFUSAL_CROWDED] = "crowded",
        [REFUSAL_STOPPING] = "stopping",
        [REFUSAL_MACHINE] = "machine",
    };
    return words[refusal];
}
