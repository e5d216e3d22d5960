/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "base/err.h"
#include "system/files.h"

static char folder[] = "/tmp/cairn-files-XXXXXX";

static int make_folder(void **state) {
    (void)state;
    return mkdtemp(folder) == NULL ? -1 : 0;
}

static int remove_folder(void **state) {
    (void)state;
    return rmdir(folder);
}

static const char *path_of(const char *name) {
    static char paths[4][256];
    static int next;
    char *path = paths[next++ % 4];
    (void)snprintf(path, sizeof paths[0], "%s/%s", folder, name);
    return path;
}

static void put(const char *name, const char *text) {
    assert_int_equal(file_replace(path_of("part"), path_of(name), 0600, text, strlen(text)),
                     ERR_OK);
}

static void holds(const char *name, const char *wanted) {
    char *text = NULL;
    size_t len = 0;
    assert_int_equal(file_read(path_of(name), &text, &len), ERR_OK);
    assert_int_equal(len, strlen(wanted));
    assert_string_equal(text, wanted);
    free(text);
}

static bool is_there(const char *name) {
    return access(path_of(name), F_OK) == 0;
}

static void what_is_replaced_is_read_again(void **state) {
    struct stat info;
    (void)state;
    put("a", "one\n");
    holds("a", "one\n");
    put("a", "");
    holds("a", "");
    assert_int_equal(stat(path_of("a"), &info), 0);
    assert_int_equal(info.st_mode & 0777, 0600);
    assert_false(is_there("part"));
    (void)unlink(path_of("a"));
}

static void a_part_left_behind_is_no_hindrance(void **state) {
    (void)state;
    /* Not even one that leads elsewhere. */
    assert_int_equal(symlink(path_of("elsewhere"), path_of("part")), 0);
    put("a", "new");
    holds("a", "new");
    assert_false(is_there("elsewhere"));
    (void)unlink(path_of("a"));
}

static void what_cannot_be_written_changes_nothing(void **state) {
    (void)state;
    put("a", "old");
    assert_int_equal(mkdir(path_of("b"), 0700), 0);
    assert_int_equal(file_replace(path_of("part"), path_of("b"), 0600, "x", 1), ERR_IO);
    assert_int_equal(errno, EISDIR);
    assert_false(is_there("part"));
    assert_int_equal(file_replace(path_of("none/part"), path_of("a"), 0600, "x", 1), ERR_IO);
    assert_int_equal(errno, ENOENT);
    holds("a", "old");
    (void)rmdir(path_of("b"));
    (void)unlink(path_of("a"));
}

static void a_file_goes_only_where_nothing_is(void **state) {
    (void)state;
    put("a", "first");
    put("b", "second");
    assert_int_equal(file_put(path_of("b"), path_of("a"), false), ERR_CONFLICT);
    holds("a", "first");
    assert_int_equal(file_put(path_of("b"), path_of("a"), true), ERR_OK);
    holds("a", "second");
    assert_false(is_there("b"));
    (void)unlink(path_of("a"));
}

static void what_is_not_there_is_told_apart(void **state) {
    char *text = NULL;
    size_t len = 0;
    (void)state;
    assert_int_equal(file_read(path_of("none"), &text, &len), ERR_UNKNOWN);
    assert_int_equal(errno, ENOENT);
    assert_null(text);
    assert_int_equal(file_read(folder, &text, &len), ERR_IO);
    assert_int_equal(errno, EISDIR);
}

static void a_bound_holds_for_files_and_devices(void **state) {
    char *text = NULL;
    size_t len = 0;
    (void)state;
    put("a", "12345");
    assert_int_equal(file_read_at_most(path_of("a"), 5, &text, &len), ERR_OK);
    assert_int_equal(len, 5);
    free(text);
    assert_int_equal(file_read_at_most(path_of("a"), 4, &text, &len), ERR_RANGE);
    assert_null(text);
    assert_int_equal(file_read_at_most("/dev/zero", 1 << 20, &text, &len), ERR_RANGE);
    (void)unlink(path_of("a"));
}

/* More than is read at once, from what has no size. */
static void a_pipe_is_read_to_its_end(void **state) {
    enum { LEN = 200001 };
    static char bytes[LEN];
    int ends[2];
    char *text = NULL;
    size_t len = 0;
    (void)state;
    memset(bytes, 'x', sizeof bytes);
    assert_int_equal(pipe(ends), 0);
    pid_t child = fork();
    if (child == 0)
        _exit(descriptor_write(ends[1], bytes, sizeof bytes) ? 0 : 1);
    (void)close(ends[1]);
    assert_int_equal(descriptor_read(ends[0], &text, &len), ERR_OK);
    assert_int_equal(len, LEN);
    assert_memory_equal(text, bytes, LEN);
    assert_int_equal(text[LEN], '\0');
    free(text);
    (void)close(ends[0]);
}

static void a_file_of_a_folder_is_for_owner_and_group(void **state) {
    struct stat info;
    (void)state;
    assert_int_equal(file_write(folder, "event.json", "{}", 2), ERR_OK);
    holds("event.json", "{}");
    assert_int_equal(stat(path_of("event.json"), &info), 0);
    assert_int_equal(info.st_mode & 0007, 0);
    (void)unlink(path_of("event.json"));
}

static void a_file_is_known_by_any_of_its_names(void **state) {
    (void)state;
    put("one", "1");
    put("other", "1");
    assert_int_equal(symlink("one", path_of("link")), 0);
    assert_int_equal(link(path_of("one"), path_of("second")), 0);
    assert_true(file_is_same(path_of("one"), path_of("link")));
    assert_true(file_is_same(path_of("one"), path_of("second")));
    assert_false(file_is_same(path_of("one"), path_of("other")));
    assert_false(file_is_same(path_of("none"), path_of("none")));
    (void)unlink(path_of("one"));
    (void)unlink(path_of("other"));
    (void)unlink(path_of("link"));
    (void)unlink(path_of("second"));
}

static void the_folder_of_a_path_is_known(void **state) {
    static const struct {
        const char *path, *folder;
    } rows[] = {{"name", "."}, {"/name", "/"}, {"/a/b", "/a"}, {"a/b/c", "a/b"}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char *found = file_folder(rows[i].path);
        assert_non_null(found);
        assert_string_equal(found, rows[i].folder);
        free(found);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_replaced_is_read_again),
        cmocka_unit_test(a_part_left_behind_is_no_hindrance),
        cmocka_unit_test(what_cannot_be_written_changes_nothing),
        cmocka_unit_test(a_file_goes_only_where_nothing_is),
        cmocka_unit_test(what_is_not_there_is_told_apart),
        cmocka_unit_test(a_bound_holds_for_files_and_devices),
        cmocka_unit_test(a_pipe_is_read_to_its_end),
        cmocka_unit_test(a_file_of_a_folder_is_for_owner_and_group),
        cmocka_unit_test(a_file_is_known_by_any_of_its_names),
        cmocka_unit_test(the_folder_of_a_path_is_known),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
