/* remarks_document.c: writes the remarks of a random bout (by its seed; 0: an empty one) or of
 * an example script as JSON or text, for programs that are not ours to read. usage:
 * remarks_document SEED|NAME.keys ROUND TOP json|text */
#include "fights.h"

#include "ringtally/sheet/remarks_sheet.h"

static int write_document(struct fight *fight, const struct remarks_view *asked, const char *format)
{
    struct remarks remarks;
    struct remarks_view view = *asked;
    struct buf out = BUF_INIT;
    struct error err = {0};
    view.bout = &fight->bout;
    view.now_ms = fold_newest_ms(fight->fold) + 180000; /* the last round is over */
    view.remarks = &remarks;
    if (remarks_init(&remarks, fight->fold, NULL, NULL, &remark_rule_default, view.now_ms, &err)) {
        return 1;
    }
    int code = strcmp(format, "json") == 0 ? remarks_json(&out, &view, &err)
                                           : remarks_text(&out, &view, &err);
    if (!code && fwrite(out.text, 1, out.size, stdout) != out.size) {
        code = 1;
    }
    buf_release(&out);
    remarks_release(&remarks);
    return code;
}

int main(int argc, char **argv)
{
    static struct entry entries[FIGHT_ENTRIES];
    struct entry *script = NULL;
    size_t count = 0;
    int desks = FIGHT_DESKS;
    struct fight fight;
    if (argc != 5) {
        return 2;
    }
    uint64_t seed = strtoull(argv[1], NULL, 10);
    if (strchr(argv[1], '.')) {
        count = fight_script(&script, argv[1]);
        desks = 1;
    } else if (seed > 0) {
        count = fight_random(entries, &seed);
    }
    fight_open(&fight, desks, script ? script : entries, count);
    struct remarks_view view = {.round = atoi(argv[2]), .top = atoi(argv[3])};
    int code = write_document(&fight, &view, argv[4]);
    fight_close(&fight);
    free(script);
    return code ? 1 : 0;
}
