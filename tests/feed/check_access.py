#!/usr/bin/python3
"""Who may read: a token for each device, taken away again; other sites' pages; heads of any size.

usage: check_access.py FEED SCRIBE RINGTALLY SOURCE_DIR [TEST...]
"""
import pathlib
import re
import subprocess
import tempfile

from check_onair import example
from feed_kit import CARD, Feed, Stream, curl, main, raw, until

TOKEN = "A-token.of_some~length"


def private(folder, name, text):
    path = pathlib.Path(folder, name)
    path.write_text(text, encoding="ascii")
    path.chmod(0o600)
    return path


def said(feed, pattern):
    """The next line that the feed says of that form."""
    while True:
        found = re.search(pattern, feed.said.get(timeout=20))
        if found:
            return found.group()


def tokens__one_a_device__taken_out_is_cut_off(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = example(programs, folder)
        tokens = private(folder, "tokens", "# devices\ngraphics a-token-for-graphics-1\ncoach   a-token-for-the-coach\n")
        feed = Feed(programs, db, "--token-file", str(private(folder, "token", TOKEN + "\n")), "--tokens", str(tokens))
        counts = f"{feed.url}v1/bouts/{CARD}/1/counts"

        def asks(token):
            return curl(counts, "-H", f"Authorization: Bearer {token}").status
        assert [asks(token) for token in (TOKEN, "a-token-for-graphics-1", "a-token-for-the-coach", "a-token-for-nobody-1")] == [200, 200, 200, 401]
        streams = {name: Stream(feed, headers=(f"Authorization: Bearer {token}",)) for name, token in
                   (("all", TOKEN), ("graphics", "a-token-for-graphics-1"), ("coach", "a-token-for-the-coach"))}
        for stream in streams.values():
            stream.wait(lambda event: event["event"] == "counts")
        # A tablet comes by its link: a name and a token of its own, which stand in the file.
        link = said(feed, r"http\S+/enter/[0-9a-f]+")
        link += "?here"
        cookie = curl(link).headers["set-cookie"].split(";")[0]
        assert TOKEN not in cookie and curl(counts, "-b", cookie).status == 200 and curl(link).status == 403
        text = tokens.read_text(encoding="ascii")
        assert f"tablet-1 {cookie.split('=')[1]}\n" in text and text.startswith("# devices\ngraphics ") and tokens.stat().st_mode & 0o77 == 0
        # One is taken out: its requests and its stream end, nobody else's.
        tokens.write_text(re.sub(r"coach .*\n", "", text), encoding="ascii")
        until("the coach cut off", lambda: asks("a-token-for-the-coach") == 401)
        until("its stream too", lambda: streams["coach"].read(0.2) is None or streams["coach"].ended)
        tokens.write_text("graphics a-token-for-graphics-1\n", encoding="ascii")
        until("the tablet cut off", lambda: curl(counts, "-b", cookie).status == 401)
        assert asks(TOKEN) == asks("a-token-for-graphics-1") == 200
        for name in ("all", "graphics"):
            streams[name].wait(lambda event: event["event"] == "beat")
            assert not streams[name].ended
        # A file that is not as it should be: said, and those read before stay.
        tokens.write_text("graphics short\n", encoding="ascii")
        said(feed, r":1: a name and a token of at least 16.*those read before stay")
        assert asks("a-token-for-graphics-1") == 200
        tokens.write_text("graphics a-token-for-graphics-2\n", encoding="ascii")
        until("a new token", lambda: asks("a-token-for-graphics-2") == 200 and asks("a-token-for-graphics-1") == 401)
        for stream in streams.values():
            stream.close()
        feed.stop()
        tokens.chmod(0o644)
        done = subprocess.run([programs.feed, "--db", str(db), "--listen", "127.0.0.1:0", "--token-file", f"{folder}/token", "--tokens", str(tokens)],
                              capture_output=True, text=True, timeout=20, check=False)
        assert done.returncode == 1 and "chmod 600" in done.stderr, done


def modules(lines):
    """The picture on the terminal as rows of 0 and 1."""
    rows = []
    for line in lines:
        cells = re.fullmatch(r"\x1b\[30;47m(.*)\x1b\[0m", line).group(1)
        rows.append([int(cell in "▀█") for cell in cells])
        rows.append([int(cell in "▄█") for cell in cells])
    return rows


def link__drawn__is_a_code_of_that_link(programs):
    """Its three finders and their timing stand where ISO/IEC 18004 has them (from memory), with a quiet zone
    of four; where a reader of such codes is installed, it reads the link."""
    with tempfile.TemporaryDirectory() as folder:
        db = example(programs, folder)
        feed = Feed(programs, db, "--token-file", str(private(folder, "token", TOKEN + "\n")), "--qr")
        link = said(feed, r"http\S+/enter/[0-9a-f]+")
        lines = []
        until("the picture", lambda: lines.extend(feed.said.get() for _ in range(feed.said.qsize())) or
              len(lines) > 10 and len(modules([line.removeprefix("ringtally: ") for line in lines])) >= len(lines[0].split("m", 1)[1].split("\x1b")[0]))
        rows = modules([line.removeprefix("ringtally: ") for line in lines])
        size = len(rows[0])
        rows = rows[:size]
        width = size - 8
        assert (width - 17) % 4 == 0 and not any(any(row) for row in rows[:4] + rows[-4:]) and not any(any(row[:4] + row[-4:]) for row in rows)
        finder = ["1111111", "1000001", "1011101", "1011101", "1011101", "1000001", "1111111"]
        for top, left in ((4, 4), (4, 4 + width - 7), (4 + width - 7, 4)):
            assert ["".join(map(str, row[left:left + 7])) for row in rows[top:top + 7]] == finder
        assert [rows[10][column] for column in range(12, 4 + width - 8)] == [(column + 1) % 2 for column in range(8, width - 8)]
        try:
            import zxingcpp  # pylint: disable=import-outside-toplevel
        except ImportError:
            pass
        else:
            import numpy  # pylint: disable=import-outside-toplevel
            picture = numpy.kron(numpy.array(rows, dtype=numpy.uint8), numpy.ones((8, 8), dtype=numpy.uint8))
            assert zxingcpp.read_barcodes(255 * (1 - picture))[0].text == link
        assert curl(link + "?here").status == 303
        feed.stop()


def origins__preflight__named_and_private(programs):
    """A graphics page of another origin, from the public net to a machine in a private one."""
    with tempfile.TemporaryDirectory() as folder:
        db = example(programs, folder)
        feed = Feed(programs, db, "--cors", "https://graphics.example,https://other.example")
        counts = f"{feed.url}v1/bouts/{CARD}/1/counts"
        ask = ("-X", "OPTIONS", "-H", "Access-Control-Request-Method: GET", "-H", "Access-Control-Request-Headers: authorization")
        asked = curl(counts, *ask, "-H", "Origin: https://graphics.example", "-H", "Access-Control-Request-Private-Network: true")
        assert asked.status == 204 and asked.body == ""
        assert asked.headers["access-control-allow-origin"] == "https://graphics.example"
        assert asked.headers["access-control-allow-private-network"] == "true"
        assert asked.headers["access-control-allow-credentials"] == "true" and "GET" in asked.headers["access-control-allow-methods"]
        assert "authorization" in asked.headers["access-control-allow-headers"].lower() and "Origin" in asked.headers["vary"]
        plain = curl(counts, *ask, "-H", "Origin: https://graphics.example")
        assert "access-control-allow-private-network" not in plain.headers
        other = curl(counts, *ask, "-H", "Origin: https://evil.example", "-H", "Access-Control-Request-Private-Network: true")
        assert "access-control-allow-origin" not in other.headers
        feed.stop()
        feed = Feed(programs, db)
        assert curl(f"{feed.url}v1/cards", *ask, "-H", "Origin: https://graphics.example").status == 405
        feed.stop()


def heads__of_any_size__answered(programs):
    """16 kB of head are read; more is answered 431 (RFC 6585), never cut off in silence."""
    with tempfile.TemporaryDirectory() as folder:
        db = example(programs, folder)
        feed = Feed(programs, db)
        for size, status in ((8000, b"200"), (16000, b"200"), (17000, b"431"), (23500, b"431"), (24000, b"431"), (24500, b"431"),
                             (31000, b"431"), (40000, b"431"), (200000, b"431")):
            got = raw(feed.port, b"GET /health HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nX: " + b"x" * size + b"\r\n\r\n")
            assert got.startswith(b"HTTP/1.1 " + status), (size, got[:80])
        feed.stop()


if __name__ == "__main__":
    raise SystemExit(main([tokens__one_a_device__taken_out_is_cut_off, link__drawn__is_a_code_of_that_link,
                           origins__preflight__named_and_private, heads__of_any_size__answered]))
