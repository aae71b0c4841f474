/* qr.c: the only file that knows libqrencode. */
#include "feed/qr.h"

#include <qrencode.h>
#include <stdbool.h>

#include "ringtally/base/buf.h"

#define QUIET 4 /* light modules around it, as the standard asks */

static bool is_dark(const QRcode *code, int row, int column)
{
    return row >= 0 && column >= 0 && row < code->width && column < code->width &&
           code->data[row * code->width + column] & 1;
}

void qr_draw(const char *text, void (*say)(void *user, const char *line), void *user)
{
    /* Upper half, lower half: both light, lower dark, upper dark, both dark. */
    static const char *const cells[] = {" ", "\xe2\x96\x84", "\xe2\x96\x80", "\xe2\x96\x88"};
    QRcode *code = QRcode_encodeString(text, 0, QR_ECLEVEL_M, QR_MODE_8, 1);
    for (int row = -QUIET; code && row < code->width + QUIET; row += 2) {
        struct buf line = BUF_INIT;
        buf_adds(&line, "\x1b[30;47m");
        for (int column = -QUIET; column < code->width + QUIET; column++) {
            buf_adds(&line, cells[2 * is_dark(code, row, column) + is_dark(code, row + 1, column)]);
        }
        buf_adds(&line, "\x1b[0m");
        say(user, line.failed ? "" : line.text);
        buf_release(&line);
    }
    QRcode_free(code);
}
