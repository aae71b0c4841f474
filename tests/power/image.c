/* image.c: what a disk could hold of a recording where the power went at a moment. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "disk.h"

const char *const disk_loss_names[LOSS_COUNT] = {
    "nothing unsynced is there", "all unsynced is there", "written in order, the last one torn",
    "some files' is there", "any sector may be"};

/* A file as it is put together. */
struct body {
    unsigned char *data;
    size_t size, room;
};

/* One image in the making. */
struct image {
    const struct disk *disk;
    size_t moment;
    enum disk_loss loss;
    bool careless;  /* a torn sector is garbage beyond what was written of it */
    bool strict;    /* a name needs a sync of its folder */
    size_t sector;  /* 512 or 4096 */
    size_t late;    /* LOSS_LATE: the first call that is not there */
    uint64_t kept;  /* LOSS_SECTORS, LOSS_FILES: of 100 how many are */
    uint64_t torn;  /* ... and of 1000 how many are garbage */
    uint64_t files; /* LOSS_FILES: a number that decides which */
    uint64_t seed;
    size_t *synced;   /* by file: the call behind its last sync before the moment */
    struct body *now; /* by file */
};

uint64_t disk_draw(uint64_t *seed, uint64_t limit)
{
    *seed ^= *seed >> 12;
    *seed ^= *seed << 25;
    *seed ^= *seed >> 27;
    uint64_t number = *seed * 0x2545f4914f6cdd1du;
    return limit ? (number >> 20) % limit : number;
}

static void *need(void *memory)
{
    if (!memory) {
        abort();
    }
    return memory;
}

static void resize(struct body *body, size_t size)
{
    if (size > body->room) {
        body->room = size * 2 + 4096;
        body->data = need(realloc(body->data, body->room));
    }
    if (size > body->size) {
        memset(body->data + body->size, 0, size - body->size);
    }
    body->size = size;
}

/* The folder that holds a name: its index, or -1. */
static int folder_of(const struct disk *disk, const char *name)
{
    const char *slash = strrchr(name, '/');
    size_t size = slash ? (size_t)(slash - name) : 0;
    for (size_t i = disk->file_count; i-- > 0;) {
        const struct disk_file *file = &disk->files[i];
        if (file->folder && strlen(file->first) == size && strncmp(file->first, name, size) == 0) {
            return (int)i;
        }
    }
    return -1;
}

static bool is_durable(const struct image *image, size_t at)
{
    const struct disk_op *op = &image->disk->ops[at];
    if (op->call == DISK_WRITE || op->call == DISK_TRUNCATE || op->call == DISK_SYNC) {
        return at < image->synced[op->file];
    }
    int folder = folder_of(image->disk, op->name);
    bool by_file = !image->strict && op->call != DISK_UNLINK && at < image->synced[op->file];
    return by_file || (folder >= 0 && at < image->synced[folder]);
}

/* Whether what was not synced is there all the same; the sectors of a write decide for themselves
 * where they do. */
static bool is_kept(struct image *image, size_t at)
{
    uint64_t mix = 0;
    switch (image->loss) {
    case LOSS_NONE:
        return true;
    case LOSS_LATE:
        return at <= image->late;
    case LOSS_FILES:
        mix = image->files + (uint64_t)image->disk->ops[at].file * 0x9e3779b97f4a7c15u;
        return disk_draw(&mix, 100) < image->kept;
    case LOSS_SECTORS:
        return image->disk->ops[at].call == DISK_WRITE ||
               disk_draw(&image->seed, 100) < image->kept;
    default:
        return false;
    }
}

static void spoil(struct image *image, unsigned char *at, size_t size)
{
    bool zeros = disk_draw(&image->seed, 4) == 0;
    for (size_t i = 0; i < size; i++) {
        at[i] = zeros ? 0 : (unsigned char)disk_draw(&image->seed, 256);
    }
}

/* The part of a write that lies in one sector is there, is not, or is garbage. */
static void put_sector(struct image *image, struct body *body, const struct disk_op *op,
                       size_t from, size_t to, bool kept, bool garbage)
{
    if (kept) {
        resize(body, body->size > to ? body->size : to);
        memcpy(body->data + from, op->data + (from - op->offset), to - from);
    } else if (!garbage && disk_draw(&image->seed, 4) == 0) {
        resize(body, body->size > to ? body->size : to); /* its length was noted, nothing else */
    }
    if (garbage) {
        size_t start = image->careless ? from - from % image->sector : from;
        size_t end = image->careless ? start + image->sector : to;
        resize(body, body->size > to ? body->size : to);
        end = end > body->size ? body->size : end;
        spoil(image, body->data + start, end - start);
    }
}

