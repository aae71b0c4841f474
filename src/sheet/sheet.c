/* sheet.c: a bout's sheet, by form. */
#include "ringtally/insight/reference.h"
#include "ringtally/insight/remarks.h"
#include "sheet/officials_sheet.h"

const char *const sheet_format_names[SHEET_FORMATS] = {"text", "markdown", "csv", "json", "html"};

int officials_sheet(struct buf *out, const struct sheet_view *view, enum sheet_format format,
                    struct error *err)
{
    struct figures figures;
    int code = figures_init(&figures, view, err);
    if (code) {
        return code;
    }
    if (format == SHEET_JSON) {
        officials_json(out, &figures);
    } else {
        officials_text(out, &figures);
    }
    if (!out->failed && out->size == 0) {
        buf_addf(out, "%s: no scores and no result yet\n", figures.bout);
    }
    figures_release(&figures);
    return out->failed ? error_memory(err) : 0;
}

/* Where somebody tagged the bout again from its recording: how good the live count was. */
static int check_live(struct figures *figures, const struct sheet_view *view, struct error *err)
{
    struct reference reference;
    int root = reference_find(view->fold);
    uint8_t corners =
        root < 0 ? 0 : agree_corners(view->fold, root) & reference_official_corners(view->fold);
    if (!corners) {
        return 0;
    }
    int code = reference_make(&reference, view->fold, view->bout, view->rules, root,
                              REFERENCE_OFFICIAL, corners);
    if (!code) {
        reference_line(figures->checked, sizeof figures->checked, &reference);
    }
    reference_release(&reference);
    return code ? error_memory(err) : 0;
}

int sheet_write(struct buf *out, const struct sheet_view *view, enum sheet_format format,
                struct error *err)
{
    static void (*const printers[SHEET_FORMATS])(struct buf *, const struct figures *) = {
        sheet_text, sheet_markdown, sheet_csv, sheet_json, sheet_html};
    struct figures figures;
    struct remarks remarks = {.item = NULL};
    int code = figures_init(&figures, view, err);
    if (code) {
        return code;
    }
    if (format == SHEET_HTML) { /* the only form that tells remarks */
        code = remarks_init(&remarks, view->fold, view->signs, view->former, &remark_rule_default,
                            view->now_ms, err);
        figures.remarks = &remarks;
    }
    code = code ? code : check_live(&figures, view, err);
    if (!code) {
        printers[format](out, &figures);
        code = out->failed ? error_memory(err) : 0;
    }
    remarks_release(&remarks);
    figures_release(&figures);
    return code;
}
