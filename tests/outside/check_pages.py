#!/usr/bin/python3
"""Hands the HTML sheets to readers that are not ours.

Well-formed: the strict XML parser of Python (expat). Nothing from elsewhere: no script, no address.
Numbers: every cell of the pads and every round against the JSON document of the same bout, the
intervals against Wilson's formula written here, which they contain. Contrast of text upon each tint: the formula of
WCAG 2.2 (relative luminance), at least 4.5 (success criterion 1.4.3), from memory. One printed page, A4 and
Letter: a headless Chromium, where there is one.

usage: check_pages.py SHEET_DOCUMENTS_PROGRAM
"""
import json
import math
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree

COLUMNS = {"left leg": ["left_leg"], "left hand": ["left_hand"], "left elbow": ["left_elbow"],
           "right elbow": ["right_elbow"], "right hand": ["right_hand"],
           "right leg": ["right_leg"], "knee": ["knee", "left_knee", "right_knee"]}
BOUTS = {"played": (0, 1, 2, 3), "empty": (0,), "hostile": (0, 2), "one": (0, 1), "corner": (0,),
         "long": (0, 12, 20), "checked": (0, 2)}


def document(program, bout, round_, what):
    done = subprocess.run([program, bout, str(round_), what], check=True, capture_output=True)
    return done.stdout.decode("utf-8")


def parse(page):
    assert page.startswith("<!DOCTYPE html>\n")
    return xml.etree.ElementTree.fromstring(page.removeprefix("<!DOCTYPE html>\n"))


def check_alone(page, tree):
    """One file: nothing to fetch, nothing to run, no markup out of a name."""
    known = set("html head meta title style body main header footer section article div h1 h2 p b strong"
                " br span svg g path rect circle text table thead tbody tr th td ul li".split())
    for node in tree.iter():
        assert node.tag in known, node.tag
        for name in node.attrib:
            assert name not in ("href", "src", "style", "onload") and ":" not in name, name
    for word in ("://", "@import", "url(", "<script", "nan", "inf%", ">inf"):
        assert word not in page, word


def words(node):
    return " ".join("".join(node.itertext()).split())


def check_pads(tree, counts):
    seen = 0
    for pad in tree.iter("svg"):
        if not pad.get("class", "").startswith("pad"):
            continue
        side = counts[pad.get("data-corner")]
        for cell in pad:
            title = cell.find("title")
            if title is None:
                continue
            target, column, landed, thrown = re.fullmatch(
                r"(\w+), ([a-z ]+): (\d+) landed of (\d+)", title.text).groups()
            if column == "all":
                leaves = [side["by_target"][target]]
            else:
                leaves = [side["by_limb_target"][limb][target] for limb in COLUMNS[column]]
            assert int(landed) == sum(leaf["landed"] for leaf in leaves), title.text
            assert int(thrown) == sum(leaf["attempted"] for leaf in leaves), title.text
            shown = [text.text for text in cell.findall("text")]
            assert shown == ([landed, f"/{thrown}"] if int(thrown) else ["-"]), shown
            seen += column != "all" and int(thrown)
    return seen


def wilson(k, n, z=1.959963984540054):
    """Wilson EB 1927, JASA 22:209-212."""
    middle = (k + z * z / 2) / (n + z * z)
    half = z * math.sqrt(k * (n - k) / n + z * z / 4) / (n + z * z)
    return middle - half, middle + half


def share(k, n):
    if n is None:
        return "?"  # nobody tagged that corner
    if n == 0:
        return "-"
    low, high = wilson(k, n)
    return "%d/%d %d%% %d-%d" % ((k, n) + tuple(math.floor(100 * x + 0.5)
                                               for x in (k / n, low, high)))


def check_wider(told, least):
    """The same share; an interval that knows of combinations is never the narrower one."""
    assert told.split(" ")[:2] == least.split(" ")[:2], (told, least)
    if "%" in least:
        low, high = map(int, told.split(" ")[2].split("-"))
        wilson_low, wilson_high = map(int, least.split(" ")[2].split("-"))
        assert low <= wilson_low and high >= wilson_high, (told, least)


