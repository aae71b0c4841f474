/* vt.c: forkpty and libvterm. */
#include "vt.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include <vterm.h>

#include "base.h"
#include "keys.h"
#include "repeat.h"

#define ENV_MAX   32
#define ROW_BYTES 4096

struct vt {
    VTerm *emulator;
    VTermScreen *screen;
    int fd;
    pid_t pid;
    int rows, columns;
    char term[64];
    bool ended; /* the program's end of the terminal is closed */
    bool reaped;
    int status;
    bool altscreen;
    int64_t bytes, read_ns;
    vt_damage *damage;
    void *damage_context;
    char reply[4096]; /* what the emulator answers, on its way to the program */
    size_t reply_size;
    struct repeat repeat;
    int bells;
    bool tells_presses;
    int takes_presses;
    char tail[8]; /* of what was read, for the few sequences that the emulator does not know */
};

int64_t vt_now(void)
{
    struct timespec now = {0};
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
}

static int on_damage(VTermRect rect, void *user)
{
    struct vt *vt = user;
    if (vt->damage != NULL) {
        vt->damage(rect.start_row, rect.start_col, rect.end_row - rect.start_row,
                   rect.end_col - rect.start_col, vt->read_ns, vt->damage_context);
    }
    return 1;
}

static int on_property(VTermProp property, VTermValue *value, void *user)
{
    struct vt *vt = user;
    if (property == VTERM_PROP_ALTSCREEN) {
        vt->altscreen = value->boolean;
    }
    return 1;
}

/* Never writes to the program at once: that may need reading first, and the emulator is busy. */
static void on_reply(const char *bytes, size_t size, void *user)
{
    struct vt *vt = user;
    if (size > sizeof vt->reply - vt->reply_size) {
        errno = ENOBUFS;
        harness_die("reply of the emulator");
    }
    memcpy(vt->reply + vt->reply_size, bytes, size);
    vt->reply_size += size;
}

/* The keyboard's protocol, which the emulator has not. */
static void look_for_keyboard(struct vt *vt, char byte)
{
    memmove(vt->tail, vt->tail + 1, sizeof vt->tail - 1);
    vt->tail[sizeof vt->tail - 1] = byte;
    const char *end = vt->tail + sizeof vt->tail;
    if (memcmp(end - 4, "\033[?u", 4) == 0 && vt->tells_presses) {
        on_reply("\033[?0u", 5, vt);
    }
    vt->takes_presses += memcmp(end - 6, "\033[>31u", 6) == 0;
    vt->takes_presses -= memcmp(end - 4, "\033[<u", 4) == 0;
}

static void on_output(void *context, const char *bytes, size_t size)
{
    struct vt *vt = context;
    for (size_t i = 0; i < size; i++) {
        look_for_keyboard(vt, bytes[i]);
    }
    vterm_input_write(vt->emulator, bytes, size);
}

static int on_bell(void *user)
{
    struct vt *vt = user;
    vt->bells++;
    return 1;
}

static const VTermScreenCallbacks callbacks = {
    .damage = on_damage, .settermprop = on_property, .bell = on_bell};

static void pin(char **env, int *count, const char *name, const char *value)
{
    size_t size = strlen(name) + strlen(value) + 2;
    char *text = malloc(size);
    if (text == NULL || *count >= ENV_MAX - 1) {
        harness_die("environment");
    }
    snprintf(text, size, "%s=%s", name, value);
    env[(*count)++] = text;
}

struct vt *vt_open(const struct vt_setup *setup)
{
    struct vt *vt = calloc(1, sizeof *vt);
    const char *locale = setup->locale != NULL ? setup->locale : "C.UTF-8";
    char *env[ENV_MAX] = {NULL};
    int given = 0;

    if (vt == NULL) {
        harness_die("vt_open");
    }
    snprintf(vt->term, sizeof vt->term, "%s", setup->term != NULL ? setup->term : "xterm-256color");
    vt->tells_presses = setup->tells_presses;
    vt->rows = setup->rows > 0 ? setup->rows : 24;
    vt->columns = setup->columns > 0 ? setup->columns : 80;

