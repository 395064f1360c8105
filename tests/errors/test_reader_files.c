/* Every bad file of this folder, with the messages that it must give and no others. A file carries
 * them as `# expect: line:column: text`, or, when it cannot hold a comment, in a file of the same
 * name ending in .expect. A message matches when it begins like the expectation; an expectation
 * that begins with no digit may stand anywhere in a message (other files, places that differ).
 * Below: what cannot be kept as a file. */
#include "reader/reader.h"
#include "support/check.h"

#include <dirent.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

enum { LINES_MAX = 40, LINE_BYTES = 400, FILE_BYTES = 200000 };

static const char FOLDER[] = PR_SOURCE_DIR "/tests/errors";
static const pr_reader_options OPTIONS = {.models_folder = PR_SOURCE_DIR "/models"};

typedef struct text_lines {
    char line[LINES_MAX][LINE_BYTES];
    int n;
} text_lines;

static size_t read_file(const char *path, char *text)
{
    FILE *file = fopen(path, "re");
    if (file == NULL)
        return 0;
    const size_t n = fread(text, 1, FILE_BYTES - 1, file);
    text[n] = '\0';
    fclose(file);
    return n;
}

/* Lines of text that begin with `mark`, without it. */
static void pick_lines(const char *text, const char *mark, text_lines *lines)
{
    const size_t skip = strlen(mark);
    while (*text != '\0') {
        const size_t length = strcspn(text, "\n");
        if (length > skip && strncmp(text, mark, skip) == 0) {
            assert_true(lines->n < LINES_MAX);
            snprintf(lines->line[lines->n++], LINE_BYTES, "%.*s", (int)(length - skip),
                     text + skip);
        }
        text += length + (text[length] == '\n');
    }
}

static void expected_lines(const char *path, text_lines *lines)
{
    static char text[FILE_BYTES];
    char aside[600];
    lines->n = 0;
    snprintf(aside, sizeof aside, "%.*s.expect", (int)(strlen(path) - 5), path);
    if (read_file(aside, text) > 0) {
        pick_lines(text, "", lines);
        return;
    }
    read_file(path, text);
    pick_lines(text, "# expect: ", lines);
}

/* The errors of a diagnosis, of the scenario file itself without its name. */
static void found_lines(const pr_diag *diag, const char *path, text_lines *lines)
{
    lines->n = 0;
    for (size_t i = 0; i < diag->count; i++) {
        const pr_diag_entry *e = &diag->entries[i];
        if (e->severity != PR_ERROR)
            continue;
        char *line = lines->line[lines->n < LINES_MAX - 1 ? lines->n++ : LINES_MAX - 1];
        const char *slash = e->file == NULL ? NULL : strrchr(e->file, '/');
        const int own = e->file != NULL && strcmp(e->file, path) == 0;
        snprintf(line, LINE_BYTES, "%s%s%zu:%zu: %s", own || slash == NULL ? "" : slash + 1,
                 own || slash == NULL ? "" : ":", e->line, e->column, e->text);
        if (e->line == 0 && !own && slash != NULL)
            snprintf(line, LINE_BYTES, "%s: %s", slash + 1, e->text);
    }
}

static int matches(const char *expected, const char *found)
{
    if (expected[0] >= '0' && expected[0] <= '9')
        return strncmp(expected, found, strlen(expected)) == 0;
    return strstr(found, expected) != NULL;
}

/* Number of expectations without a message and messages without an expectation, all printed. */
static int compare_lines(const char *name, const text_lines *expected, text_lines *found)
{
    int wrong = 0;
    for (int i = 0; i < expected->n; i++) {
        int k = 0;
        while (k < found->n && !matches(expected->line[i], found->line[k]))
            k++;
        if (k < found->n) {
            memmove(found->line[k], found->line[k + 1],
                    (size_t)(found->n - k - 1) * sizeof found->line[0]);
            found->n--;
        } else {
            print_error("%s: missing: %s\n", name, expected->line[i]);
            wrong++;
        }
    }
    for (int k = 0; k < found->n; k++, wrong++)
        print_error("%s: not expected: %s\n", name, found->line[k]);
    return wrong;
}

static pr_status read_into(const char *path, const pr_reader_options *options, pr_diag *diag)
{
    pr_scenario *scenario = malloc(sizeof *scenario);
    assert_non_null(scenario);
    const pr_status status = pr_scenario_read(path, options, scenario, diag);
    if (status == PR_OK)
        pr_scenario_free(scenario);
    free(scenario);
    return status;
}

static int check_file(const char *name)
{
    static text_lines expected, found;
    char path[600];
    snprintf(path, sizeof path, "%s/%s", FOLDER, name);
    expected_lines(path, &expected);
    pr_diag diag = pr_diag_init();
    const pr_status status = read_into(path, &OPTIONS, &diag);
    found_lines(&diag, path, &found);
    pr_diag_free(&diag);
    int wrong = compare_lines(name, &expected, &found);
    if (status != PR_ERR_INPUT || expected.n == 0) {
        print_error("%s: status %d with %d expectations\n", name, (int)status, expected.n);
        wrong++;
    }
    return wrong;
}

