/* faults.c: a program under test whose calls the test lets fail. */
#include "faults.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "base.h"

void faults_open(struct faults *faults, const char *folder, const char *besides)
{
    char path[300];
    snprintf(path, sizeof path, "%s/faults", folder);
    snprintf(faults->file, sizeof faults->file, "RINGTALLY_TEST_FAULTS=%s", path);
    snprintf(faults->preload, sizeof faults->preload, "LD_PRELOAD=%s%s%s", SHIM_FAULTS,
             besides ? ":" : "", besides ? besides : "");
    int fd = open(path, O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    if (fd < 0 || ftruncate(fd, sizeof *faults->control) != 0) {
        harness_die(path);
    }
    void *mapped = mmap(NULL, sizeof *faults->control, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    close(fd);
    if (mapped == MAP_FAILED) {
        harness_die("mmap");
    }
    faults->control = mapped;
    faults->env[0] = faults->preload;
    faults->env[1] = faults->file;
    faults->env[2] = NULL;
}

void faults_close(struct faults *faults)
{
    munmap((void *)(uintptr_t)faults->control, sizeof *faults->control);
}

void faults_set(struct faults *faults, unsigned kinds, int64_t nth, bool lasting, int cause)
{
    volatile struct faults_control *control = faults->control;
    control->nth = 0;
    control->kinds = kinds;
    control->calls = control->hits = 0;
    control->lasting = lasting;
    control->cause = cause;
    control->nth = nth;
}
