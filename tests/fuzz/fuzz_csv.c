/* SPDX-License-Identifier: MIT */
/* Any bytes as CSV: rows end, lines only grow, and what was read survives being written. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/textbuf.h"
#include "format/csv.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    struct csv csv;
    long line = 0;
    csv_init(&csv, (const char *)data, size);
    for (;;) {
        enum csv_result result = csv_next(&csv);
        if (result == CSV_END || result == CSV_NOMEM)
            break;
        if (csv.line < line || (result == CSV_BAD) != (csv.wrong != NULL))
            abort();
        line = csv.line;
        if (result == CSV_BAD)
            continue;
        struct textbuf b = {0};
        /* A field of our own comes first: a text that begins like a byte-order mark is none. */
        textbuf_puts(&b, "x");
        for (size_t i = 0; i < csv.count; i++) {
            textbuf_putc(&b, ',');
            csv_write_field(&b, csv.fields[i]);
        }
        struct csv again;
        csv_init(&again, textbuf_text(&b), b.len);
        again.separator = ',';
        again.stops[';'] = false;
        again.stops[','] = true;
        if (csv_next(&again) != CSV_ROW || again.count != csv.count + 1)
            abort();
        for (size_t i = 0; i < csv.count; i++) {
            if (strcmp(again.fields[i + 1], csv.fields[i]) != 0)
                abort();
        }
        csv_clear(&again);
        textbuf_clear(&b);
    }
    csv_clear(&csv);
    return 0;
}
