#!/usr/bin/python3
"""Every page held against WCAG 2.2 A and AA by axe-core, in each state that a producer may see: live, held,
late, announced, cut off; dark and light; phone, tablet and wall. Overlays too.

usage: RINGTALLY_AXE=axe.min.js check_axe.py FEED SCRIBE RINGTALLY SOURCE_DIR [TEST...]
"""
import os
import pathlib
import tempfile
import time

from browser import Browser
from check_access import TOKEN, private, said
from check_onair import example, run
from feed_kit import CARD, Feed, Scribe, main, until

RULES = '{runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}'
SIZES = [(390, 844, "dark"), (1024, 768, "light"), (1920, 1080, "dark")]


def look(browser, url, ready, sizes=tuple(SIZES)):
    """No violation at any size; how many rules were held against the page."""
    library = pathlib.Path(os.environ["RINGTALLY_AXE"]).read_text(encoding="utf-8")
    held = 0
    for width, height, scheme in sizes:
        browser.open(url, width, height, scheme)
        browser.wait(f"!!({ready})")
        browser.value(f"(() => {{ {library} \n }})()")
        found = browser.value(f"axe.run(document, {RULES}).then((all) => ({{passed: all.passes.length, violations: "
                              "all.violations.map((one) => [one.id, one.help, one.nodes.map((node) => node.html).slice(0, 3)])}))")
        assert not found["violations"], (url, width, scheme, found["violations"])
        held = max(held, found["passed"])
    assert held > 10, (url, held)
    return held


def scores(folder):
    path = pathlib.Path(folder, "scores.csv")
    rows = [f"{judge},{number},10,{9 - (number == 3)}," for judge in ("Aurelia Quintwell", "Baptiste Corvellec", "Ingunn Steinhaug") for number in (1, 2, 3)]
    path.write_text("judge,round,red,blue,names\r\n" + "\r\n".join(rows) + "\r\n", encoding="utf-8")
    return str(path)


def pages__each_state__no_violation(programs):
    browser = Browser()
    with tempfile.TemporaryDirectory() as folder:
        db = example(programs, folder)
        run(programs, db, "scores", "load", f"{CARD}/1", scores(folder), "--operator", "Ida Roe")
        run(programs, db, "result", f"{CARD}/1", "--announce", "unanimous_decision", "--winner", "red", "--vote", "3-0-0", "--operator", "Ida Roe")
        feed = Feed(programs, db, "--hold", "knockdowns", "--delay", "0.5")
        settled = "document.querySelector('#calls li') && !document.querySelector('#cards').hidden && !document.querySelector('#gate').hidden && !getComputedStyle(document.body).opacity.startsWith('0')"
        look(browser, f"{feed.url}bout/{CARD}/1", settled)
        browser.open(f"{feed.url}bout/{CARD}/1", 1024, 768)
        browser.wait(f"!!({settled})")
        words = browser.value("document.querySelector('#gate').textContent")
        assert words == "Held for review, and not in these figures: knockdowns. All is 0.5 s late on purpose.", words
        cards = browser.value("[...document.querySelectorAll('#cards tbody tr')].map((row) => row.textContent)")
        assert cards[0] == "Aurelia Quintwell10–910–910–830–26" and len(cards) == 3, cards
        look(browser, feed.url, "document.querySelector('.bouts li')")
        look(browser, f"{feed.url}bout/{CARD}/1/coach/red", "document.querySelector('#sheet').contentDocument.body.textContent.length > 200")
        look(browser, f"{feed.url}v1/bouts/{CARD}/1/coach/blue", "document.body.textContent.length > 200", SIZES[:2])
        for kind in ("strip", "bug", "panel", "remark"):
            look(browser, f"{feed.url}air/{CARD}/1/{kind}", "document.querySelector('.box') && getComputedStyle(document.querySelector('#air')).opacity === '1'", SIZES[2:])
        # The line is cut: alarms, and what was kept.
        browser.open(f"{feed.url}bout/{CARD}/1", 390, 844)
        browser.wait(f"!!({settled})")
        library = pathlib.Path(os.environ["RINGTALLY_AXE"]).read_text(encoding="utf-8")
        feed.stop()
        browser.wait("!!(document.body.dataset.line === 'cut' && document.querySelector('#alarms p'))")
        browser.value(f"(() => {{ {library} \n }})()")
        found = browser.value(f"axe.run(document, {RULES}).then((all) => all.violations.map((one) => [one.id, one.nodes.map((node) => node.html).slice(0, 3)]))")
        assert not found, found
        feed = Feed(programs, db, "--token-file", str(private(folder, "token", TOKEN + "\n")))
        look(browser, feed.url, "document.querySelector('main, body')", SIZES[:2])
        look(browser, said(feed, r"http\S+/enter/[0-9a-f]+"), "document.querySelector('.go')", SIZES[:2])
        feed.stop()
    browser.close()


def page__live_bout__no_violation(programs):
    browser = Browser()
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("start")
        scribe.do("many 60")
        feed = Feed(programs, db)
        look(browser, f"{feed.url}now", "document.body.dataset.line === 'live' && document.querySelector('#calls li')")
        scribe.kill()
        started = time.monotonic()
        browser.open(f"{feed.url}now", 1024, 768, "light")
        browser.wait("!!document.querySelector('#alarms p')", 30)
        until("a look", lambda: time.monotonic() > started)
        look(browser, f"{feed.url}now", "document.querySelector('#alarms p')", SIZES[:1])
        feed.stop()
    browser.close()


if __name__ == "__main__":
    raise SystemExit(main([pages__each_state__no_violation, page__live_bout__no_violation]))
