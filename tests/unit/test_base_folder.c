/* Where the program's data are found: by what the environment names, beside the program, in the
 * source tree of its build folder, else nowhere. */
#include "base/folder.h"
#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { ROOM = 1024 };
static char here[ROOM], place[ROOM]; /* of this executable; a folder of our own in there */

static void put(const char *path, const char *text)
{
    FILE *out = fopen(path, "w");
    assert_non_null(out);
    fputs(text, out);
    fclose(out);
}

static int make_place(void **state)
{
    (void)state;
    const ssize_t n = readlink("/proc/self/exe", here, sizeof here - 64);
    if (n <= 0)
        return -1;
    here[n] = '\0';
    *strrchr(here, '/') = '\0';
    snprintf(place, sizeof place, "%.900s/folder-XXXXXX", here);
    unsetenv("PR_TEST_FOLDER");
    return mkdtemp(place) == NULL ? -1 : 0;
}

static int remove_place(void **state)
{
    (void)state;
    return rmdir(place);
}

static void test_environment_has_the_first_word(void **state)
{
    (void)state;
    char path[ROOM], tight[8];
    setenv("PR_TEST_FOLDER", "/some/where", 1);
    assert_int_equal(pr_folder_find("PR_TEST_FOLDER", "models", "x", path, sizeof path), PR_OK);
    assert_string_equal(path, "/some/where"); /* whether it is there is for the caller to find */
    assert_int_equal(pr_folder_find("PR_TEST_FOLDER", "models", "x", tight, sizeof tight),
                     PR_ERR_IO);
    setenv("PR_TEST_FOLDER", "", 1); /* as if not set */
    assert_int_equal(pr_folder_find("PR_TEST_FOLDER", "no-such", "x", path, sizeof path),
                     PR_ERR_IO);
    unsetenv("PR_TEST_FOLDER");
    assert_int_equal(pr_folder_find("PR_TEST_FOLDER", "no-such", "x", path, sizeof path),
                     PR_ERR_IO);
}

static void test_beside_the_program_and_only_with_the_file_that_it_needs(void **state)
{
    (void)state;
    char path[ROOM], probe[ROOM + 16];
    const char *name = strrchr(place, '/') + 1;
    assert_int_equal(pr_folder_find("PR_TEST_FOLDER", name, "probe", path, sizeof path), PR_ERR_IO);
    snprintf(probe, sizeof probe, "%s/probe", place);
    put(probe, "");
    assert_int_equal(pr_folder_find("PR_TEST_FOLDER", name, "probe", path, sizeof path), PR_OK);
    assert_string_equal(path, place);
    char tight[8];
    assert_int_equal(pr_folder_find("PR_TEST_FOLDER", name, "probe", tight, sizeof tight),
                     PR_ERR_IO);
    unlink(probe);
}

/* A build folder elsewhere: a file beside the program names the source tree. */
static void test_in_the_source_tree_that_the_build_folder_names(void **state)
{
    (void)state;
    char path[ROOM], data[ROOM + 32], probe[ROOM + 64], pointer[ROOM + 32], line[ROOM + 2];
    snprintf(data, sizeof data, "%s/data-of-folder-test", place);
    snprintf(probe, sizeof probe, "%s/probe", data);
    snprintf(pointer, sizeof pointer, "%s/pullrest-source-root", here);
    const char *const wrong[] = {"", "/no/such/tree\n"};
    assert_int_equal(mkdir(data, 0700), 0);
    put(probe, "");
    if (access(pointer, F_OK) == 0) { /* the build's own: leave it alone */
        unlink(probe);
        rmdir(data);
        skip();
    }
    for (size_t i = 0; i < 2; i++) {
        put(pointer, wrong[i]);
        assert_int_equal(
            pr_folder_find("PR_TEST_FOLDER", "data-of-folder-test", "probe", path, sizeof path),
            PR_ERR_IO);
    }
    snprintf(line, sizeof line, "%s\n", place);
    put(pointer, line);
    assert_int_equal(
        pr_folder_find("PR_TEST_FOLDER", "data-of-folder-test", "probe", path, sizeof path), PR_OK);
    unlink(pointer);
    unlink(probe);
    rmdir(data);
    assert_true(strncmp(path, place, strlen(place)) == 0);
    assert_string_equal(path + strlen(path) - strlen("/data-of-folder-test"),
                        "/data-of-folder-test");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_environment_has_the_first_word),
        cmocka_unit_test(test_beside_the_program_and_only_with_the_file_that_it_needs),
        cmocka_unit_test(test_in_the_source_tree_that_the_build_folder_names),
    };
    return cmocka_run_group_tests(tests, make_place, remove_place);
}
