/* SPDX-License-Identifier: MIT */
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/random.h>
#include <time.h>

#include "base/strmap.h"
#include "commands/commands.h"
#include "paper/drawing_process.h"
#include "system/version.h"

static void print_help(FILE *out) {
    (void)fputs("cairn - results and classification of a classic-car rally\n\n", out);
    for (size_t i = 0; i < command_count; i++)
        (void)fprintf(out, "  cairn %-9s %s\n", commands[i]->name, commands[i]->summary);
    (void)fputs(
        "\nEach command has --help; cairn --version tells the version.\n\n"
        "Road law and speed limits come first; local rules, permits and licensed officials\n"
        "decide. cairn is no safety system.\n",
        out);
}

/* Maps hash texts that strangers chose, so the hash has a random secret. */
static void seed_maps(void) {
    unsigned char seed[STRMAP_SEED_LEN] = {0};
    if (getrandom(seed, sizeof seed, 0) != (ssize_t)sizeof seed) {
        struct timespec now; /* a kernel without the call: better than nothing */
        (void)clock_gettime(CLOCK_MONOTONIC, &now);
        memcpy(seed, &now.tv_nsec, sizeof now.tv_nsec);
    }
    strmap_seed(seed);
}

int main(int argc, char **argv) {
    seed_maps();
    /* At the limit of a file's size a write fails, and is reported like a full disk; the signal
     * would end a server that others are reading from. */
    (void)signal(SIGXFSZ, SIG_IGN);
    if (argc < 2) {
        print_help(stderr);
        return EXIT_INPUT;
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "help") == 0) {
        print_help(stdout);
        return EXIT_GOOD;
    }
    if (strcmp(argv[1], "--version") == 0) {
        (void)puts("cairn " CAIRN_VERSION);
        return EXIT_GOOD;
    }
    /* Not for people, so it is not among the commands. */
    if (strcmp(argv[1], "draw-paper") == 0)
        return argc > 2 ? EXIT_INPUT : drawing_process_child();
    const struct command *command = command_find(argv[1]);
    if (command != NULL)
        return command_run(command, argc - 1, argv + 1);
    (void)fprintf(stderr, "cairn: no command “%s” (see cairn --help)\n", argv[1]);
    return EXIT_INPUT;
}
