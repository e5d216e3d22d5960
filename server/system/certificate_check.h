/* SPDX-License-Identifier: MIT */
/* certificate_check.h - checks a certificate and its key: dates, whether they belong together, who
 * may read the key. Nothing is changed. One thread. */
#ifndef CAIRN_CERTIFICATE_CHECK_H
#define CAIRN_CERTIFICATE_CHECK_H

#include <stddef.h>
#include <stdint.h>

#include "system/findings.h"

/* Files in PEM form.
 *   key_file  NULL: the certificate alone */
void certificate_check(struct findings *f, const char *cert_file, const char *key_file);

/* The dates of the first certificate of a PEM text.
 *   what  names it in the finding */
void certificate_check_text(struct findings *f, const char *what, const char *text, size_t len);

/* What is concluded from dates, seconds since 1970; apart, so that tests can give them. */
void certificate_check_dates(struct findings *f, const char *what, int64_t from, int64_t until,
                             int64_t now);

#endif
