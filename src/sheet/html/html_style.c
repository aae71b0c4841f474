/* html_style.c: the style sheet of the HTML sheets.
 *
 * Two tints (a: what we land, b: what we take), five steps of lightness each, with the colour of
 * the text upon each step. A test holds every pair to a contrast of 4.5 (WCAG 2.2, 1.4.3).
 */
#include "sheet/html/html.h"

const char *const html_style_parts[] = {
    /* colours */
    "@page{margin:10mm}\n"
    ":root{--paper:#fff;--ink:#111;--soft:#444;--line:#b5b5b5;--card:#f2f2f2;--red:#b00020;"
    "--blue:#0b4ea2;--on:#fff;\n"
    "--a0:#fff;--a0t:#111;--a1:#d7efec;--a1t:#111;--a2:#94d0c8;--a2t:#111;--a3:#3f9f97;--a3t:#000;"
    "--a4:#0b5f5a;--a4t:#fff;\n"
    "--b0:#fff;--b0t:#111;--b1:#f9e3cf;--b1t:#111;--b2:#f0b27a;--b2t:#111;--b3:#d9792b;--b3t:#000;"
    "--b4:#8a3d08;--b4t:#fff}\n"
    "@media screen and (prefers-color-scheme:dark){:root{--paper:#101214;--ink:#f3f3f3;"
    "--soft:#c4c4c4;--line:#5c6166;--card:#1d2125;--red:#ff8a8a;--blue:#8fbcff;--on:#101214;\n"
    "--a0:#101214;--a0t:#f3f3f3;--a1:#12312f;--a1t:#fff;--a2:#1d5f5a;--a2t:#fff;--a3:#3f9f97;"
    "--a3t:#000;--a4:#a8e6df;--a4t:#000;\n"
    "--b0:#101214;--b0t:#f3f3f3;--b1:#3a2310;--b1t:#fff;--b2:#7a4413;--b2t:#fff;--b3:#d9792b;"
    "--b3t:#000;--b4:#ffd2a1;--b4t:#000}}\n",
    /* the page */
    "*{box-sizing:border-box;margin:0}\n"
    "html{background:var(--paper);color:var(--ink);print-color-adjust:exact;"
    "-webkit-print-color-adjust:exact}\n"
    "body{font:16px/1.35 system-ui,sans-serif;max-width:190mm;margin:0 auto;padding:10px;"
    "font-variant-numeric:tabular-nums;overflow-wrap:anywhere}\n"
    "header{border-bottom:4px solid;padding-bottom:4px;margin-bottom:8px}\n"
    "header.red{border-color:var(--red)}header.blue{border-color:var(--blue)}\n"
    "h1{font-size:24px;line-height:1.2}header b{padding:0 6px;border-radius:4px;color:var(--on)}\n"
    "header.red b,b.red{background:var(--red)}header.blue b,b.blue{background:var(--blue)}\n"
    ".sub{color:var(--soft)}.sub strong{color:var(--ink);font-size:20px}\n"
    "h2{font-size:18px;line-height:1.3}h2 b{font-weight:600}\n"
    "footer{color:var(--soft);font-size:12px;margin-top:8px}\n"
    ".lines article{border-left:8px solid var(--line);background:var(--card);padding:6px 10px;"
    "margin-bottom:6px}\n"
    ".lines .lands{border-color:var(--a3)}.lines .takes{border-color:var(--b3)}\n"
    ".lines h2{font-size:14px;text-transform:uppercase;letter-spacing:.04em;color:var(--soft)}\n"
    ".say{font-size:22px;font-weight:700;line-height:1.2}.proof{font-size:14px;color:var(--soft)}\n"
    ".two{display:grid;gap:6px 16px;grid-template-columns:minmax(0,1fr)}\n"
    ".stance{font-size:14px}.caution{border:2px solid var(--ink);padding:4px "
    "10px;margin-bottom:6px;"
    "font-weight:600}\n"
    ".gap{border:3px solid;padding:4px 8px;margin-bottom:8px}\n"
    "svg{display:block;width:100%;height:auto}svg text{fill:var(--ink)}\n",
    /* the pad */
    ".a0{fill:var(--a0)}.a1{fill:var(--a1)}.a2{fill:var(--a2)}.a3{fill:var(--a3)}"
    ".a4{fill:var(--a4)}\n"
    ".b0{fill:var(--b0)}.b1{fill:var(--b1)}.b2{fill:var(--b2)}.b3{fill:var(--b3)}"
    ".b4{fill:var(--b4)}\n"
    ".a>.t0{fill:var(--a0t)}.a>.t1{fill:var(--a1t)}.a>.t2{fill:var(--a2t)}.a>.t3{fill:var(--a3t)}"
    ".a>.t4{fill:var(--a4t)}\n"
    ".b>.t0{fill:var(--b0t)}.b>.t1{fill:var(--b1t)}.b>.t2{fill:var(--b2t)}.b>.t3{fill:var(--b3t)}"
    ".b>.t4{fill:var(--b4t)}\n"
    ".cell{stroke:var(--line);stroke-width:1}.cell.mark{stroke:var(--ink);stroke-width:4}"
    ".cell.total{stroke:var(--ink)}.row{font-size:13px}\n"
    ".n{text-anchor:middle}.big{font-size:26px;font-weight:700}.of{font-size:14px}"
    ".many .big{font-size:22px}.many .of{font-size:12px}\n"
    ".name{font-size:13px;text-anchor:middle}.many .name{font-size:10px}\n"
    ".kd rect{fill:var(--ink)}.kd text{fill:var(--paper);font-size:12px;font-weight:700;"
    "text-anchor:middle}\n",
    /* the charts */
    ".grid{stroke:var(--line);stroke-width:1}.tick{font-size:10px;text-anchor:middle}\n"
    ".chart .r{font-size:15px;font-weight:700}.chart .v{font-size:14px;white-space:pre}\n"
    ".small .r{font-size:12px}.small .v{font-size:11px}\n"
    ".strip .span{stroke-width:3;fill:none}.strip circle,.strip rect{stroke-width:2}\n"
    ".strip.we>*{stroke:var(--a3)}.strip.we circle{fill:var(--a3)}\n"
    ".strip.they>*{stroke:var(--b3)}.strip.they .span{stroke-dasharray:4 3}"
    ".strip.they rect{fill:var(--paper)}.strip.we>text,.strip.they>text{stroke:none}\n"
    ".key{font-size:13px;font-weight:400;white-space:nowrap}"
    ".key svg{display:inline-block;width:12px;height:12px;vertical-align:-1px}\n",
    /* tables and the timeline of the bout's sheet */
    "table{border-collapse:collapse;width:100%;font-size:14px;margin-bottom:8px}\n"
    "th,td{padding:2px 5px;text-align:right;border-bottom:1px solid "
    "var(--line);white-space:nowrap;overflow-wrap:normal}\n"
    "th{font-weight:600}.rounds "
    "th{white-space:normal;font-size:12px;vertical-align:bottom}.mid{text-align:center}.left,td."
    "left{text-align:left}\n"
    "b.red,b.blue{padding:0 5px;border-radius:4px;color:var(--on)}\n"
    ".vs{display:flex;justify-content:space-between;gap:12px}.vs p:last-child{text-align:right}\n"
    ".wide{overflow-x:auto}.time{min-width:640px}.press h2{margin-top:8px}.press "
    "li{margin-left:18px}\n"
    ".press section{break-inside:avoid}\n"
    ".time .axis{stroke:var(--ink);stroke-width:1}.time .stop{stroke:var(--soft);stroke-width:1;"
    "stroke-dasharray:2 2}\n"
    ".time .red{stroke:var(--red)}.time .blue{stroke:var(--blue)}.time .hit{stroke-width:2}"
    ".time .miss{stroke-width:1}\n"
    ".time text{font-size:11px}.time .down{font-weight:700}\n",
    /* larger screens, and paper */
    "@media (min-width:700px){.two{grid-template-columns:minmax(0,1fr) minmax(0,1fr)}"
    ".lines{display:grid;grid-template-columns:repeat(3,minmax(0,1fr));gap:8px}"
    ".lines article{margin:0 0 8px}.say{font-size:20px}}\n"
    "@media print{body{padding:0;font-size:10pt}h1{font-size:16pt}.sub strong{font-size:12pt}"
    "h2{font-size:11pt}.two{grid-template-columns:minmax(0,1fr) minmax(0,1fr)}"
    ".lines{display:grid;grid-template-columns:repeat(3,minmax(0,1fr));gap:3mm}"
    ".lines article{margin:0 0 2mm}.lines h2{font-size:9pt}.say{font-size:13pt;line-height:1.15}"
    ".chart{max-height:74mm}"
    ".proof,.stance{font-size:9pt}footer{font-size:8pt}table{font-size:9pt;margin-bottom:1mm}th,td{"
    "padding:1px 5px}.wide{overflow:visible}.time{min-width:0}}\n"
    /* the bout's sheet on one page */
    "@media print{.press{font-size:8pt;line-height:1.15}.press h2{font-size:9.5pt;margin-top:1mm}"
    ".press table{font-size:8pt}.press th,.press td{padding:0 5px}.press .rounds th{font-size:7pt}"
    ".press svg{max-height:25mm}.press header{margin-bottom:1mm}.press footer{margin-top:1mm;font-size:7pt}"
    ".press h1{font-size:13pt}.press .proof,.press .stance{font-size:8pt}}\n",
    NULL,
};