static void test_files_give_their_messages(void **state)
{
    (void)state;
    DIR *dir = opendir(FOLDER);
    assert_non_null(dir);
    int files = 0, wrong = 0;
    for (struct dirent *entry; (entry = readdir(dir)) != NULL;) {
        const size_t n = strlen(entry->d_name);
        if (n < 6 || strcmp(entry->d_name + n - 5, ".yaml") != 0)
            continue;
        files++;
        wrong += check_file(entry->d_name) > 0;
    }
    closedir(dir);
    print_message("%d bad files\n", files);
    assert_int_equal(wrong, 0);
    assert_true(files >= 60); /* the list must not vanish unseen */
}

/* Seeds from which scenarios are fuzzed: sound but for those named bad-, so that a change of keys
 * does not leave the fuzzer at the door. */
static void test_seeds_of_the_fuzzer_are_as_named(void **state)
{
    (void)state;
    DIR *dir = opendir(PR_SOURCE_DIR "/tests/fuzz/seeds/scenario");
    assert_non_null(dir);
    int sound = 0, bad = 0;
    for (struct dirent *entry; (entry = readdir(dir)) != NULL;) {
        char path[600];
        if (entry->d_name[0] == '.')
            continue;
        snprintf(path, sizeof path, "%s/tests/fuzz/seeds/scenario/%s", PR_SOURCE_DIR,
                 entry->d_name);
        pr_diag diag = pr_diag_init();
        const pr_status status = read_into(path, &OPTIONS, &diag);
        const bool named_bad = strncmp(entry->d_name, "bad-", 4) == 0;
        if (status != (named_bad ? PR_ERR_INPUT : PR_OK)) {
            pr_diag_print(&diag, stderr);
            fail_msg("%s: status %d", entry->d_name, (int)status);
        }
        pr_diag_free(&diag);
        *(named_bad ? &bad : &sound) += 1;
    }
    closedir(dir);
    assert_true(sound >= 5 && bad >= 2);
}

/* So many errors (0: any number) of which the first contains `text`, for a path. */
static void expect_errors(const char *path, const pr_reader_options *options, size_t n,
                          const char *text)
{
    pr_diag diag = pr_diag_init();
    assert_int_equal(read_into(path, options, &diag), PR_ERR_INPUT);
    if (n > 0)
        assert_int_equal(diag.errors, n);
    assert_string_equal(diag.entries[0].file, path);
    if (strstr(diag.entries[0].text, text) == NULL)
        fail_msg("%s: \"%s\" lacks \"%s\"", path, diag.entries[0].text, text);
    pr_diag_free(&diag);
}

static void expect_error(const char *path, const pr_reader_options *options, const char *text)
{
    expect_errors(path, options, 1, text);
}

/* A folder of our own; the caller removes what it puts there. */
static void make_folder(char folder[64])
{
    snprintf(folder, 64, "reader-test-XXXXXX");
    assert_non_null(mkdtemp(folder));
}

static void test_read_folder_missing_and_devices(void **state)
{
    (void)state;
    expect_error(FOLDER, &OPTIONS, "is a folder, not a file");
    expect_error(PR_SOURCE_DIR "/tests/errors/there-is-no-such-file.yaml", &OPTIONS,
                 "cannot be opened");
    expect_error("/dev/zero", &OPTIONS, "is no plain file");
    char folder[64], pipe_path[80];
    make_folder(folder);
    snprintf(pipe_path, sizeof pipe_path, "%s/pipe", folder);
    assert_int_equal(mkfifo(pipe_path, 0600), 0);
    alarm(20); /* a reader that waits for a writer would hang */
    expect_error(pipe_path, &OPTIONS, "is no plain file");
    alarm(0);
    unlink(pipe_path);
    rmdir(folder);
}

static void test_read_unreadable_file(void **state)
{
    (void)state;
    /* readable to nobody, root included: reading at address 0 fails */
    if (access("/proc/self/mem", F_OK) == 0)
        expect_error("/proc/self/mem", &OPTIONS, "cannot be read");
    if (geteuid() == 0)
        return; /* the rest holds for ordinary users only */
    char folder[64], path[80];
    make_folder(folder);
    snprintf(path, sizeof path, "%s/locked.yaml", folder);
    const int fd = open(path, O_CREAT | O_WRONLY | O_CLOEXEC, 0);
    assert_true(fd >= 0);
    close(fd);
    expect_error(path, &OPTIONS, "cannot be opened: Permission denied");
    unlink(path);
    rmdir(folder);
}

static double cpu_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* A file of `size` bytes made by repeating `unit` must give an error within seconds and without
 * filling the memory. */
static void expect_bounded(const char *unit, size_t size, const char *text)
{
    char folder[64], path[80];
    make_folder(folder);
    snprintf(path, sizeof path, "%s/big.yaml", folder);
    FILE *file = fopen(path, "we");
    assert_non_null(file);
    for (size_t n = 0; n < size; n += strlen(unit))
        fputs(unit, file);
    fclose(file);
    const double start_s = cpu_s();
    expect_errors(path, &OPTIONS, 0, text);
    /* generous: sanitizers and valgrind run this too; quadratic work would take minutes */
    assert_true(cpu_s() - start_s < 60.0);
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    print_message("%.10s...: %zu bytes, %.3f s, at most %ld KiB\n", unit, size, cpu_s() - start_s,
                  usage.ru_maxrss);
    unlink(path);
    rmdir(folder);
}

