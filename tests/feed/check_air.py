#!/usr/bin/python3
"""The overlays in a real browser, pixel by pixel with their alpha: transparent but for the plate, inside the safe
area, the same picture at both sizes; nothing moves that has not changed; an old figure leaves the air.

ffmpeg unpacks the pictures. usage: check_air.py FEED SCRIBE RINGTALLY SOURCE_DIR [TEST...]
"""
import pathlib
import signal
import statistics
import subprocess
import sys
import tempfile
import time

from browser import Browser
from feed_kit import CARD, Feed, Scribe, curl, main

HD, UHD = (1920, 1080), (3840, 2160)
KINDS = ("strip", "bug", "panel", "remark")
PLATE = (12, 16, 20)  # of air.css, at 0.88
SAFE = 0.05


class Picture:
    """What a mixer gets of a browser source: RGBA, straight alpha."""

    def __init__(self, browser, folder, size):
        path = pathlib.Path(folder, "shot.png")
        browser.picture(path)
        self.width, self.height = size
        self.raw = subprocess.run(["ffmpeg", "-v", "error", "-i", str(path), "-f", "rawvideo", "-pix_fmt", "rgba", "-"],
                                  capture_output=True, check=True).stdout
        assert len(self.raw) == 4 * self.width * self.height, len(self.raw)
        self.alpha = self.raw[3::4]

    def row(self, y):
        return self.alpha[y * self.width:(y + 1) * self.width]

    def box(self):
        """Left, top, right, bottom of all that is not fully transparent; None: nothing is."""
        rows = [y for y in range(self.height) if self.row(y).strip(b"\0")]
        if not rows:
            return None
        left = min(len(self.row(y)) - len(self.row(y).lstrip(b"\0")) for y in rows)
        right = max(len(self.row(y).rstrip(b"\0")) for y in rows)
        return left, rows[0], right, rows[-1] + 1

    def pixel(self, x, y):
        at = 4 * (int(y) * self.width + int(x))
        return tuple(self.raw[at:at + 4])

    def count(self, color, near=3):
        """Pixels of about that colour that are opaque enough to have one."""
        wanted = set()
        for red in range(color[0] - near, color[0] + near + 1):
            for green in range(color[1] - near, color[1] + near + 1):
                wanted.update((red, green, blue) for blue in range(color[2] - near, color[2] + near + 1))
        raw = self.raw
        return sum((raw[i], raw[i + 1], raw[i + 2]) in wanted for i in range(0, len(raw), 4 * 7) if raw[i + 3] > 100)

    def differs(self, other):
        """The box of all pixels that are not the same; None: all are."""
        rows = [y for y in range(self.height)
                if self.raw[4 * y * self.width:4 * (y + 1) * self.width] != other.raw[4 * y * self.width:4 * (y + 1) * self.width]]
        if not rows:
            return None
        xs = [x for y in rows for x in range(self.width) if self.pixel(x, y) != other.pixel(x, y)]
        return min(xs), rows[0], max(xs) + 1, rows[-1] + 1


def on_air(browser, url, size):
    browser.open(url, *size)
    browser.send("Emulation.setDefaultBackgroundColorOverride", {"color": {"r": 0, "g": 0, "b": 0, "a": 0}})
    browser.wait("document.body.dataset.line == 'live' && !document.querySelector('#air').hidden && !!document.querySelector('.box')")
    browser.wait("getComputedStyle(document.querySelector('#air')).opacity == '1'")