    vt->emulator = vterm_new(vt->rows, vt->columns);
    if (vt->emulator == NULL) {
        harness_die("vterm_new");
    }
    vterm_set_utf8(vt->emulator, strstr(locale, "UTF-8") != NULL);
    vterm_output_set_callback(vt->emulator, on_reply, vt);
    vt->screen = vterm_obtain_screen(vt->emulator);
    vterm_screen_enable_altscreen(vt->screen, 1);
    vterm_screen_set_callbacks(vt->screen, &callbacks, vt);
    vterm_screen_set_damage_merge(vt->screen, VTERM_DAMAGE_CELL);
    vterm_screen_reset(vt->screen, 1);

    /* What the test gives comes first: the first of a name counts. */
    for (; setup->env != NULL && setup->env[given] != NULL && given < ENV_MAX / 2; given++) {
        env[given] = (char *)setup->env[given];
    }
    int count = given;
    pin(env, &count, "TERM", vt->term);
    pin(env, &count, "LC_ALL", locale);
    pin(env, &count, "TZ", "UTC");
    pin(env, &count, "HOME", setup->home != NULL ? setup->home : "/nonexistent");
    pin(env, &count, "ESCDELAY", "25");
    int pinned = count;
    for (int i = 0; harness_sanitizers[i] != NULL; i++) {
        env[count++] = (char *)harness_sanitizers[i];
    }

    struct winsize size = {.ws_row = (unsigned short)vt->rows,
                           .ws_col = (unsigned short)vt->columns};
    vt->pid = forkpty(&vt->fd, NULL, NULL, &size);
    if (vt->pid < 0) {
        harness_die("forkpty");
    }
    if (vt->pid == 0) {
        signal(SIGINT, SIG_DFL); /* a shell's background job ignores them */
        signal(SIGQUIT, SIG_DFL);
        if (setup->home != NULL && chdir(setup->home) != 0) {
            _exit(126);
        }
        execve(setup->argv[0], (char *const *)setup->argv, env);
        dprintf(STDERR_FILENO, "%s: %s\r\n", setup->argv[0], strerror(errno));
        _exit(127);
    }
    for (int i = given; i < pinned; i++) {
        free(env[i]);
    }
    int flags = fcntl(vt->fd, F_GETFL);
    if (flags < 0 || fcntl(vt->fd, F_SETFL, flags | O_NONBLOCK) != 0 ||
        fcntl(vt->fd, F_SETFD, FD_CLOEXEC) != 0) {
        harness_die("fcntl");
    }
    return vt;
}

static void reap(struct vt *vt, int options)
{
    while (!vt->reaped) {
        pid_t pid = waitpid(vt->pid, &vt->status, options);
        if (pid == vt->pid) {
            vt->reaped = true;
        } else if (pid == 0) {
            return;
        } else if (errno != EINTR) {
            harness_die("waitpid");
        }
    }
}

void vt_close(struct vt *vt)
{
    if (vt == NULL) {
        return;
    }
    if (!vt->reaped) {
        kill(vt->pid, SIGKILL);
        reap(vt, 0);
    }
    close(vt->fd);
    vterm_free(vt->emulator);
    free(vt);
}

pid_t vt_pid(const struct vt *vt)
{
    return vt->pid;
}

/* Feeds the emulator what waits; true if there was anything. */
static bool feed(struct vt *vt)
{
    char bytes[65536];
    bool any = false;
    for (;;) {
        ssize_t got = read(vt->fd, bytes, sizeof bytes);
        if (got > 0) {
            vt->read_ns = vt_now();
            vt->bytes += got;
            repeat_expand(&vt->repeat, bytes, (size_t)got, on_output, vt);
            vterm_screen_flush_damage(vt->screen);
            any = true;
        } else if (got == 0 || errno == EIO) {
            vt->ended = true;
            return any;
        } else if (errno == EAGAIN) {
            return any;
        } else if (errno != EINTR) {
            harness_die("read from the terminal");
        }
    }
}

static void send_bytes(struct vt *vt, const char *bytes, size_t size)
{
    while (size > 0 && !vt->ended) {
        ssize_t put = write(vt->fd, bytes, size);
        if (put > 0) {
            bytes += put;
            size -= (size_t)put;
        } else if (put < 0 && errno == EAGAIN) {
            struct pollfd wait = {.fd = vt->fd, .events = POLLIN | POLLOUT};
            if (poll(&wait, 1, 1000) < 0 && errno != EINTR) {
                harness_die("poll");
            }
            feed(vt);
        } else if (put < 0 && errno == EIO) {
            vt->ended = true;
        } else if (put < 0 && errno != EINTR) {
            harness_die("write to the terminal");
        }
    }
}

