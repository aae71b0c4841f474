#include <dirent.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "ringtally/base/file.h"

static char folder[] = "/tmp/ringtally-file-XXXXXX";

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

static int drop_folder(void **state)
{
    (void)state;
    return rmdir(folder); /* fails where a test left a file behind */
}

static const char *in_folder(char out[64], const char *name)
{
    snprintf(out, 64, "%s/%s", folder, name);
    return out;
}

static int files_in_folder(void)
{
    int count = 0;
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    for (struct dirent *entry; (entry = readdir(dir));) {
        count += entry->d_name[0] != '.';
    }
    closedir(dir);
    return count;
}

static void file_write__again__replaced_whole(void **state)
{
    (void)state;
    char path[64];
    struct error err = {0};
    char *text = NULL;
    size_t size = 0;
    in_folder(path, "sheet.txt");
    assert_int_equal(file_write(path, "a longer first text", 19, &err), 0);
    assert_int_equal(file_write(path, "second\0x", 8, &err), 0);
    assert_int_equal(file_read(&text, &size, path, &err), 0);
    assert_int_equal(size, 8);
    assert_memory_equal(text, "second\0x", 9); /* and the NUL behind it */
    assert_int_equal(files_in_folder(), 1);
    free(text);
    unlink(path);
}

static void file_write__mode__as_umask_says(void **state)
{
    (void)state;
    char path[64];
    struct stat found = {0};
    struct error err = {0};
    in_folder(path, "sheet.txt");
    mode_t old = umask(027);
    assert_int_equal(file_write(path, "x", 1, &err), 0);
    umask(old);
    assert_int_equal(stat(path, &found), 0);
    assert_int_equal(found.st_mode & 0777, 0640);
    unlink(path);
}

static void file_write__no_folder__named_and_nothing_left(void **state)
{
    (void)state;
    char path[64], message[128];
    struct error err = {0};
    in_folder(path, "none/sheet.txt");
    assert_int_equal(file_write(path, "x", 1, &err), ERROR_FAILED);
    snprintf(message, sizeof message, "%s: No such file or directory", path);
    assert_string_equal(err.text, message);
    assert_int_equal(files_in_folder(), 0);
}

static void file_write__over_a_folder__refused_and_nothing_left(void **state)
{
    (void)state;
    char path[64];
    struct error err = {0};
    in_folder(path, "folder");
    assert_int_equal(mkdir(path, 0700), 0);
    assert_int_equal(file_write(path, "x", 1, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "Is a directory"));
    assert_int_equal(files_in_folder(), 1);
    rmdir(path);
}

/* A device must stay a device: the program may run as root. */
static void file_write__pipe__written_into(void **state)
{
    (void)state;
    char path[64], got[8] = "";
    struct stat found = {0};
    struct error err = {0};
    in_folder(path, "pipe");
    assert_int_equal(mkfifo(path, 0600), 0);
    int reader = open(path, O_RDONLY | O_NONBLOCK);
    assert_true(reader >= 0);
    assert_int_equal(file_write(path, "sheet", 5, &err), 0);
    assert_int_equal(read(reader, got, sizeof got), 5);
    assert_string_equal(got, "sheet");
    assert_int_equal(stat(path, &found), 0);
    assert_true(S_ISFIFO(found.st_mode));
    close(reader);
    unlink(path);
}

static void file_write__full_device__said(void **state)
{
    (void)state;
    struct error err = {0};
    if (access("/dev/full", W_OK)) {
        skip();
    }
    assert_int_equal(file_write("/dev/full", "x", 1, &err), ERROR_FAILED);
    assert_string_equal(err.text, "/dev/full: No space left on device");
}

static void file_replace__again_and_refused__whole_and_nothing_left(void **state)
{
    (void)state;
    char path[64];
    struct error err = {0};
    char *text = NULL;
    size_t size = 0;
    in_folder(path, "red-landed.txt");
    assert_int_equal(file_replace(folder, "red-landed.txt", "123", 3, &err), 0);
    assert_int_equal(file_replace(folder, "red-landed.txt", "7", 1, &err), 0);
    assert_int_equal(file_read(&text, &size, path, &err), 0);
    assert_string_equal(text, "7");
    free(text);
    unlink(path);
    assert_int_equal(mkdir(path, 0700), 0);
    assert_int_equal(file_replace(folder, "red-landed.txt", "8", 1, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, path));
    rmdir(path); /* and make_folder's counterpart fails where a hidden file was left */
}

static void file_read__empty_and_missing__told_apart(void **state)
{
    (void)state;
    char path[64], message[128];
    struct error err = {0};
    char *text = NULL;
    size_t size = 9;
    in_folder(path, "empty");
    assert_int_equal(file_write(path, "", 0, &err), 0);
    assert_int_equal(file_read(&text, &size, path, &err), 0);
    assert_int_equal(size, 0);
    assert_string_equal(text, "");
    free(text);
    unlink(path);
    assert_int_equal(file_read(&text, &size, path, &err), ERROR_FAILED);
    snprintf(message, sizeof message, "%s: No such file or directory", path);
    assert_string_equal(err.text, message);
}

static void file_read__large__whole_up_to_the_limit(void **state)
{
    (void)state;
    char path[64];
    struct error err = {0};
    char *text = NULL;
    size_t size = 0;
    in_folder(path, "large");
    int fd = open(path, O_RDWR | O_CREAT, 0600);
    assert_true(fd >= 0);
    assert_int_equal(ftruncate(fd, 100000), 0);
    assert_int_equal(pwrite(fd, "end", 3, 99997), 3);
    assert_int_equal(file_read(&text, &size, path, &err), 0);
    assert_int_equal(size, 100000);
    assert_string_equal(text + 99997, "end");
    free(text);
    text = NULL;
    assert_int_equal(ftruncate(fd, ((off_t)64 << 20) + 1), 0);
    assert_int_equal(file_read(&text, &size, path, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "larger than 64 MiB"));
    assert_null(text);
    close(fd);
    unlink(path);
}

static void file_read__folder__named(void **state)
{
    (void)state;
    struct error err = {0};
    char *text = NULL;
    size_t size = 0;
    assert_int_equal(file_read(&text, &size, folder, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "Is a directory"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(file_write__again__replaced_whole),
        cmocka_unit_test(file_write__mode__as_umask_says),
        cmocka_unit_test(file_write__no_folder__named_and_nothing_left),
        cmocka_unit_test(file_write__over_a_folder__refused_and_nothing_left),
        cmocka_unit_test(file_write__pipe__written_into),
        cmocka_unit_test(file_write__full_device__said),
        cmocka_unit_test(file_replace__again_and_refused__whole_and_nothing_left),
        cmocka_unit_test(file_read__empty_and_missing__told_apart),
        cmocka_unit_test(file_read__large__whole_up_to_the_limit),
        cmocka_unit_test(file_read__folder__named),
    };
    return cmocka_run_group_tests(tests, make_folder, drop_folder);
}
