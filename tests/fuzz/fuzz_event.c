/* SPDX-License-Identifier: MIT */
/* Any bytes as event.json of an event that is good otherwise. */
#include "fuzz_folder.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    struct event_files files = fuzz_files();
    files.rules = (struct file_text){(const char *)data, size};
    return fuzz_folder(&files);
}
