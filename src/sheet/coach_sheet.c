/* coach_sheet.c: one corner's sheet, by form. */
#include "ringtally/sheet/coach_sheet.h"

#include "sheet/coach.h"

const char *const coach_format_names[COACH_FORMATS] = {"text", "html"};

int coach_sheet_write(struct buf *out, const struct sheet_view *view, enum corner corner,
                      enum coach_format format, struct error *err)
{
    static void (*const printers[COACH_FORMATS])(struct buf *, const struct coach *) = {coach_text,
                                                                                        coach_html};
    struct figures figures;
    struct coach coach;
    int code = figures_init(&figures, view, err);
    if (code) {
        return code;
    }
    code = coach_init(&coach, &figures, corner, err);
    if (!code) {
        printers[format](out, &coach);
        code = out->failed ? error_memory(err) : 0;
    }
    figures_release(&figures);
    return code;
}
