#!/usr/bin/python3
"""Every response, whatever is asked: hypothesis makes up routes, words, methods and headers out of what
openapi.json describes and out of what it does not, and each answer must be one that it describes.

usage: check_answers.py FEED SCRIBE RINGTALLY SOURCE_DIR [TEST...]
"""
import functools
import json
import pathlib
import re
import socket
import tempfile

import hypothesis
from hypothesis import strategies as st

from check_feed import BASE, schemas, validate
from check_onair import example, run
from feed_kit import CARD, Feed, main

EXAMPLES = 250
SETTINGS = hypothesis.settings(max_examples=EXAMPLES, deadline=None, derandomize=True, database=None,
                               suppress_health_check=list(hypothesis.HealthCheck))


class Line:
    """One connection that is kept, asked one thing after the other; opened again where the feed closes it."""

    def __init__(self, feed):
        self.feed, self.socket, self.pending = feed, None, b""

    def _fill(self):
        piece = self.socket.recv(65536)
        if not piece:
            raise ConnectionError("closed")
        self.pending += piece

    def ask(self, method, target, headers):
        """Status, headers and body. A stream is read for its head alone."""
        if self.socket is None:
            self.socket, self.pending = socket.create_connection(("127.0.0.1", self.feed.port), timeout=20), b""
        lines = [f"{method} {target} HTTP/1.1", "Host: localhost", *(f"{name}: {value}" for name, value in headers)]
        self.socket.sendall(("\r\n".join(lines) + "\r\n\r\n").encode("latin-1"))
        while b"\r\n\r\n" not in self.pending:
            self._fill()
        head, self.pending = self.pending.split(b"\r\n\r\n", 1)
        first, *rest = head.decode("latin-1").split("\r\n")
        status = int(first.split()[1])
        told = {name.lower(): value.strip() for name, _, value in (line.partition(":") for line in rest)}
        length = int(told.get("content-length", 0))
        if told.get("content-type") == "text/event-stream" or told.get("connection") == "close":
            while told.get("connection") == "close" and len(self.pending) < length and method != "HEAD":
                self._fill()
            body, self.pending = self.pending[:length], b""
            self.socket.close()
            self.socket = None
            return status, told, body
        if method == "HEAD" or status == 304:
            return status, told, b""
        while len(self.pending) < length:
            self._fill()
        body, self.pending = self.pending[:length], self.pending[length:]
        return status, told, body


def described(source):
    """openapi.json's paths as patterns, each with what GET may answer."""
    document = json.loads((pathlib.Path(source) / "schema" / "openapi.json").read_text(encoding="utf-8"))
    return [(re.compile(re.sub(r"\{\w+\}", "[^/]+", path)), path, item["get"]["responses"])
            for path, item in document["paths"].items() if "get" in item]


def schema_of(path, responses, status):
    """The address of the schema of that JSON response, or None."""
    if "schema" not in responses.get(str(status), {}).get("content", {}).get("application/json", {}):
        return None
    name = path.replace("~", "~0").replace("/", "~1").replace("{", "%7B").replace("}", "%7D")
    return f"{BASE}openapi.json#/paths/{name}/get/responses/{status}/content/application~1json/schema"


# What stands in a path or in a word: what there is, what nearly is, and anything at all.
NUMBERS = st.one_of(st.sampled_from(["1", "2", "7", "8", "0", "01", "999", "1000", "-1", "1.5", "", "x", "1%00", "%31"]),
                    st.integers(-5, 10**12).map(str))
ODD = st.text(st.characters(min_codepoint=0x21, max_codepoint=0x7e, blacklist_characters=" #?"), max_size=30)
CARDS = st.one_of(st.sampled_from([CARD, CARD.upper(), "nothing", "..", ".", "%2e%2e", "a" * 47, "a" * 48, "a" * 300]), ODD)
WHATS = st.one_of(st.sampled_from(["counts", "headline", "sheet", "remarks", "log", "events", "coach/red", "coach/blue",
                                   "coach/green", "Counts", "counts/", "counts/red"]), ODD)
