/* SPDX-License-Identifier: MIT */
/* The writer's queue while the writer cannot write, since somebody else holds the file's lock. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "err.h"
#include "hard_limits.h"
#include "keys.h"
#include "scorekeeper.h"
#include "store.h"
