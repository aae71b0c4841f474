#!/usr/bin/python3
"""The page in a real browser, driven through a real bout with the line cut in its middle.

usage: check_page.py FEED SCRIBE RINGTALLY SOURCE_DIR [TEST...]
"""
import json
import pathlib
import re
import signal
import subprocess
import sys
import tempfile
import time

from browser import Browser
from feed_kit import CARD, Feed, Scribe, curl, main

READY = "document.querySelectorAll('.rounds tbody tr').length > 1 && document.body.dataset.line == 'live'"
SIZES = ((390, 844), (820, 1180), (1440, 900))

# Contrast as WCAG 2.2, 1.4.3 and its definition of relative luminance have it (from memory): text
# against what lies behind it, see-through layers mixed in. Gives the offences.
CONTRAST = r"""(() => {
  const parse = (text) => { const n = text.match(/[\d.]+/g).map(Number); return [n[0], n[1], n[2], n[3] === undefined ? 1 : n[3]]; };
  const mix = (over, under) => over.slice(0, 3).map((c, i) => c * over[3] + under[i] * (1 - over[3])).concat(1);
  const light = (color) => { const [r, g, b] = color.slice(0, 3).map((c) => { c /= 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; }); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const ratio = (a, b) => { const [x, y] = [light(a), light(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
  const behind = (element) => { const layers = []; for (let e = element; e; e = e.parentElement) { const color = parse(getComputedStyle(e).backgroundColor); if (color[3] > 0) { layers.push(color); if (color[3] === 1) break; } } return layers.reverse().reduce((under, over) => mix(over, under), [255, 255, 255, 1]); };
  const bad = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const text = walker.currentNode.textContent.trim();
    const element = walker.currentNode.parentElement;
    const style = getComputedStyle(element);
    if (!text || text === "·" || element.closest(".unseen, .skip, script, noscript, style") || !element.getClientRects().length) continue;
    const size = parseFloat(style.fontSize);
    const need = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700) ? 3 : 4.5;
    const grounds = [behind(element)];
    const cell = element.closest(".pad td");
    if (cell && cell.querySelector("i")) {
      const fill = getComputedStyle(cell.querySelector("i"));
      grounds.push(mix([...parse(fill.backgroundColor).slice(0, 3), Number(fill.opacity)], grounds[0]));
    }
    for (const ground of grounds) {
      const seen = mix(parse(style.color).slice(0, 3).concat(Number(style.opacity)), ground);
      const got = ratio(seen, ground);
      if (got < need) bad.push(`${text.slice(0, 30)}: ${got.toFixed(2)} < ${need}`);
    }
  }
  return bad;
})()"""


def figures(browser):
    """Landed and thrown of both corners as the page shows them."""
    text = browser.value("document.querySelector('.row.big').innerText")
    return [int(number) for number in re.findall(r"\d+", text)]


def timeline(browser):
    """The same, added up from what a screen reader is told of the timeline."""
    labels = browser.value("[...document.querySelectorAll('#time svg')].map((s) => s.ariaLabel || s.getAttribute('aria-label'))")
    totals = [0, 0, 0, 0]
    for label in labels:
        for i, number in enumerate(re.search(r"red landed (\d+) of (\d+), blue landed (\d+) of (\d+)",
                                             label).groups()):
            totals[i] += int(number)
    return totals


def quiet(browser, url):
    """No script failed, and nothing was asked of anybody else."""
    for event in browser.events:
        params = event.get("params", {})
        assert event.get("method") != "Runtime.exceptionThrown", params
        if event.get("method") == "Log.entryAdded":
            assert params["entry"]["source"] == "network", params
        if event.get("method") == "Network.requestWillBeSent":
            asked = params["request"]["url"]
            assert asked.startswith(url) or asked.startswith("about:"), asked
    browser.events.clear()