static void test_read_big_files(void **state)
{
    (void)state;
    enum { MIB = 1 << 20 };
    expect_bounded("x", 2 * MIB, "larger than 1024 KiB");
    expect_bounded("[", MIB - 64, "nested too deeply");
    expect_bounded("- ", MIB - 64, "nested too deeply");
    expect_bounded("- a\n", MIB - 64, "too many values");
    expect_bounded("{a: ", MIB - 64, "nested too deeply");
    expect_bounded("? ", MIB - 64, "key must be a word");
    expect_bounded("word ", MIB - 64, "the file must hold keys");
    expect_bounded("\"", MIB - 64, "not YAML");
    expect_bounded("title: b: ", MIB - 64, "not YAML");
    expect_bounded("#\n", MIB - 64, "the file is empty");
    expect_bounded("%TAG ! x:\n", MIB - 64, "not YAML");
    expect_bounded("&a ", MIB - 64, "anchors (&) are not supported");
    expect_bounded("- &a x\n", MIB - 64, "anchors (&) are not supported");
}

/* As many variants as a file can hold: refused before each is read. */
static void test_read_thousands_of_variants(void **state)
{
    (void)state;
    enum { VARIANTS = 9000, BYTES = 200 + 16 * VARIANTS };
    static char text[BYTES];
    for (int bad = 0; bad <= 1; bad++) {
        int n = snprintf(text, BYTES, "battery: %s\nalternator: plate-110\nvariants:\n",
                         bad ? "no-such" : "flooded-70-starter");
        for (int k = 0; k < VARIANTS; k++)
            n += snprintf(text + n, (size_t)(BYTES - n), "  v%d: {}\n", k);
        pr_diag diag = pr_diag_init();
        pr_scenario *scenario = malloc(sizeof *scenario);
        assert_non_null(scenario);
        const double start_s = cpu_s();
        assert_int_equal(
            pr_scenario_read_text("memory", text, (size_t)n, &OPTIONS, scenario, &diag),
            PR_ERR_INPUT);
        assert_int_equal(diag.errors, 1 + bad);
        print_message("%d variants: %.2f s\n", VARIANTS, cpu_s() - start_s);
        assert_true(cpu_s() - start_s < 60.0); /* unbounded: 20 min, extrapolated */
        free(scenario);
        pr_diag_free(&diag);
    }
}

static void test_read_max_bytes_option(void **state)
{
    (void)state;
    const pr_reader_options small = {.models_folder = OPTIONS.models_folder, .max_bytes = 1024};
    char folder[64], path[80];
    make_folder(folder);
    snprintf(path, sizeof path, "%s/file.yaml", folder);
    FILE *file = fopen(path, "we");
    assert_non_null(file);
    for (int i = 0; i < 1025; i++)
        fputc('#', file);
    fclose(file);
    expect_error(path, &small, "larger than 1 KiB");
    assert_int_equal(truncate(path, 1024), 0);
    expect_error(path, &small, "the file is empty");
    unlink(path);
    rmdir(folder);
}

static void test_read_text_of_no_bytes(void **state)
{
    (void)state;
    pr_diag diag = pr_diag_init();
    pr_scenario *scenario = malloc(sizeof *scenario);
    assert_non_null(scenario);
    assert_int_equal(pr_scenario_read_text("memory", "", 0, &OPTIONS, scenario, &diag),
                     PR_ERR_INPUT);
    assert_int_equal(diag.errors, 1);
    assert_int_equal(scenario->n_assumptions, 0); /* nothing half-read is left */
    free(scenario);
    pr_diag_free(&diag);
}

static void test_catalogue_missing(void **state)
{
    (void)state;
    const pr_reader_options nowhere = {.models_folder = "there/is/no/such/folder"};
    pr_diag diag = pr_diag_init();
    static const char text[] = "battery: flooded-70-starter\nalternator: none\n";
    pr_scenario *scenario = malloc(sizeof *scenario);
    assert_non_null(scenario);
    assert_int_equal(
        pr_scenario_read_text("memory", text, sizeof text - 1, &nowhere, scenario, &diag),
        PR_ERR_INPUT);
    assert_true(diag.errors >= 1);
    free(scenario);
    pr_diag_free(&diag);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_files_give_their_messages),
        cmocka_unit_test(test_seeds_of_the_fuzzer_are_as_named),
        cmocka_unit_test(test_read_folder_missing_and_devices),
        cmocka_unit_test(test_read_unreadable_file),
        cmocka_unit_test(test_read_big_files),
        cmocka_unit_test(test_read_thousands_of_variants),
        cmocka_unit_test(test_read_max_bytes_option),
        cmocka_unit_test(test_read_text_of_no_bytes),
        cmocka_unit_test(test_catalogue_missing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
