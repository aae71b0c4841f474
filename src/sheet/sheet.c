/* sheet.c: a bout's sheet, by form. */
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

bool checked_whole(const struct figures *figures)
{
    return figures->checked && !figures->asked.round && !figures->windowed;
}

/* Where somebody tagged the bout again from its recording: how good the live count was. */
static int check_live(struct figures *figures, struct reference_sheet_view *checked,
                      struct reference *reference, const struct sheet_view *view, struct error *err)
{
    uint8_t corners = 0;
    int root = reference_find(view->fold, &corners);
    if (root < 0) {
        return 0;
    }
    *checked = (struct reference_sheet_view){
        .bout = view->bout, .reference = reference, .by = figures->desk[root]};
    figures->checked = checked;
    return reference_make(reference, view->fold, view->bout, view->rules, root, REFERENCE_OFFICIAL,
                          corners)
               ? error_memory(err)
               : 0;
}

int sheet_write(struct buf *out, const struct sheet_view *view, enum sheet_format format,
                struct error *err)
{
    static void (*const printers[SHEET_FORMATS])(struct buf *, const struct figures *) = {
        sheet_text, sheet_markdown, sheet_csv, sheet_json, sheet_html};
    struct figures figures;
    struct remarks remarks = {.item = NULL};
    struct reference reference = {0};
    struct reference_sheet_view checked;
    int code = figures_init(&figures, view, err);
    if (code) {
        return code;
    }
    if (format == SHEET_HTML) { /* the only form that tells remarks */
        code = remarks_init(&remarks, view->fold, view->signs, view->former, &remark_rule_default,
                            view->now_ms, err);
        figures.remarks = &remarks;
    }
    code = code ? code : check_live(&figures, &checked, &reference, view, err);
    if (!code) {
        printers[format](out, &figures);
        code = out->failed ? error_memory(err) : 0;
    }
    remarks_release(&remarks);
    reference_release(&reference);
    figures_release(&figures);
    return code;
}