static void send_replies(struct vt *vt)
{
    while (vt->reply_size > 0) {
        char bytes[sizeof vt->reply];
        size_t size = vt->reply_size;
        memcpy(bytes, vt->reply, size);
        vt->reply_size = 0;
        send_bytes(vt, bytes, size);
    }
}

bool vt_pump(struct vt *vt, int ms)
{
    if (vt->ended) {
        return false;
    }
    struct pollfd wait = {.fd = vt->fd, .events = POLLIN};
    int ready = poll(&wait, 1, ms);
    if (ready < 0 && errno != EINTR) {
        harness_die("poll");
    }
    if (ready > 0) {
        feed(vt);
        send_replies(vt);
    }
    return !vt->ended;
}

static int left_ms(int64_t deadline)
{
    int64_t left = deadline - vt_now();
    return left <= 0 ? 0 : (int)((left + 999999) / 1000000);
}

void vt_watch(struct vt *vt, int ms)
{
    int64_t deadline = vt_now() + (int64_t)ms * 1000000;
    do {
        vt_pump(vt, left_ms(deadline));
    } while (!vt->ended && vt_now() < deadline);
}

void vt_type_bytes(struct vt *vt, const char *bytes, size_t size)
{
    send_bytes(vt, bytes, size);
}

void vt_type(struct vt *vt, const char *keys)
{
    send_bytes(vt, keys, strlen(keys));
}

void vt_press(struct vt *vt, const char *key)
{
    char sent[32];
    if (!keys_sent(sent, sizeof sent, vt->term, key)) {
        errno = EINVAL;
        harness_die(key);
    }
    vt_type(vt, sent);
}

void vt_type_every(struct vt *vt, const char *keys, int ms)
{
    int64_t next = vt_now();
    for (const char *key = keys; *key != '\0'; key++) {
        while (!vt->ended && vt_now() < next) {
            vt_pump(vt, left_ms(next));
        }
        vt_type_bytes(vt, key, 1);
        next += (int64_t)ms * 1000000;
    }
}

void vt_paste(struct vt *vt, const char *text)
{
    vterm_keyboard_start_paste(vt->emulator);
    send_replies(vt);
    vt_type(vt, text);
    vterm_keyboard_end_paste(vt->emulator);
    send_replies(vt);
}

void vt_resize(struct vt *vt, int rows, int columns)
{
    struct winsize size = {.ws_row = (unsigned short)rows, .ws_col = (unsigned short)columns};
    feed(vt);
    vt->rows = rows;
    vt->columns = columns;
    vterm_set_size(vt->emulator, rows, columns);
    if (ioctl(vt->fd, TIOCSWINSZ, &size) != 0) {
        harness_die("resize");
    }
}

bool vt_wait(struct vt *vt, vt_condition *condition, void *context, int ms, const char *what)
{
    int64_t deadline = vt_now() + (int64_t)ms * 1000000;
    for (;;) {
        if (condition(vt, context)) {
            return true;
        }
        if (vt->ended || vt_now() >= deadline) {
            vt_print(vt, what);
            return false;
        }
        vt_pump(vt, left_ms(deadline));
    }
}

static bool is_shown(struct vt *vt, void *context)
{
    return vt_find(vt, context, NULL, NULL);
}

static bool is_gone(struct vt *vt, void *context)
{
    return !vt_find(vt, context, NULL, NULL);
}

bool vt_wait_text(struct vt *vt, const char *text, int ms)
{
    return vt_wait(vt, is_shown, (void *)text, ms, text);
}

bool vt_wait_gone(struct vt *vt, const char *text, int ms)
{
    return vt_wait(vt, is_gone, (void *)text, ms, text);
}

int vt_wait_exit(struct vt *vt, int ms)
{
    int64_t deadline = vt_now() + (int64_t)ms * 1000000;
    while (!vt->reaped && vt_now() < deadline) {
        if (!vt->ended) {
            vt_pump(vt, left_ms(deadline));
        }
        if (vt->ended) {
            reap(vt, WNOHANG);
            poll(NULL, 0, vt->reaped ? 0 : 1);
        }
    }
    if (!vt->reaped) {
        vt_print(vt, "the program has not ended");
        return -1;
    }
    return WIFSIGNALED(vt->status) ? 128 + WTERMSIG(vt->status) : WEXITSTATUS(vt->status);
}

void vt_kill(struct vt *vt)
{
    kill(vt->pid, SIGKILL);
    reap(vt, 0);
    while (!vt->ended) {
        vt_pump(vt, 1000);
    }
}