def check_charts(tree, sheet, corner, rounds):
    charts = [svg for svg in tree.iter("svg") if svg.get("class", "").startswith("chart")]
    assert len(charts) == 2
    other = {"red": "blue", "blue": "red"}[corner]
    shown = [words(node) for node in charts[0].iter("text") if node.get("class") == "v"]
    whole = [sheet["whole"]] if rounds is None else []
    want = [share(scope[c]["landed"], scope[c]["attempted"])
            for scope in sheet["rounds"][:rounds][-12:] + whole for c in (corner, other)]
    assert len(shown) in (len(want), len(want) + 2), (shown, want)
    for told, least in zip(shown, want):
        check_wider(told, least)
    paces = [words(node) for node in charts[1].iter("text") if node.get("class") == "v"]
    assert len(paces) == len(shown)
    for pace in paces:
        if pace not in ("-", "?"):
            value, low, high = map(float, re.split("[ -]", pace))
            assert low <= value <= high


def luminance(colour):
    if len(colour) == 3:
        colour = "".join(c + c for c in colour)
    parts = [int(colour[i:i + 2], 16) / 255 for i in (0, 2, 4)]
    parts = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def contrast(a, b):
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def check_colours(page):
    themes = re.findall(r":root\{(.*?)\}", page, re.S)
    assert len(themes) == 2
    for theme in themes:
        colour = dict(re.findall(r"--(\w+):#(\w+)", theme))
        for tint in "ab":
            steps = [luminance(colour[f"{tint}{i}"]) for i in range(5)]
            assert steps == sorted(steps) or steps == sorted(steps, reverse=True), steps
            for i in range(5):
                assert contrast(colour[f"{tint}{i}"], colour[f"{tint}{i}t"]) >= 4.5, (tint, i)
        for ground in ("paper", "card"):
            for text in ("ink", "soft"):
                assert contrast(colour[ground], colour[text]) >= 4.5, (ground, text)
        for corner in ("red", "blue"):
            assert contrast(colour[corner], colour["on"]) >= 4.5, corner


def pages_of(browser, folder, page, paper):
    path = folder / "page.html"
    path.write_text(page.replace("@page{", f"@page{{size:{paper};"), encoding="utf-8")
    subprocess.run([browser, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
                    "--no-first-run", "--disable-background-networking",
                    "--disable-component-update", "--disable-sync",
                    f"--user-data-dir={folder}/profile", "--no-pdf-header-footer",
                    f"--print-to-pdf={folder}/page.pdf", path.as_uri()],
                   check=True, capture_output=True, timeout=120)
    found = (folder / "page.pdf").read_bytes()
    return len(re.findall(rb"/Type\s*/Page\b", found))


def main():
    program = sys.argv[1]
    browser = shutil.which("chromium")
    cells = 0
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        for bout, rounds in BOUTS.items():
            for round_ in rounds:
                counts = json.loads(document(program, bout, round_, "counts-json"))
                sheet = json.loads(document(program, bout, 0, "json"))
                press = document(program, bout, round_, "html")
                tree = parse(press)
                check_alone(press, tree)
                cells += check_pads(tree, counts)
                for corner in ("red", "blue"):
                    page = document(program, bout, round_, f"coach-{corner}-html")
                    tree = parse(page)
                    check_alone(page, tree)
                    cells += check_pads(tree, counts)
                    check_charts(tree, sheet, corner, round_ or None)
                    check_colours(page)
                    text = document(program, bout, round_, f"coach-{corner}-text")
                    assert text.count("\n") <= 60, text
                    assert "nan" not in text
                    say = [words(p) for p in tree.iter("p") if p.get("class") == "say"]
                    assert len(say) == 3 and all(s.endswith(".") for s in say), say
                    for sentence in say:
                        assert sentence.split()[0] in text
                if browser and bout in ("played", "hostile", "long"):
                    for paper in ("A4", "Letter"):
                        assert pages_of(browser, folder, page, paper) == 1, (bout, round_, paper)
                        if bout == "played" and round_ in (0, 1):  # an ordinary bout's sheet, and a round's
                            assert pages_of(browser, folder, press, paper) == 1, (bout, round_, paper)
    assert cells > 1000
    print("printed by", browser or "nobody: chromium is not installed")
    return 0


if __name__ == "__main__":
    sys.exit(main())