PATHS = st.one_of(
    st.builds("/v1/bouts/{}/{}/{}".format, CARDS, NUMBERS, WHATS), st.builds("/v1/bouts/{}/1/{}".format, st.just(CARD), WHATS),
    st.builds("/v1/now/{}".format, WHATS), st.builds("/bout/{}/{}".format, CARDS, NUMBERS), st.builds("/air/now/{}".format, WHATS),
    st.sampled_from(["/", "/now", "/health", "/v1/cards", "/v1/openapi.json", "/v1/counts.schema.json", "/web/bout.js", "/sw.js", "/coach/red",
                     "/enter/0", "/v1", "/v1/", "//v1/cards", "/web/../health", "/v1/bouts"]),
    ODD.map(lambda text: "/" + text))
QUERIES = st.lists(st.one_of(
    st.builds("round={}".format, NUMBERS), st.builds("last={}".format, NUMBERS), st.builds("after={}".format, st.one_of(NUMBERS, ODD)),
    st.builds("since={}".format, st.one_of(st.sampled_from(["bell", "knockdown", "R2", "R2,1:30", "R99", "R2,99:99", "2026-12-05T20:15:30Z", "0" * 40]), ODD)),
    ODD), max_size=3).map(lambda words: "?" + "&".join(words) if words else "")
HEADERS = st.lists(st.tuples(
    st.sampled_from(["Accept", "Accept-Encoding", "If-None-Match", "Last-Event-ID", "Origin", "Range", "Authorization", "Cookie", "X-Odd"]),
    st.one_of(st.sampled_from(["*/*", "text/html", "gzip", "gzip;q=0", "*", '"0"', "W/\"0\", \"1\"", "0", "1.000000000000-1", "~", "bytes=0-1", "Bearer x"]),
              st.text(st.characters(min_codepoint=0x21, max_codepoint=0x7e), max_size=40))), max_size=3)
METHODS = st.one_of(st.sampled_from(["GET"] * 6 + ["HEAD", "HEAD", "POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"]))


def check(programs, store, patterns, line, method, path, query, headers):
    status, told, body = line.ask(method, path + query, headers)
    where = (method, path + query, headers, status, body[:200])
    assert status < 500, where
    if method not in ("GET", "HEAD"):
        assert status in (400, 405, 501), where
        return
    assert told["x-content-type-options"] == "nosniff" and "content-security-policy" in told and "cache-control" in told, where
    if status == 303:
        assert told["location"].startswith("/"), where
    if status in (303, 304) or method == "HEAD":
        return
    match = next(((name, responses) for pattern, name, responses in patterns if pattern.fullmatch(path)), None)
    if told["content-type"].startswith("application/json") and told.get("content-encoding") is None:
        document = json.loads(body, parse_constant=lambda name: 1 / 0)
        if status >= 400:
            assert list(document) == ["error"] and isinstance(document["error"], str) and document["error"], where
        elif match:
            wanted = schema_of(match[0], match[1], status)
            assert wanted, where
            validate(store, wanted, document)
    elif status >= 400:
        assert told["content-type"].startswith("text/html"), where
    if match and not path.startswith("/web/"):
        assert str(status) in match[1] or status in (400, 404), where


def answers__whatever_is_asked__described(programs):
    store, patterns = schemas(programs), described(programs.source)
    with tempfile.TemporaryDirectory() as folder:
        db = example(programs, folder)
        run(programs, db, "release", f"{CARD}/1", "knockdowns", "--by", "P. Ducer")
        for options in ((), ("--hold", "all", "--delay", "0.2", "--cors", "https://graphics.example")):
            feed = Feed(programs, db, *options)
            line = Line(feed)
            asks = functools.partial(check, programs, store, patterns, line)

            @SETTINGS
            @hypothesis.given(METHODS.filter(lambda name, cors=bool(options): not (cors and name == "OPTIONS")), PATHS, QUERIES, HEADERS)
            def ask(method, path, query, headers):
                asks(method, path, query, headers)  # pylint: disable=cell-var-from-loop
            ask()
            assert line.ask("GET", "/health", [])[0] == 200
            feed.stop()


if __name__ == "__main__":
    raise SystemExit(main([answers__whatever_is_asked__described]))
