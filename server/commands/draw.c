/* SPDX-License-Identifier: MIT */
/* The command that a server runs itself with, see drawing_process.h. It stands in no list. */
#include "commands/command.h"
#include "paper/drawing_process.h"

static int run(int argc, char **argv) {
    (void)argv;
    return argc > 1 ? EXIT_INPUT : drawing_process_child();
}

const struct command command_draw = {.name = "draw-paper", .run = run};
