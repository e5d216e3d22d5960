/* SPDX-License-Identifier: MIT */
/* process_figures.h - what the system says of this process. Any thread. */
#ifndef CAIRN_PROCESS_FIGURES_H
#define CAIRN_PROCESS_FIGURES_H

#include <stdint.h>

/* Resident memory of this process, bytes; -1 where the system does not say. */
int64_t process_resident_bytes(void);

/* Files that this process has open, connections among them; -1 where the system does not say. */
int64_t process_open_files(void);

#endif
