/* html.c: escaped HTML, and the pages by form. */
#include "sheet/html/html.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/when.h"

void html_text(struct buf *out, const char *text)
{
    while (*text) {
        size_t plain = strcspn(text, "<>&\"'");
        buf_add(out, text, plain);
        text += plain;
        switch (*text) {
        case '<':
            buf_adds(out, "&lt;");
            break;
        case '>':
            buf_adds(out, "&gt;");
            break;
        case '&':
            buf_adds(out, "&amp;");
            break;
        case '"':
            buf_adds(out, "&quot;");
            break;
        case '\'':
            buf_adds(out, "&#39;");
            break;
        default:
            return;
        }
        text++;
    }
}

void html_number(struct buf *out, double value)
{
    long long tenths = llround(value * 10.0);
    buf_addf(out, "%s%lld", tenths < 0 ? "-" : "", llabs(tenths) / 10);
    if (tenths % 10) {
        buf_addf(out, ".%lld", llabs(tenths) % 10);
    }
}

void html_begin(struct buf *out, const char *title, const char *kind)
{
    buf_adds(out, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n"
                  "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n"
                  "<meta name=\"color-scheme\" content=\"light dark\"/>\n<title>");
    html_text(out, title);
    buf_adds(out, "</title>\n<style>\n");
    for (int i = 0; html_style_parts[i]; i++) {
        buf_adds(out, html_style_parts[i]);
    }
    buf_addf(out, "</style>\n</head>\n<body class=\"%s\">\n<main>\n", kind);
}

void html_end(struct buf *out)
{
    buf_adds(out, "</main>\n</body>\n</html>\n");
}

void html_coverage(struct buf *out, const struct figures *figures)
{
    struct buf words = BUF_INIT;
    coverage_text(&words, figures);
    if (words.size > 0) {
        buf_adds(out, "<p class=\"gap\"><strong>Not covered:</strong> ");
        html_text(out, words.text);
        buf_adds(out, ". " COVERAGE_NOTE "</p>\n");
    }
    out->failed = out->failed || words.failed;
    buf_release(&words);
}

void html_record(struct buf *out, const struct figures *figures)
{
    char as_of[WHEN_SIZE];
    buf_adds(out, "<p>");
    html_text(out, figures->bout);
    buf_adds(out, ", ");
    html_text(out, figures->status);
    buf_adds(out, "; as of ");
    html_text(out, when_rfc3339(as_of, figures->view->now_ms));
    buf_adds(out, "</p>\n");
}
