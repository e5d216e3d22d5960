/* SPDX-License-Identifier: MIT */
#include "system/log.h"

#include <netdb.h>
#include <netinet/in.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "system/system_clock.h"

enum { PATH_LEN = 512, WHAT_LEN = 1024 };

void log_request(const struct sockaddr *address, const char *method, const char *path,
                 unsigned status, int64_t us) {
    char host[NI_MAXHOST] = "-";
    char moment[INSTANT_ROOM];
    char clean[PATH_LEN];
    socklen_t len = address != NULL && address->sa_family == AF_INET6 ? sizeof(struct sockaddr_in6)
                                                                      : sizeof(struct sockaddr_in);
    if (address != NULL)
        (void)getnameinfo(address, len, host, sizeof host, NULL, 0, NI_NUMERICHOST);
    instant_text(moment, now_ms());
    (void)snprintf(clean, sizeof clean, "%s", path);
    for (char *p = clean; *p != '\0'; p++) {
        if ((unsigned char)*p <= ' ' || *p == 0x7f)
            *p = '?';
    }
    (void)fprintf(stderr, "%s %s %s %s %u %lld\n", moment, host, method == NULL ? "-" : method,
                  clean, status, (long long)us);
}

void log_error(const char *event, const char *format, ...) {
    char moment[INSTANT_ROOM];
    char what[WHAT_LEN];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(what, sizeof what, format, args);
    va_end(args);
    /* One line, whatever it quotes; an end of line at its end is none of it. */
    for (size_t len = strlen(what); len > 0 && what[len - 1] == '\n'; len--)
        what[len - 1] = '\0';
    for (char *p = what; *p != '\0'; p++) {
        if (*p == '"')
            *p = '\'';
        else if ((unsigned char)*p < ' ' || *p == 0x7f)
            *p = ' ';
    }
    instant_text(moment, now_ms());
    (void)fprintf(stderr, "%s error event=%s what=\"%s\"\n", moment, event == NULL ? "-" : event,
                  what);
}

void log_errors(const char *event, const char *lines) {
    while (*lines != '\0') {
        size_t len = strcspn(lines, "\n");
        if (len > 0)
            log_error(event, "%.*s", (int)(len < WHAT_LEN ? len : WHAT_LEN), lines);
        lines += len + (lines[len] == '\n');
    }
}
