/* qr.h: a link as a picture that a tablet's camera reads. Private to the room. */
#ifndef RINGTALLY_FEED_QR_H
#define RINGTALLY_FEED_QR_H

/* Draws the text as a QR code (ISO/IEC 18004) for a terminal, two rows of it a line; each line is
 * said. Dark on light by escape sequences, whatever the terminal's colours are. */
void qr_draw(const char *text, void (*say)(void *user, const char *line), void *user);

#endif