int vt_rows(const struct vt *vt)
{
    return vt->rows;
}

int vt_columns(const struct vt *vt)
{
    return vt->columns;
}

static size_t put_point(char *out, uint32_t point)
{
    if (point < 0x80) {
        out[0] = (char)point;
        return 1;
    }
    size_t more = point < 0x800 ? 1 : point < 0x10000 ? 2 : 3;
    static const unsigned char lead[] = {0, 0xc0, 0xe0, 0xf0};
    out[0] = (char)(lead[more] | (point >> (6 * more)));
    for (size_t i = 1; i <= more; i++) {
        out[i] = (char)(0x80 | ((point >> (6 * (more - i))) & 0x3f));
    }
    return more + 1;
}

struct vt_cell vt_cell(struct vt *vt, int row, int column)
{
    struct vt_cell out = {.text = " "};
    VTermScreenCell cell = {0};
    size_t size = 0;

    if (vterm_screen_get_cell(vt->screen, (VTermPos){row, column}, &cell) == 0) {
        return out;
    }
    if (cell.chars[0] == (uint32_t)-1) {
        out.text[0] = '\0';
    }
    for (int i = 0;
         i < VTERM_MAX_CHARS_PER_CELL && cell.chars[i] != 0 && cell.chars[i] != (uint32_t)-1; i++) {
        size += put_point(out.text + size, cell.chars[i]);
    }
    if (size > 0) {
        out.text[size] = '\0';
    }
    out.bold = cell.attrs.bold;
    out.reverse = cell.attrs.reverse;
    out.underline = cell.attrs.underline != 0;
    out.coloured = !VTERM_COLOR_IS_DEFAULT_FG(&cell.fg) || !VTERM_COLOR_IS_DEFAULT_BG(&cell.bg);
    return out;
}

const char *vt_row(struct vt *vt, int row, int column, int width, char *out, size_t size)
{
    size_t used = 0, text = 0;
    int end = width > 0 && column + width < vt->columns ? column + width : vt->columns;

    for (int i = column; i < end; i++) {
        struct vt_cell cell = vt_cell(vt, row, i);
        size_t bytes = strlen(cell.text);
        if (used + bytes >= size) {
            break;
        }
        memcpy(out + used, cell.text, bytes);
        used += bytes;
        if (strcmp(cell.text, " ") != 0) {
            text = used;
        }
    }
    out[text] = '\0';
    return out;
}

bool vt_find(struct vt *vt, const char *text, int *row, int *column)
{
    char line[ROW_BYTES];
    for (int i = 0; i < vt->rows; i++) {
        const char *at = strstr(vt_row(vt, i, 0, 0, line, sizeof line), text);
        if (at == NULL) {
            continue;
        }
        size_t bytes = 0;
        int j = 0;
        while (bytes < (size_t)(at - line)) {
            bytes += strlen(vt_cell(vt, i, j++).text);
        }
        if (row != NULL) {
            *row = i;
        }
        if (column != NULL) {
            *column = j;
        }
        return true;
    }
    return false;
}

void vt_hang_up(struct vt *vt)
{
    close(vt->fd);
    vt->fd = -1;
    vt->ended = true;
}

bool vt_restored(const struct vt *vt)
{
    struct termios modes;
    return !vt->altscreen && tcgetattr(vt->fd, &modes) == 0 &&
           (modes.c_lflag & (ICANON | ECHO | ISIG)) == (ICANON | ECHO | ISIG) &&
           modes.c_oflag & ONLCR;
}

bool vt_altscreen(const struct vt *vt)
{
    return vt->altscreen;
}

void vt_print(struct vt *vt, const char *what)
{
    char line[ROW_BYTES];
    fprintf(stderr, "screen %dx%d%s: %s\n", vt->columns, vt->rows,
            vt->ended ? ", program ended" : "", what);
    for (int i = 0; i < vt->rows; i++) {
        fprintf(stderr, "%3d|%s\n", i, vt_row(vt, i, 0, 0, line, sizeof line));
    }
}

int vt_takes_presses(const struct vt *vt)
{
    return vt->takes_presses;
}

int vt_bells(const struct vt *vt)
{
    return vt->bells;
}

int64_t vt_bytes(const struct vt *vt)
{
    return vt->bytes;
}

void vt_on_damage(struct vt *vt, vt_damage *damage, void *context)
{
    vt->damage = damage;
    vt->damage_context = context;
}