def bout__played_with_a_cut_line__page_ends_with_the_same_figures(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        subprocess.run([programs.ringtally, "--db", db, "card", "load", programs.card], check=True,
                       stdout=subprocess.DEVNULL)
        feed = Feed(programs, db)
        browser = Browser()
        try:
            desk = subprocess.Popen(
                [programs.ringtally, "--db", db, "desk", f"{CARD}/1", "--operator", "Iris Palm",
                 "--keys", programs.source / "examples" / "bout-1.keys", "--headless",
                 "--speed", "60"], stdout=subprocess.DEVNULL)
            browser.open(f"{feed.url}bout/{CARD}/1", 820, 1180)
            browser.wait(READY)
            browser.wait("document.querySelector('#round').textContent.includes('round 2')")
            first = figures(browser)
            feed.stop(signal.SIGKILL)
            browser.wait("document.body.dataset.line == 'cut'", 1)
            browser.wait("document.querySelector('.alarms p').textContent.includes('cut')", 1)
            time.sleep(1)  # strikes meanwhile
            feed = Feed(programs, db, port=feed.port)
            browser.wait("document.body.dataset.line == 'live' && !document.querySelector('.alarms p')", 5)
            assert desk.poll() is None, "the bout was over before the line was back"
            assert desk.wait(60) == 0
            counts = json.loads(subprocess.run(
                [programs.ringtally, "--db", db, "counts", f"{CARD}/1", "--format", "json"],
                check=True, capture_output=True).stdout)
            expected = [counts[corner][what] for corner in ("red", "blue")
                        for what in ("landed", "attempted")]
            browser.wait(f"document.querySelector('.row.big').innerText.match(/\\d+/g).join() == '{','.join(map(str, expected))}'")
            assert first != expected
            browser.wait("document.querySelectorAll('.rounds tbody tr').length == 4")
            browser.wait("document.querySelector('#round').textContent == 'over'")
            time.sleep(0.5)  # the timeline is drawn a moment later
            assert timeline(browser) == expected, (timeline(browser), expected)
            assert browser.value("document.querySelectorAll('#calls li').length") > 3
            quiet(browser, feed.url)
        finally:
            browser.close()
        feed.stop()


def desk__hangs_and_dies__said_on_the_page(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("start")
        scribe.do("many 20")
        feed = Feed(programs, db)
        browser = Browser()
        try:
            browser.open(f"{feed.url}bout/{CARD}/1")
            browser.wait(READY)
            assert not browser.value("document.querySelector('#alarms').innerText")
            scribe.do("hang")
            browser.wait("document.querySelector('#alarms').innerText.includes('does not answer')", 10)
            scribe.kill()
            browser.wait("document.querySelector('#alarms').innerText.includes('lost')", 5)
            other = Scribe(programs, db, operator="Odd Kvam", card=False)
            browser.wait("!document.querySelector('#alarms').innerText", 10)
            browser.wait("document.querySelector('#gaps').innerText.includes('strikes may be missing')")
            # A feed that stands still is no quiet round either.
            feed.process.send_signal(signal.SIGSTOP)
            browser.wait("document.body.dataset.line == 'cut'", 8)
            feed.process.send_signal(signal.SIGCONT)
            browser.wait("document.body.dataset.line == 'live'", 8)
            landed = browser.value("counts.blue.landed")
            other.do("strike blue left_hand head landed")
            browser.wait(f"document.querySelector('.row.big .blue').innerText.startsWith('{landed + 1}')")
            other.close()
            quiet(browser, feed.url)
        finally:
            browser.close()
        feed.stop()


def page__three_widths_two_schemes__fits_and_can_be_read(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("start")
        scribe.do("many 200")
        feed = Feed(programs, db)
        browser = Browser()
        try:
            for path, ready in ((f"bout/{CARD}/1", READY), ("", "document.querySelectorAll('.bouts li').length == 7"),
                                (f"bout/{CARD}/1/coach/red", "document.body.dataset.line == 'live' && !!frame.contentDocument.querySelector('h1')")):
                for scheme in ("dark", "light"):
                    for width, height in SIZES:
                        browser.open(feed.url + path, width, height, scheme)
                        browser.wait(ready)
                        wide = browser.value("document.documentElement.scrollWidth - innerWidth")
                        assert wide <= 0, (path, width, wide)
                        bad = browser.value(CONTRAST)
                        assert not bad, (path, scheme, bad[:8])
                        small = browser.value(
                            "[...document.querySelectorAll('a, button, label')].filter((e) => e.getClientRects().length"
                            " && !e.classList.contains('skip') && e.getBoundingClientRect().height < 18).length")
                        assert small == 0
            quiet(browser, feed.url)
            # The check of contrast bites.
            browser.value("(() => { const p = document.createElement('p'); p.textContent = 'faint';"
                          " p.style.color = '#888'; p.style.background = '#999';"
                          " document.querySelector('main').append(p); })()")
            assert browser.value(CONTRAST)[0].startswith("faint")
            # What a screen reader finds.
            browser.open(f"{feed.url}bout/{CARD}/1")
            browser.wait(READY)
            tree = browser.send("Accessibility.getFullAXTree")["nodes"]
            found = [(node["role"]["value"], node.get("name", {}).get("value", ""))
                     for node in tree if not node["ignored"] and "role" in node]
            roles = [role for role, _ in found]
            for role in ("banner", "main", "alert", "status", "heading", "table", "radio", "button"):
                assert role in roles, role
            assert [name for role, name in found if role == "region" and name], found
            for role, name in found:
                if role in ("image", "img", "link", "button", "radio", "table"):
                    assert name, (role, name)
            # The keyboard gets everywhere, and sees where it is.
            stops = []
            for _ in range(14):
                browser.send("Input.dispatchKeyEvent", {"type": "keyDown", "key": "Tab", "windowsVirtualKeyCode": 9})
                browser.send("Input.dispatchKeyEvent", {"type": "keyUp", "key": "Tab", "windowsVirtualKeyCode": 9})
                stops.append(browser.value("(document.activeElement.textContent || document.activeElement.value || '').trim().slice(0, 20)"))
            assert any("coach" in stop for stop in stops) and any("totals" in stop for stop in stops), stops
        finally:
            browser.close()
        scribe.close()
        feed.stop()


def sheet__does_not_come__said_while_the_totals_go_on(programs):
    """As where a browser's six connections are all taken: the stream lives, what is asked for stays away."""
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("start")
        scribe.do("many 20")
        feed = Feed(programs, db)
        browser = Browser()
        try:
            browser.open(f"{feed.url}bout/{CARD}/1")
            browser.wait(READY)
            browser.wait("document.body.dataset.part == 'new' && document.querySelector('#calls').textContent")
            browser.send("Network.setBlockedURLs", {"urls": ["*/sheet*", "*/remarks*"]})
            scribe.do("many 30")
            table = json.loads(subprocess.run([programs.ringtally, "--db", db, "counts", f"{CARD}/1", "--format", "json"],
                                              check=True, capture_output=True).stdout)
            cell = f"{table['red']['landed']}/{table['red']['attempted']}"
            browser.wait(f"document.querySelector('.rounds tbody tr:last-child').innerText.includes('{cell}')", 3)
            browser.wait("document.querySelector('#alarms').innerText.includes('older than the totals')", 6)
            browser.wait("document.querySelector('#line').textContent == 'live, in part'", 2)
            assert "repeating" in browser.value("getComputedStyle(document.querySelector('#calls').closest('section')).backgroundImage")
            browser.send("Network.setBlockedURLs", {"urls": []})
            browser.wait("!document.querySelector('#alarms').innerText && document.querySelector('#line').textContent == 'live'", 6)
            scribe.close()
        finally:
            browser.close()
        feed.stop()


def corner__nobody_tags__said_on_the_page(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        subprocess.run([programs.ringtally, "--db", db, "card", "load", programs.card], check=True, stdout=subprocess.DEVNULL)
        desk = subprocess.Popen([programs.ringtally, "--db", db, "desk", f"{CARD}/1", "--operator", "Iris Palm", "--corner", "red",
                                 "--keys", programs.source / "examples" / "bout-1.keys", "--headless", "--speed", "1"],
                                stdout=subprocess.DEVNULL)
        feed = Feed(programs, db)
        browser = Browser()
        try:
            browser.open(f"{feed.url}bout/{CARD}/1")
            browser.wait(READY)
            browser.wait("document.querySelector('#alarms').innerText.includes('BLUE is not tagged')")
            browser.wait("counts.red.attempted > 0")
            row = browser.value("document.querySelector('.row.big').innerText")
            assert "not tagged" in row and "0" not in row.split("not tagged")[1], row
            blue = browser.value("[...document.querySelectorAll('.pad.blue td:not(:first-child)')].map((td) => td.innerText)")
            assert blue and set(blue) == {"?"}, blue
        finally:
            browser.close()
            desk.terminate()
            desk.wait(20)
        feed.stop()


def record__beside_a_name_from_right_to_left__reads_right(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        subprocess.run([programs.ringtally, "--db", db, "card", "load", programs.card], check=True,
                       stdout=subprocess.DEVNULL)
        feed = Feed(programs, db)
        browser = Browser()
        try:
            browser.open(f"{feed.url}bout/{CARD}/5")
            browser.wait("document.querySelectorAll('#blue-from bdi').length == 3")
            places = browser.value("""(() => { const node = [...document.querySelectorAll('#blue-from bdi')]
              .find((b) => /^[0-9]/.test(b.textContent)).firstChild; return [...node.textContent].map((c, i) => {
              const range = document.createRange(); range.setStart(node, i); range.setEnd(node, i + 1);
              return [c, range.getBoundingClientRect().left]; }); })()""")
            assert "".join(c for c, _ in places) == "12\u20111\u20111", places
            assert [x for _, x in places] == sorted(x for _, x in places), places
            # Blue's name ends at blue's edge, red's begins at red's.
            edges = browser.value("""['red-name', 'blue-name'].map((id) => { const e = document.getElementById(id);
              const range = document.createRange(); range.selectNodeContents(e); const r = range.getBoundingClientRect();
              const box = e.parentElement.getBoundingClientRect(); return [r.left - box.left, box.right - r.right]; })""")
            assert abs(edges[0][0]) < 2 and abs(edges[1][1]) < 2, edges
            # A boxing bout has a boxing pad.
            heads = browser.value("[...document.querySelectorAll('.pad th')].map((th) => th.textContent).join()")
            assert "left hand" in heads and "leg" not in heads and "knee" not in heads, heads
        finally:
            browser.close()
        feed.stop()


# Cells of the pads whose text reaches out of them: a digit that is cut off makes another number.
CUT = """[...document.querySelectorAll('.pad td, .pad th, .panel td')].filter((cell) => {
  const range = document.createRange(); range.selectNodeContents(cell);
  const box = cell.getBoundingClientRect();
  return [...range.getClientRects()].some((r) => r.width && (r.left < box.left - 1 || r.right > box.right + 1 ||
    r.bottom > box.bottom + 1)); }).map((cell) => cell.textContent)"""


def pad__seven_columns_and_a_long_bout__no_digit_is_cut(programs):
    """Elbows make seven columns a corner; counts as a busy bout has them, and more than any."""
    strikes = "weQWiUUoIljKhaSzdfFxc,vbBnmg/"
    for times in (12, 100):
        with tempfile.TemporaryDirectory() as folder:
            db = pathlib.Path(folder, "t.db")
            keys = pathlib.Path(folder, "busy.keys")
            many = times * len(strikes)
            keys.write_text("0.5 Enter\n" + "".join(f"{1 + i * 175 / many:.3f} {strikes[i % len(strikes)]}\n"
                                                    for i in range(many)))
            subprocess.run([programs.ringtally, "--db", db, "card", "load", programs.card], check=True,
                           stdout=subprocess.DEVNULL)
            subprocess.run([programs.ringtally, "--db", db, "desk", f"{CARD}/4", "--operator", "Iris", "--keys", keys,
                            "--headless", "--speed", "max"], check=True)
            feed = Feed(programs, db)
            assert curl(f"{feed.url}v1/bouts/{CARD}/4/counts").json()["red"]["attempted"] > 10 * times
            browser = Browser()
            try:
                for path, ready in ((f"bout/{CARD}/4", f"{READY} && document.querySelectorAll('.pad td').length > 40"),
                                    (f"air/{CARD}/4/panel?old=mark", "document.querySelectorAll('.panel td').length > 40")):
                    for width, height in ((390, 844), (820, 1180), (1280, 720), (1920, 1080)):
                        browser.open(feed.url + path, width, height)
                        browser.wait(ready)
                        cut = browser.value(CUT)
                        assert not cut, (times, path, width, cut)
            finally:
                browser.close()
            feed.stop()


def remark__name_from_right_to_left__sentence_still_runs_from_left(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        card = pathlib.Path(folder, "card.ini")
        card.write_text(f"[card]\nid = {CARD}\ntitle = Night\ndate = 2026-12-05\n[bout 1]\nrules = kickboxing\n"
                        "red.name = يوسف البحراوي\nblue.name = Ada (A+B) Ott\n", encoding="utf-8")
        subprocess.run([programs.ringtally, "--db", db, "card", "load", card], check=True, stdout=subprocess.DEVNULL)
        subprocess.run([programs.ringtally, "--db", db, "desk", f"{CARD}/1", "--operator", "Iris", "--headless", "--speed", "max",
                        "--keys", programs.source / "examples" / "bout-1.keys"], check=True)
        feed = Feed(programs, db)
        browser = Browser()
        try:
            browser.open(f"{feed.url}bout/{CARD}/1")
            browser.wait("document.querySelectorAll('#calls li').length > 3")
            lines = browser.value("""[...document.querySelectorAll('#calls li')].map((li) => { const range = document.createRange();
              const walker = document.createTreeWalker(li, NodeFilter.SHOW_TEXT); const places = [];
              while (walker.nextNode()) { const node = walker.currentNode; if (node.parentElement.tagName === 'BDI') continue;
                [...node.textContent].forEach((c, i) => { range.setStart(node, i); range.setEnd(node, i + 1);
                  const r = range.getBoundingClientRect(); if (c > ' ' && c < '\u0590') places.push([c, Math.round(r.top), r.left]); }); }
              return [li.textContent, places]; })""")
            assert any("البحراوي" in text for text, _ in lines), lines
            for text, places in lines:
                for (_, top, left), (char, next_top, next_left) in zip(places, places[1:]):
                    assert next_top > top + 5 or next_left > left, (text, char)
        finally:
            browser.close()
        feed.stop()


def page__no_line_at_all__last_figures_marked_old(programs):
    """Kept on the device: the page opens without a feed, with what it last saw, and says of when that is."""
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("start")
        scribe.do("many 20")
        feed = Feed(programs, db)
        browser = Browser()
        try:
            for _ in range(2):  # the second time through the worker, which keeps the page
                browser.open(f"{feed.url}now")
                browser.wait(READY)
                browser.wait("navigator.serviceWorker.ready.then(() => !!navigator.serviceWorker.controller)")
            last = figures(browser)
            feed.stop()
            browser.open(f"{feed.url}now")
            browser.wait("document.querySelector('#alarms').innerText.includes('seen on this device')")
            assert figures(browser) == last and browser.value("document.body.dataset.line") == "cut"
            feed = Feed(programs, db, port=feed.port)
            browser.wait(READY)
            browser.wait("!document.querySelector('#alarms').innerText")
            # Another bout begins: the same address shows it.
            scribe.close()
            other = Scribe(programs, db, 3, card=False)
            other.do("start")
            browser.wait("counts && counts.bout.endsWith('/3')")
            other.close()
        finally:
            browser.close()
        feed.stop()


def card__of_forty_bouts_and_one_that_fails__all_shown(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        card = pathlib.Path(folder, "big.ini")
        card.write_text(f"[card]\nid = {CARD}\ntitle = All day\ndate = 2026-12-05\n" + "".join(
            f"[bout {n}]\nrules = kickboxing\nred.name = Red {n}\nblue.name = Blue {n}\n" for n in range(1, 41)),
            encoding="utf-8")
        subprocess.run([programs.ringtally, "--db", db, "card", "load", card], check=True, stdout=subprocess.DEVNULL)
        for number in range(1, 41):
            scribe = Scribe(programs, db, number, card=False)
            scribe.do("many 4")
            scribe.close()
        feed = Feed(programs, db)
        browser = Browser()
        try:
            browser.send("Network.setBlockedURLs", {"urls": [f"*/{CARD}/7/*"]})
            browser.open(feed.url)
            browser.wait("document.querySelectorAll('.bouts li').length == 40 && document.body.dataset.line == 'live'", 8)
            rows = browser.value("[...document.querySelectorAll('.bouts li')].map((li) => li.innerText)")
            assert [n for n, row in enumerate(rows, 1) if "no answer" in row] == [7]
            assert sum("landed" in row for row in rows) == 39
            browser.send("Network.setBlockedURLs", {"urls": []})
            browser.wait("!document.body.innerText.includes('no answer')", 8)
        finally:
            browser.close()
        feed.stop()


def names__markup_in_them__shown_as_text(programs):
    evil = "<img src=x onerror=document.title=1>"
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        card = pathlib.Path(folder, "card.ini")
        card.write_text(f"[card]\nid = {CARD}\ntitle = </script><b>Night</b>\ndate = 2026-12-05\n"
                        f"venue = \"&amp;\n[bout 1]\nrules = kickboxing\nred.name = {evil}\n"
                        "blue.name = يوسف </b><script>alert(1)</script>\n", encoding="utf-8")
        subprocess.run([programs.ringtally, "--db", db, "card", "load", card], check=True,
                       stdout=subprocess.DEVNULL)
        scribe = Scribe(programs, db, operator="<i>Iris</i>", card=False)
        scribe.do("start")
        scribe.do("many 30")
        feed = Feed(programs, db)
        browser = Browser()
        try:
            for path, ready in ((f"bout/{CARD}/1", READY), ("", "document.querySelectorAll('.bouts li').length == 1")):
                browser.open(feed.url + path)
                browser.wait(ready)
                assert evil in browser.value("document.body.innerText")
                assert browser.value("document.querySelectorAll('main img, main script, main i > *').length") == 0
                assert browser.value("document.title") != "1"
            quiet(browser, feed.url)
        finally:
            browser.close()
        scribe.close()
        feed.stop()


def tablet__one_time_link__lets_it_in_for_good(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        Scribe(programs, db).close()
        secret = pathlib.Path(folder, "token")
        secret.write_text("a-token-of-some-length\n", encoding="ascii")
        secret.chmod(0o600)
        feed = Feed(programs, db, "--token-file", str(secret))
        link = re.search(r"http\S+/enter/[0-9a-f]+", feed.said.get(timeout=10)).group()
        browser = Browser()
        try:
            browser.open(feed.url)
            browser.wait("document.body.innerText.includes('not let in')")
            browser.open(link)
            browser.wait("document.querySelectorAll('.go').length == 1")
            browser.value("document.querySelector('.go').click()")
            browser.wait("document.querySelectorAll('.bouts li').length == 7 && location.pathname == '/'")
            feed.stop(signal.SIGKILL)
            feed = Feed(programs, db, "--token-file", str(secret), port=feed.port)
            browser.open(f"{feed.url}bout/{CARD}/1")
            browser.wait("document.body.dataset.line == 'live'")
            assert curl(f"{feed.url}v1/cards").status == 401
        finally:
            browser.close()
        feed.stop()


if __name__ == "__main__":
    sys.exit(main([value for name, value in list(globals().items())
                   if "__" in name.strip("_") and callable(value)]))
