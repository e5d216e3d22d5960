/* SPDX-License-Identifier: MIT */
/* http_library.h - libmicrohttpd, loaded when a server starts, see shared_library.h. This header
 * stands in the place of the library's own: its functions are called by their own names, each of
 * which is a pointer here. A file that includes <microhttpd.h> itself does not link. */
#ifndef CAIRN_HTTP_LIBRARY_H
#define CAIRN_HTTP_LIBRARY_H

#include <microhttpd.h>

#include "system/shared_library.h"

#define HTTP_FUNCTIONS(X)                                                                          \
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
    X(MHD_start_daemon)                                                                            \
    X(MHD_stop_daemon)                                                                             \
    X(MHD_suspend_connection)

struct http_library {
    HTTP_FUNCTIONS(LIBRARY_MEMBER)
};

/* The library's functions: NULL each until http_library_load has said that it is there. */
extern struct http_library http_library;

/* Loads the library, unless it is loaded. To be called before any function of it. Any thread.
 *   why  gets what is missing
 * Returns: true once it is there. */
bool http_library_load(struct textbuf *why);

#define MHD_add_response_header (http_library.MHD_add_response_header)
#define MHD_create_response_from_buffer (http_library.MHD_create_response_from_buffer)
#define MHD_create_response_from_buffer_with_free_callback_cls                                     \
    (http_library.MHD_create_response_from_buffer_with_free_callback_cls)
#define MHD_create_response_from_callback (http_library.MHD_create_response_from_callback)
#define MHD_destroy_response (http_library.MHD_destroy_response)
#define MHD_get_connection_info (http_library.MHD_get_connection_info)
#define MHD_get_connection_values (http_library.MHD_get_connection_values)
#define MHD_get_daemon_info (http_library.MHD_get_daemon_info)
#define MHD_get_reason_phrase_for (http_library.MHD_get_reason_phrase_for)
#define MHD_http_unescape (http_library.MHD_http_unescape)
#define MHD_is_feature_supported (http_library.MHD_is_feature_supported)
#define MHD_lookup_connection_value (http_library.MHD_lookup_connection_value)
#define MHD_queue_response (http_library.MHD_queue_response)
#define MHD_resume_connection (http_library.MHD_resume_connection)
#define MHD_start_daemon (http_library.MHD_start_daemon)
#define MHD_stop_daemon (http_library.MHD_stop_daemon)
#define MHD_suspend_connection (http_library.MHD_suspend_connection)

#endif
