/* SPDX-License-Identifier: MIT */
#include "system/http_library.h"

#include <microhttpd.h>
#include <pthread.h>
#include <stdlib.h>

#include "base/textbuf.h"
#include "system/shared_library.h"

#define FUNCTIONS(X)                                                                               \
    X(MHD_add_response_header)                                                                     \
    X(MHD_create_response_from_buffer)                                                             \
    X(MHD_create_response_from_buffer_with_free_callback_cls)                                      \
    X(MHD_create_response_from_callback)                                                           \
    X(MHD_destroy_response)                                                                        \
    X(MHD_get_connection_info)                                                                     \
    X(MHD_get_connection_values)                                                                   \
    X(MHD_get_daemon_info)                                                                         \
    X(MHD_get_reason_phrase_for)                                                                   \
    X(MHD_http_unescape)                                                                           \
    X(MHD_is_feature_supported)                                                                    \
    X(MHD_lookup_connection_value)                                                                 \
    X(MHD_queue_response)                                                                          \
    X(MHD_resume_connection)                                                                       \
    X(MHD_start_daemon_va)                                                                         \
    X(MHD_stop_daemon)                                                                             \
    X(MHD_suspend_connection)

struct functions {
#define MEMBER(name) __typeof__(name) *(name);
    FUNCTIONS(MEMBER)
#undef MEMBER
};

static struct {
    pthread_once_t once;
    struct functions functions;
    bool loaded;
} loading = {.once = PTHREAD_ONCE_INIT};

static void load(void) {
    static const struct library_function wanted[] = {
#define WANTED(name) {#name, offsetof(struct functions, name)},
        FUNCTIONS(WANTED)
#undef WANTED
    };
    loading.loaded = library_load("libmicrohttpd.so.12", wanted, sizeof wanted / sizeof wanted[0],
                                  &loading.functions);
}

bool http_library_load(struct textbuf *why) {
    (void)pthread_once(&loading.once, load);
    if (!loading.loaded)
        textbuf_puts(why, "the HTTP library is not there; on Debian: apt-get install "
                          "libmicrohttpd12");
    return loading.loaded;
}

static const struct functions *library(void) {
    (void)pthread_once(&loading.once, load);
    if (!loading.loaded)
        abort();
    return &loading.functions;
}

enum MHD_Result MHD_add_response_header(struct MHD_Response *response, const char *header,
                                        const char *content) {
    return library()->MHD_add_response_header(response, header, content);
}

struct MHD_Response *MHD_create_response_from_buffer(size_t size, void *buffer,
                                                     enum MHD_ResponseMemoryMode mode) {
    return library()->MHD_create_response_from_buffer(size, buffer, mode);
}

struct MHD_Response *MHD_create_response_from_buffer_with_free_callback_cls(
    size_t size, void *buffer, MHD_ContentReaderFreeCallback crfc, void *crfc_cls) {
    return library()->MHD_create_response_from_buffer_with_free_callback_cls(size, buffer, crfc,
                                                                             crfc_cls);
}

struct MHD_Response *MHD_create_response_from_callback(uint64_t size, size_t block_size,
                                                       MHD_ContentReaderCallback crc, void *crc_cls,
                                                       MHD_ContentReaderFreeCallback crfc) {
    return library()->MHD_create_response_from_callback(size, block_size, crc, crc_cls, crfc);
}

void MHD_destroy_response(struct MHD_Response *response) {
    library()->MHD_destroy_response(response);
}

/* What is asked here and below takes nothing more. */
const union MHD_ConnectionInfo *MHD_get_connection_info(struct MHD_Connection *connection,
                                                        enum MHD_ConnectionInfoType info_type,
                                                        ...) {
    return library()->MHD_get_connection_info(connection, info_type);
}

int MHD_get_connection_values(struct MHD_Connection *connection, enum MHD_ValueKind kind,
                              MHD_KeyValueIterator iterator, void *iterator_cls) {
    return library()->MHD_get_connection_values(connection, kind, iterator, iterator_cls);
}

const union MHD_DaemonInfo *MHD_get_daemon_info(struct MHD_Daemon *daemon,
                                                enum MHD_DaemonInfoType info_type, ...) {
    return library()->MHD_get_daemon_info(daemon, info_type);
}

const char *MHD_get_reason_phrase_for(unsigned int code) {
    return library()->MHD_get_reason_phrase_for(code);
}

size_t MHD_http_unescape(char *val) {
    return library()->MHD_http_unescape(val);
}

enum MHD_Result MHD_is_feature_supported(enum MHD_FEATURE feature) {
    return library()->MHD_is_feature_supported(feature);
}

const char *MHD_lookup_connection_value(struct MHD_Connection *connection, enum MHD_ValueKind kind,
                                        const char *key) {
    return library()->MHD_lookup_connection_value(connection, kind, key);
}

enum MHD_Result MHD_queue_response(struct MHD_Connection *connection, unsigned int status_code,
                                   struct MHD_Response *response) {
    return library()->MHD_queue_response(connection, status_code, response);
}

void MHD_resume_connection(struct MHD_Connection *connection) {
    library()->MHD_resume_connection(connection);
}

struct MHD_Daemon *MHD_start_daemon(unsigned int flags, uint16_t port, MHD_AcceptPolicyCallback apc,
                                    void *apc_cls, MHD_AccessHandlerCallback dh, void *dh_cls,
                                    ...) {
    va_list options;
    va_start(options, dh_cls);
    struct MHD_Daemon *daemon =
        library()->MHD_start_daemon_va(flags, port, apc, apc_cls, dh, dh_cls, options);
    va_end(options);
    return daemon;
}

void MHD_stop_daemon(struct MHD_Daemon *daemon) {
    library()->MHD_stop_daemon(daemon);
}

void MHD_suspend_connection(struct MHD_Connection *connection) {
    library()->MHD_suspend_connection(connection);
}
