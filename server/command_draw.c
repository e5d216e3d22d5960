/* SPDX-License-Identifier: MIT */
/* The command that a server runs itself with, see paper_press.h. It stands in no list. */
#include "command.h"
#include "paper_press.h"

static int run(int argc, char **argv) {
    (void)argv;
    return argc > 1 ? EXIT_INPUT : paper_press_child();
}

const struct command command_draw = {.name = "draw-paper", .run = run};
