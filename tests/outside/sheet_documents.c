/* sheet_documents.c: writes one document of an invented bout, for programs that are not ours to
 * read. usage: sheet_documents played|empty|hostile ROUND counts-json|counts-csv|heartbeat|FORMAT
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sample.h"

static int write_document(struct buf *out, const struct sheet_view *view, const char *what,
                          struct error *err)
{
    if (strcmp(what, "counts-json") == 0) {
        return counts_json(out, view, err);
    }
    if (strcmp(what, "heartbeat") == 0) {
        return heartbeat_json(out, view, err);
    }
    if (strcmp(what, "counts-csv") == 0) {
        return counts_csv(out, view, err);
    }
    int format = name_index(sheet_format_names, SHEET_FORMATS, what);
    return format < 0 ? ERROR_USAGE : sheet_write(out, view, (enum sheet_format)format, err);
}

int main(int argc, char **argv)
{
    struct sample sample;
    struct buf out = BUF_INIT;
    struct error err = {0};
    if (argc != 4) {
        return 2;
    }
    sample_init(&sample);
    if (strcmp(argv[1], "hostile") == 0) {
        sample_hostile(&sample);
    }
    if (strcmp(argv[1], "empty") != 0) {
        sample_play(&sample);
    }
    struct sheet_view view = sample_view(&sample, atoi(argv[2]));
    int code = write_document(&out, &view, argv[3], &err);
    if (code == 0 && fwrite(out.text, 1, out.size, stdout) != out.size) {
        code = ERROR_FAILED;
    }
    buf_release(&out);
    sample_release(&sample);
    return code ? 1 : 0;
}