static void put_write(struct image *image, const struct disk_op *op, size_t at, bool durable)
{
    struct body *body = &image->now[op->file];
    size_t end = op->offset + op->size;
    bool last = !durable && image->loss == LOSS_LATE && at == image->late;
    size_t cut = last ? op->offset + (size_t)disk_draw(&image->seed, op->size) : end;
    for (size_t from = op->offset, to = 0; from < end; from = to) {
        to = from - from % image->sector + image->sector;
        to = to > end ? end : to;
        bool kept = true, garbage = false;
        if (last) {
            kept = to <= cut;
            garbage = !kept && from <= cut && disk_draw(&image->seed, 2);
        } else if (!durable && image->loss == LOSS_SECTORS) {
            kept = disk_draw(&image->seed, 100) < image->kept;
            garbage = disk_draw(&image->seed, 1000) < image->torn;
        }
        put_sector(image, body, op, from, to, kept, garbage);
    }
}

/* Names, as they come to stand. */
struct named {
    char name[NAME_ROOM];
    int file;
};

struct names {
    struct named *list;
    size_t count;
};

static struct named *name_at(struct names *names, const char *name)
{
    for (size_t i = 0; i < names->count; i++) {
        if (strcmp(names->list[i].name, name) == 0) {
            return &names->list[i];
        }
    }
    struct named *fresh = &names->list[names->count++];
    snprintf(fresh->name, sizeof fresh->name, "%s", name);
    fresh->file = -1;
    return fresh;
}

static void play(struct image *image, struct names *names)
{
    for (size_t at = 0; at < image->moment; at++) {
        const struct disk_op *op = &image->disk->ops[at];
        bool durable = is_durable(image, at);
        if (op->call == DISK_SYNC || (!durable && !is_kept(image, at))) {
            continue;
        }
        switch (op->call) {
        case DISK_WRITE:
            put_write(image, op, at, durable);
            break;
        case DISK_TRUNCATE:
            resize(&image->now[op->file], op->offset);
            break;
        case DISK_UNLINK:
            if (name_at(names, op->name)->file == op->file) {
                name_at(names, op->name)->file = -1;
            }
            break;
        case DISK_RENAME:
            if (name_at(names, op->name)->file == op->file) {
                name_at(names, op->name)->file = -1;
            }
            name_at(names, op->other)->file = op->file;
            break;
        default:
            name_at(names, op->name)->file = op->file;
            break;
        }
    }
}

static bool is_shared_memory(const char *name)
{
    size_t size = strlen(name);
    return size > 4 && strcmp(name + size - 4, "-shm") == 0;
}

static void write_out(struct image *image, const struct names *names, const char *to)
{
    for (int folders = 1; folders >= 0; folders--) {
        for (size_t i = 0; i < names->count; i++) {
            const struct named *named = &names->list[i];
            char path[512];
            if (named->file < 0 || !named->name[0] ||
                image->disk->files[named->file].folder != folders) {
                continue;
            }
            struct body *body = &image->now[named->file];
            snprintf(path, sizeof path, "%s/%s", to, named->name);
            if (folders) {
                mkdir(path, 0700); /* whose own folder is lost, is lost with it */
                continue;
            }
            if (is_shared_memory(named->name) && body->size) { /* written past us: anything */
                spoil(image, body->data, body->size);
            }
            FILE *file = fopen(path, "wb");
            bool whole =
                file && (!body->size || fwrite(body->data, 1, body->size, file) == body->size);
            if (file && (fclose(file) || !whole)) {
                abort();
            }
        }
    }
}

void disk_build(const struct disk *disk, size_t moment, enum disk_loss loss, bool careless,
                uint64_t seed, const char *to)
{
    struct image image = {.disk = disk, .moment = moment, .loss = loss, .careless = careless};
    struct names names = {need(calloc(disk->count + disk->file_count + 1, sizeof *names.list)), 0};
    image.seed = seed * 0x9e3779b97f4a7c15u + 1;
    image.strict = disk_draw(&image.seed, 2) == 0;
    image.sector = disk_draw(&image.seed, 2) ? 512 : 4096;
    image.kept = (uint64_t[]){10, 50, 90, 97}[disk_draw(&image.seed, 4)];
    image.torn = (uint64_t[]){0, 5, 100}[disk_draw(&image.seed, 3)];
    image.files = disk_draw(&image.seed, 0);
    image.synced = need(calloc(disk->file_count + 1, sizeof *image.synced));
    image.now = need(calloc(disk->file_count + 1, sizeof *image.now));
    for (size_t i = 0; i < disk->file_count; i++) {
        const struct disk_file *file = &disk->files[i];
        resize(&image.now[i], file->size);
        if (file->size) {
            memcpy(image.now[i].data, file->data, file->size);
        }
        if (file->there) {
            name_at(&names, file->first)->file = (int)i;
        }
    }
    for (size_t at = 0; at < moment; at++) {
        if (disk->ops[at].call == DISK_SYNC) {
            image.synced[disk->ops[at].file] = at;
        }
    }
    size_t first = 0;
    while (first < moment && is_durable(&image, first)) {
        first++;
    }
    image.late = first + (size_t)disk_draw(&image.seed, moment - first + 1);
    play(&image, &names);
    write_out(&image, &names, to);
    for (size_t i = 0; i < disk->file_count; i++) {
        free(image.now[i].data);
    }
    free(image.now);
    free(image.synced);
    free(names.list);
}
