#!/usr/bin/env python3
"""The marks as WebVTT in a real browser's track element (HTML's text track API, from memory): every cue is read, at the times that the JSON says.

usage: check_track.py EXAMPLES RINGTALLY"""
import functools
import html
import http.server
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import threading

EXAMPLES, PROGRAM = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
PAGE = """<!doctype html><meta charset=utf-8><title>track</title>
<video><track id=t kind=metadata src=marks.vtt default></video><pre id=out>waiting</pre><script>
const track = document.getElementById("t");
const tell = () => {
  const cues = [...track.track.cues].map(c => [c.id, Math.round(c.startTime * 1000), Math.round(c.endTime * 1000)]);
  document.getElementById("out").textContent = JSON.stringify(cues);
};
track.addEventListener("load", tell);
track.addEventListener("error", () => { document.getElementById("out").textContent = "error"; });
track.track.mode = "hidden";
</script>"""


class Quiet(http.server.SimpleHTTPRequestHandler):
    extensions_map = {".vtt": "text/vtt", ".html": "text/html"}

    def log_message(self, *_):
        pass


def run(*words):
    return subprocess.run([PROGRAM, *words], check=True, capture_output=True, text=True, timeout=120).stdout


def main():
    browser = shutil.which("chromium")
    if not browser:
        sys.exit("chromium is needed: tests/run.sh installs it")
    with tempfile.TemporaryDirectory() as folder:
        os.environ["RINGTALLY_DB"] = os.path.join(folder, "t.db")
        run("card", "load", os.path.join(EXAMPLES, "card.ini"))
        run("desk", "1", "--keys", os.path.join(EXAMPLES, "bout-1.keys"), "--speed", "max", "--headless")
        site = os.path.join(folder, "site")
        os.mkdir(site)
        run("marks", "1", "--format", "webvtt", "--start", "00:00:10:00", "-o", os.path.join(site, "marks.vtt"))
        marks = json.loads(run("marks", "1", "--format", "json", "--start", "00:00:10:00"))["marks"]
        with open(os.path.join(site, "page.html"), "w", encoding="utf-8") as file:
            file.write(PAGE)
        server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Quiet, directory=site))
        threading.Thread(target=server.serve_forever, daemon=True).start()
        dom = subprocess.run(
            [browser, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
             "--disable-background-networking", "--disable-component-update", "--disable-sync",
             f"--user-data-dir={folder}/profile", "--virtual-time-budget=10000", "--dump-dom",
             f"http://127.0.0.1:{server.server_port}/page.html"],
            capture_output=True, text=True, timeout=120).stdout
        server.shutdown()
    told = html.unescape(re.search(r'<pre id="out">(.*?)</pre>', dom, re.S).group(1))
    cues = json.loads(told)
    assert len(cues) == len(marks) > 5, (len(cues), len(marks))
    assert len({cue[0] for cue in cues}) == len(cues), "identifiers are unique"
    starts = [cue[1] for cue in cues]
    assert starts == sorted(starts) and all(start < end for _, start, end in cues)
    print(f"a browser read {len(cues)} cues")


main()
