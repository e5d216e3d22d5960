/* SPDX-License-Identifier: MIT */
#include "live/write.h"

#include <sodium.h>
#include <stdlib.h>

void write_free(struct write *write) {
    if (write == NULL)
        return;
    for (size_t i = 0; i < write->refused_count; i++) {
        free(write->refused[i].id);
        free(write->refused[i].reason);
    }
    free(write->refused);
    free(write->body);
    upload_clear(&write->upload);
    textbuf_clear(&write->why);
    textbuf_clear(&write->told);
    textbuf_clear(&write->looked.point);
    textbuf_clear(&write->looked.title);
    sodium_memzero(write->new_key.text, sizeof write->new_key.text);
    free(write);
}
