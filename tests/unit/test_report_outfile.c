/* Output files: written whole or not at all. */
#include "report/outfile.h"
#include "support/check.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[64];

static char *in_folder(const char *name)
{
    static char path[400];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static int make_folder(void **state)
{
    (void)state;
    strcpy(folder, "outfile-XXXXXX"); /* in the build folder, where tests run */
    return mkdtemp(folder) == NULL ? -1 : 0;
}

static int remove_folder(void **state)
{
    (void)state;
    DIR *dir = opendir(folder);
    for (struct dirent *entry; dir != NULL && (entry = readdir(dir)) != NULL;)
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0)
            unlink(in_folder(entry->d_name));
    if (dir != NULL)
        closedir(dir);
    return rmdir(folder);
}

static size_t count_files(void)
{
    size_t n = 0;
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    while (readdir(dir) != NULL)
        n++;
    closedir(dir);
    return n - 2;
}

static void put(const char *name, const char *text)
{
    FILE *out = fopen(in_folder(name), "w");
    assert_non_null(out);
    fputs(text, out);
    fclose(out);
}

static void assert_content(const char *name, const char *expected)
{
    char text[100] = "";
    FILE *in = fopen(in_folder(name), "r");
    assert_non_null(in);
    text[fread(text, 1, sizeof text - 1, in)] = '\0';
    fclose(in);
    assert_string_equal(text, expected);
}

static void test_commit_replaces_and_keeps_the_mode(void **state)
{
    (void)state;
    char message[200];
    pr_outfile file;
    put("a", "old");
    assert_int_equal(chmod(in_folder("a"), 0640), 0);
    assert_int_equal(pr_outfile_open(&file, in_folder("a"), message, sizeof message), PR_OK);
    fputs("new", file.stream);
    assert_content("a", "old"); /* until commit */
    assert_int_equal(pr_outfile_commit(&file, message, sizeof message), PR_OK);
    assert_content("a", "new");
    struct stat info;
    assert_int_equal(stat(in_folder("a"), &info), 0);
    assert_int_equal(info.st_mode & 0777, 0640);
    assert_int_equal(count_files(), 1);
}

static void test_abandon_keeps_the_old_file(void **state)
{
    (void)state;
    char message[200];
    pr_outfile file;
    put("a", "old");
    assert_int_equal(pr_outfile_open(&file, in_folder("a"), message, sizeof message), PR_OK);
    fputs("new", file.stream);
    pr_outfile_abandon(&file);
    assert_content("a", "old");
    assert_int_equal(count_files(), 1);
}

static void test_commit_follows_a_link(void **state)
{
    (void)state;
    char message[200];
    pr_outfile file;
    put("a", "old");
    assert_int_equal(symlink("a", in_folder("link")), 0);
    assert_int_equal(pr_outfile_open(&file, in_folder("link"), message, sizeof message), PR_OK);
    fputs("new", file.stream);
    assert_int_equal(pr_outfile_commit(&file, message, sizeof message), PR_OK);
    assert_content("a", "new");
    struct stat info;
    assert_int_equal(lstat(in_folder("link"), &info), 0);
    assert_true(S_ISLNK(info.st_mode));
}

static void test_open_says_what_is_wrong(void **state)
{
    (void)state;
    char message[200] = "";
    pr_outfile file;
    assert_int_equal(pr_outfile_open(&file, in_folder("no/such"), message, sizeof message),
                     PR_ERR_IO);
    assert_non_null(strstr(message, "no/such"));
    assert_non_null(strstr(message, "No such file"));
    assert_int_equal(pr_outfile_open(&file, folder, message, sizeof message), PR_ERR_IO);
    assert_non_null(strstr(message, "Is a directory"));
    assert_int_equal(pr_outfile_open(&file, "", message, sizeof message), PR_ERR_IO);
    assert_int_equal(count_files(), 0);
}

static void test_open_accepts_the_longest_name(void **state)
{
    (void)state;
    char name[256], message[200];
    memset(name, 'n', 255);
    name[255] = '\0';
    char path[400];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    pr_outfile file;
    assert_int_equal(pr_outfile_open(&file, path, message, sizeof message), PR_OK);
    assert_int_equal(pr_outfile_commit(&file, message, sizeof message), PR_OK);
    assert_int_equal(count_files(), 1);
    unlink(path);
}

static void test_commit_tells_a_full_disk(void **state)
{
    (void)state;
    char message[200] = "";
    pr_outfile file;
    if (access("/dev/full", W_OK) != 0)
        skip();
    assert_int_equal(pr_outfile_open(&file, "/dev/full", message, sizeof message), PR_OK);
    fputs("text", file.stream);
    assert_int_equal(pr_outfile_commit(&file, message, sizeof message), PR_ERR_IO);
    assert_non_null(strstr(message, "No space left"));
}

#define in_own_folder(test) cmocka_unit_test_setup_teardown(test, make_folder, remove_folder)

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_own_folder(test_commit_replaces_and_keeps_the_mode),
        in_own_folder(test_abandon_keeps_the_old_file),
        in_own_folder(test_commit_follows_a_link),
        in_own_folder(test_open_says_what_is_wrong),
        in_own_folder(test_open_accepts_the_longest_name),
        in_own_folder(test_commit_tells_a_full_disk),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