def overlays__each_kind__transparent_safe_and_the_same_at_both_sizes(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("start")
        scribe.do("many 160")
        scribe.do("stop")
        feed = Feed(programs, db)
        browser = Browser()
        try:
            for kind in KINDS:
                boxes = []
                for size in (HD, UHD):
                    on_air(browser, f"{feed.url}air/{CARD}/1/{kind}", size)
                    picture = Picture(browser, folder, size)
                    left, top, right, bottom = box = picture.box()
                    width, height = size
                    assert left >= width * SAFE - 1 and right <= width * (1 - SAFE) + 1, (kind, box)
                    assert top >= height * SAFE - 1 and bottom <= height * (1 - SAFE) + 1, (kind, box)
                    # Just inside the plate's lower edge, away from its corners: the plate and nothing else.
                    red, green, blue, alpha = picture.pixel(left + 0.15 * (right - left), bottom - height * 0.004)
                    assert abs(alpha - round(0.88 * 255)) <= 1, (kind, alpha)
                    assert all(abs(a - b) <= 2 for a, b in zip((red, green, blue), PLATE)), (kind, red, green, blue)
                    levels = set(picture.alpha)
                    assert 0 in levels and 255 in levels, "holes and ink"
                    assert picture.alpha.count(0) + picture.alpha.count(round(0.88 * 255)) > 0.5 * width * height
                    boxes.append(box)
                assert all(abs(2 * small - large) <= 6 for small, large in zip(*boxes)), (kind, boxes)
            # Words choose: another place, a wider safe area.
            on_air(browser, f"{feed.url}air/now/bug?at=top-right&safe=10", HD)
            left, top, right, _ = Picture(browser, folder, HD).box()
            assert abs(right - 1920 * 0.9) <= 1 and abs(top - 1080 * 0.1) <= 1 and left > 960
            for path in ("air/now/banner", f"air/{CARD}/0/strip", f"air/{CARD}/1/strip/x", "air/now"):
                browser.open(feed.url + path)
                browser.wait("document.body.innerText.includes('nothing at this address')")
        finally:
            browser.close()
        scribe.close()
        feed.stop()


def overlay__a_strike__only_its_figure_moves(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("start")
        scribe.do("many 40")
        scribe.do("stop")
        feed = Feed(programs, db)
        browser = Browser()
        try:
            on_air(browser, f"{feed.url}air/{CARD}/1/strip?figure=landed", HD)
            before = Picture(browser, folder, HD)
            number = browser.value("document.querySelector('.red .big').textContent.match(/\\d+/)[0]")
            time.sleep(2.5)  # beats pass
            assert before.differs(Picture(browser, folder, HD)) is None, "it moves by itself"
            waits = []
            for strike in range(12):
                started = time.monotonic()
                scribe.do("strike red left_leg leg landed")
                browser.wait(f"document.querySelector('.red .big').textContent.startsWith('{int(number) + strike + 1}/')", 5)
                waits.append(time.monotonic() - started)
            changed = before.differs(Picture(browser, folder, HD))
            place = browser.value("(({left, top, right, bottom}) => [left, top, right, bottom])(document.querySelector('.red .big').getBoundingClientRect())")
            assert changed[0] >= place[0] - 2 and changed[1] >= place[1] - 2, (changed, place)
            assert changed[2] <= place[2] + 2 and changed[3] <= place[3] + 2, (changed, place)
            print(f"strike to overlay: median {1000 * statistics.median(waits):.0f} ms, worst {1000 * max(waits):.0f} ms,"
                  " the desk's commit included")
        finally:
            browser.close()
        scribe.close()
        feed.stop()


def overlay__words__figure_scope_and_bell(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("start")
        scribe.do("many 60")
        scribe.do("stop")
        feed = Feed(programs, db)
        browser = Browser()
        try:
            for scope, words, figures in (("bout", "", ("attempted", "accuracy", "head")), ("round", "?round=1", ("blocked",)),
                                          ("minute", "?last=60", ("landed", "knockdowns"))):
                for figure in figures:
                    browser.open(f"{feed.url}air/now/strip?figure={figure}&scope={scope}", *HD)
                    browser.wait("!document.querySelector('#air').hidden && !!document.querySelector('.red .big')")
                    shown = browser.value("document.querySelector('.blue .big').textContent")
                    of = curl(f"{feed.url}v1/bouts/{CARD}/1/counts{words}").json()["blue"]
                    count = of["by_target"].get(figure)
                    wanted = {"landed": f"{of['landed']}/{of['attempted']}", "accuracy": None,
                              **({figure: f"{count['landed']}/{count['attempted']}"} if count else {})}.get(
                                  figure, str(of.get(figure)))
                    if figure == "accuracy":
                        assert abs(float(shown.split("%")[0]) - 100 * of["accuracy"]) <= 0.5000001, (scope, shown)
                    else:
                        assert shown == wanted, (scope, figure, shown, wanted)
            # A panel for the bell: off while the round runs.
            browser.open(f"{feed.url}air/now/panel?show=bell", *HD)
            browser.wait("!!counts && !!pad")
            assert browser.value("document.querySelector('#air').hidden")
            browser.open(f"{feed.url}air/now/panel", *HD)
            browser.wait("!document.querySelector('#air').hidden && document.querySelectorAll('.panel td').length > 20")
        finally:
            browser.close()
        scribe.close()
        feed.stop()


def overlay__line_lost__off_the_air_or_marked(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("start")
        scribe.do("many 40")
        scribe.do("stop")
        feed = Feed(programs, db)
        browser = Browser()
        try:
            for how, words in (("stop", ""), ("kill", ""), ("stop", "?old=mark")):
                on_air(browser, f"{feed.url}air/{CARD}/1/bug{words}", HD)
                feed.process.send_signal(signal.SIGSTOP if how == "stop" else signal.SIGKILL)
                if words:
                    browser.wait("document.querySelector('#air').classList.contains('old')", 6)
                    picture = Picture(browser, folder, HD)
                    assert picture.count((255, 200, 87)) > 20, "the mark is not seen"
                    assert "not live since" in browser.value("document.querySelector('#air').innerText")
                else:
                    browser.wait("document.querySelector('#air').hidden", 6)
                    browser.wait("getComputedStyle(document.querySelector('#air')).opacity == '0'", 3)
                    assert Picture(browser, folder, HD).box() is None, "something is left on the air"
                if how == "stop":
                    feed.process.send_signal(signal.SIGCONT)
                else:
                    feed.process.wait(20)
                    feed = Feed(programs, db, port=feed.port)
                browser.wait("!document.querySelector('#air').hidden && !document.querySelector('#air').classList.contains('old')", 15)
        finally:
            browser.close()
        scribe.close()
        feed.stop()


def overlay__something_held__marked_until_released(programs):
    """A knockdown that waits: the strip has the old figure and says that something is held; its plate grows by
    that line alone. held=off: the plate as ever. Released: the figure, and the mark is gone."""
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        for command in ("start", "many 40", "strike red left_hand head landed"):
            scribe.do(command)
        feed = Feed(programs, db, "--hold", "knockdowns")
        browser = Browser()
        try:
            url = f"{feed.url}air/now/strip?figure=knockdowns"
            on_air(browser, url, HD)
            plain = Picture(browser, folder, HD).box()
            scribe.do("knockdown")
            browser.wait("!!document.querySelector('.held')")
            assert browser.value("[...document.querySelectorAll('.big')].map((big) => big.textContent)") == ["0", "0"]
            marked = Picture(browser, folder, HD).box()
            assert marked[:1] + marked[2:] == plain[:1] + plain[2:] and 15 < plain[1] - marked[1] < 60, (plain, marked)
            on_air(browser, f"{url}&held=off", HD)
            assert Picture(browser, folder, HD).box() == plain and not browser.value("document.querySelectorAll('.held').length")
            on_air(browser, url, HD)
            browser.wait("!!document.querySelector('.held')")
            subprocess.run([programs.ringtally, "--db", str(db), "release", f"{CARD}/1", "knockdowns", "--by", "P. Ducer"],
                           check=True, stdout=subprocess.DEVNULL)
            browser.wait("!document.querySelector('.held') && document.querySelector('.red .big').textContent === '1'")
            assert Picture(browser, folder, HD).box() == plain
        finally:
            browser.close()
        scribe.close()
        feed.stop()


def overlay__own_stylesheet__its_colours(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("start")
        scribe.do("many 40")
        scribe.do("stop")
        css = (programs.source / "shared" / "web" / "air.css").read_text(encoding="utf-8")
        own = pathlib.Path(folder, "own.css")
        own.write_text(css.replace("rgba(12, 16, 20, 0.88)", "rgba(90, 0, 120, 0.5)"), encoding="utf-8")
        feed = Feed(programs, db, "--air-css", str(own))
        browser = Browser()
        try:
            on_air(browser, f"{feed.url}air/now/strip", HD)
            picture = Picture(browser, folder, HD)
            left, _, right, bottom = picture.box()
            pixel = picture.pixel((left + right) / 2, bottom - 4)
            assert all(abs(a - b) <= 2 for a, b in zip(pixel, (90, 0, 120, 128))), pixel
        finally:
            browser.close()
        scribe.close()
        feed.stop()


if __name__ == "__main__":
    sys.exit(main([value for name, value in list(globals().items())
                   if "__" in name.strip("_") and callable(value)]))
