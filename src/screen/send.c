/* send.c: the terminal's own sequences and text, gathered into one write a frame. */
#include <errno.h>
#include <poll.h>
#include <unistd.h>

#include "screen/terminal.h"

#include <term.h> /* defines common words as macros: kept to this file */

static char out[16384]; /* goes early when full */
static size_t out_size;
static int at_row, at_column; /* of the cursor; -1: not known */
static attr_t attributes_now;
static short pair_now; /* -1: not known */

void send_flush(void)
{
    for (size_t done = 0; done < out_size;) {
        ssize_t wrote = write(STDOUT_FILENO, out + done, out_size - done);
        if (wrote >= 0) {
            done += (size_t)wrote;
        } else if (errno == EAGAIN) {
            struct pollfd ready = {STDOUT_FILENO, POLLOUT, 0};
            poll(&ready, 1, -1);
        } else if (errno != EINTR) {
            break; /* the terminal is gone: the loop hears of it from its input */
        }
    }
    out_size = 0;
}

bool send_pending(void)
{
    return out_size > 0;
}

static int send_byte(int byte)
{
    if (out_size == sizeof out) {
        send_flush();
    }
    out[out_size++] = (char)byte;
    return byte;
}

void send_text(const char *text, int width)
{
    while (*text) {
        send_byte((unsigned char)*text++);
    }
    at_column += width;
}

void send_attributes(attr_t attributes, short pair)
{
    if (attributes != attributes_now || pair != pair_now) {
        vid_puts(attributes, pair, NULL, send_byte);
        attributes_now = attributes;
        pair_now = pair;
    }
}

void send_forget_cursor(void)
{
    at_row = at_column = -1;
}

void send_move(int row, int column)
{
    if (row == at_row && column == at_column) {
        return;
    }
    if (row == at_row && column_address) {
        tputs(tiparm(column_address, column), 1, send_byte);
    } else {
        tputs(tiparm(cursor_address, row, column), 1, send_byte);
    }
    at_row = row;
    at_column = column;
}

bool send_erase_row(void)
{
    if (!clr_eol) {
        return false;
    }
    tputs(clr_eol, 1, send_byte);
    return true;
}

void send_erase_all(int rows)
{
    pair_now = -1;
    send_attributes(A_NORMAL, 0);
    tputs(clear_screen, rows, send_byte);
    send_forget_cursor();
}
