/* replay.c: feeds every target with its seeds and with seeded damage to them: the same cases every
 * time, with any compiler. `fuzz_replay TARGET` runs one. */
#include <dirent.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/file.h"
#include "targets.h"

static uint64_t state = 88172645463325252u;

static size_t random_below(size_t limit)
{
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return limit ? (size_t)(state % limit) : 0;
}

/* One to four bytes changed, cut out, doubled or put in. Returns the new size; text has room for
 * size + 64. */
static size_t damage(char *text, size_t size)
{
    static const char spice[] = "\0\n\r\t[];=:#\"'\\.-09\xff\xc3\xe2\x80\x9b\x1b";
    for (size_t times = 1 + random_below(4); times-- > 0 && size > 0;) {
        size_t at = random_below(size);
        switch (random_below(5)) {
        case 0:
            text[at] = spice[random_below(sizeof spice)];
            break;
        case 1:
            text[at] = (char)random_below(256);
            break;
        case 2: {
            size_t gone = 1 + random_below(size - at < 40 ? size - at : 40);
            memmove(text + at, text + at + gone, size - at - gone);
            size -= gone;
            break;
        }
        case 3: {
            size_t more = 1 + random_below(size - at < 8 ? size - at : 8);
            memmove(text + at + more, text + at, size - at);
            size += more;
            break;
        }
        default:
            size = at;
            break;
        }
    }
    return size;
}

static int replay(const struct fuzz_target *target, const char *path)
{
    char *text = NULL;
    size_t size = 0;
    struct error err = {0};
    if (file_read(&text, &size, path, &err)) {
        fprintf(stderr, "%s\n", err.text);
        return 1;
    }
    target->run(text, size);
    for (int i = 0; i < target->rounds; i++) {
        char *copy = malloc(size + 64);
        if (!copy) {
            free(text);
            return 1;
        }
        memcpy(copy, text, size);
        size_t damaged = damage(copy, size);
        /* An exact copy, so that a sanitizer sees a read beyond the end. */
        char *exact = malloc(damaged ? damaged : 1);
        if (!exact) {
            free(copy);
            free(text);
            return 1;
        }
        memcpy(exact, copy, damaged);
        target->run(exact, damaged);
        free(exact);
        free(copy);
    }
    free(text);
    return 0;
}

/* Seeds lie in a folder of the target's name, in any order: the damage is by each one's own. */
static int replay_folder(const struct fuzz_target *target, int *ran)
{
    char path[1300], folder[1024];
    int failed = 0;
    snprintf(folder, sizeof folder, "%s/tests/fuzz/seeds/%s", SOURCE_DIR, target->name);
    DIR *seeds = opendir(folder);
    for (struct dirent *seed = NULL; seeds && (seed = readdir(seeds));) {
        if (seed->d_name[0] != '.') {
            snprintf(path, sizeof path, "%s/%s", folder, seed->d_name);
            state = 88172645463325252u + strlen(seed->d_name);
            failed |= replay(target, path);
            ++*ran;
        }
    }
    if (seeds) {
        closedir(seeds);
    }
    return failed;
}

int main(int argc, char **argv)
{
    int failed = 0;
    int ran = 0;
    for (const struct fuzz_target *target = fuzz_targets; target->name; target++) {
        if (argc > 1 && strcmp(argv[1], target->name) != 0) {
            continue;
        }
        for (int i = 0; i < 4 && target->seeds[i]; i++) {
            char path[1024];
            snprintf(path, sizeof path, "%s/%s", SOURCE_DIR, target->seeds[i]);
            failed |= replay(target, path);
            ran++;
        }
        failed |= replay_folder(target, &ran);
    }
    return failed || !ran;
}
