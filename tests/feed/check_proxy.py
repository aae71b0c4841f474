#!/usr/bin/python3
"""The feed behind nginx and Varnish as they come: streams pass at once, and one document a second is asked for
however many read it.

usage: check_proxy.py FEED SCRIBE RINGTALLY SOURCE_DIR [TEST...]
"""
import json
import pathlib
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

from feed_kit import CARD, Feed, Scribe, Stream, curl, main, until


def free_port():
    with socket.socket() as line:
        line.bind(("127.0.0.1", 0))
        return line.getsockname()[1]


def answers(port):
    try:
        socket.create_connection(("127.0.0.1", port), timeout=1).close()
        return True
    except OSError:
        return False


class Proxy:
    """A program of its own in front of a feed; has the port that a Stream asks for."""

    def __init__(self, words, port):
        self.port, self.url = port, f"http://127.0.0.1:{port}/"
        self.process = subprocess.Popen(words, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                                        stderr=subprocess.DEVNULL)
        until("the proxy listens", lambda: answers(port))

    def close(self):
        self.process.send_signal(signal.SIGTERM)
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


def sample(programs, name, **places):
    """A configuration as examples/ gives it, at this test's ports and folder."""
    text = (programs.source / "examples" / name).read_text(encoding="utf-8")
    for place, here in places.items():
        assert place in text, (name, place)
        text = text.replace(place, here)
    return text


def nginx(programs, folder, feed, cache):
    port = free_port()
    server = sample(programs, "nginx.conf", **{
        "/var/cache/nginx/ringtally": f"{folder}/cache", "listen 80": f"listen 127.0.0.1:{port}",
        "127.0.0.1:8080": f"127.0.0.1:{feed.port}"}) if cache else (
            f"server {{ listen 127.0.0.1:{port}; location / {{ proxy_pass http://127.0.0.1:{feed.port}; }} }}")
    pathlib.Path(folder, "nginx.conf").write_text(f"""
daemon off; master_process off; pid {folder}/nginx.pid; error_log {folder}/error.log;
events {{}}
http {{
  access_log off; client_body_temp_path {folder}/b; proxy_temp_path {folder}/p; fastcgi_temp_path {folder}/f;
  uwsgi_temp_path {folder}/u; scgi_temp_path {folder}/s;
  {server}
}}
""", encoding="ascii")
    return Proxy([shutil.which("nginx") or "/usr/sbin/nginx", "-p", folder, "-c", f"{folder}/nginx.conf"], port)


def varnish(programs, folder, feed):
    port = free_port()
    pathlib.Path(folder).chmod(0o755)  # Varnish reads it as a user of its own
    pathlib.Path(folder, "varnish.vcl").write_text(sample(programs, "varnish.vcl", **{"8080": str(feed.port)}),
                                                   encoding="ascii")
    return Proxy([shutil.which("varnishd") or "/usr/sbin/varnishd", "-F", "-n", f"{folder}/varnish", "-a", f"127.0.0.1:{port}",
                  "-f", f"{folder}/varnish.vcl", "-s", "malloc,20m", "-T", "none"], port)


def bout(programs, folder):
    db = pathlib.Path(folder, "t.db")
    scribe = Scribe(programs, db)
    scribe.do("start")
    scribe.do("many 30")
    return db, scribe


def stream__behind_nginx_as_it_comes__not_held_back(programs):
    with tempfile.TemporaryDirectory() as folder:
        db, scribe = bout(programs, folder)
        feed = Feed(programs, db)
        proxy = nginx(programs, folder, feed, cache=False)
        try:
            for path in ("", "now", "web/app.css", f"v1/bouts/{CARD}/1/sheet"):
                assert curl(proxy.url + path).status == 200, path
            stream = Stream(proxy)
            stream.wait(lambda event: event["event"] == "counts", 3)
            started = time.monotonic()
            stream.wait(lambda event: event["event"] == "beat", 4)  # a quiet bout
            assert time.monotonic() - started < 4
            late = []
            for _ in range(10):
                scribe.do("strike red left_leg leg landed")
                started, entries = time.monotonic(), scribe.entries
                stream.wait(lambda event, n=entries: event["event"] == "counts" and event["data"]["entries"] == n, 5)
                late.append(time.monotonic() - started)
            assert max(late) < 2.0, late
            print(f"strike to stream behind nginx: worst {1000 * max(late):.0f} ms")
            stream.close()
        finally:
            proxy.close()
        scribe.close()
        feed.stop()


class Relay:
    """Between a cache and the feed: counts the requests that go through."""

    def __init__(self, target):
        self.target, self.requests = target, 0
        self.door = socket.create_server(("127.0.0.1", 0))
        self.port = self.door.getsockname()[1]
        threading.Thread(target=self.serve, daemon=True).start()

    def serve(self):
        while True:
            try:
                near = self.door.accept()[0]
                far = socket.create_connection(("127.0.0.1", self.target), 5)
            except OSError:
                return
            threading.Thread(target=self.carry, args=(near, far, True), daemon=True).start()
            threading.Thread(target=self.carry, args=(far, near, False), daemon=True).start()

    def carry(self, one, other, counts):
        try:
            while data := one.recv(65536):
                self.requests += data.count(b"GET /") if counts else 0
                other.sendall(data)
        except OSError:
            pass
        for end in (one, other):
            try:
                end.shutdown(socket.SHUT_RDWR)
            except OSError:
                pass


def crowd__of_conditional_polls__costs_the_feed_one_request_a_second(programs):
    seconds = 4
    with tempfile.TemporaryDirectory() as folder:
        db, scribe = bout(programs, folder)
        feed = Feed(programs, db)
        relay = Relay(feed.port)
        for make in (lambda: nginx(programs, folder, relay, cache=True), lambda: varnish(programs, folder, relay)):
            proxy = make()
            try:
                url = f"{proxy.url}v1/bouts/{CARD}/1/counts"
                until("an answer", lambda u=url: curl(u).status == 200)
                tag = curl(url).headers["etag"]
                before, began = relay.requests, time.monotonic()
                said = subprocess.run(["wrk", "-t1", "-c64", f"-d{seconds}s", "-H", f"If-None-Match: {tag}", url],
                                      capture_output=True, check=True, text=True, timeout=60).stdout
                took, cost = time.monotonic() - began, relay.requests - before
                asked = int(re.search(r"(\d+) requests in", said).group(1))
                assert "Non-2xx" not in said and "Socket errors" not in said, said
                # A document may be kept for a second: as often it is asked for anew, however many ask.
                assert 1 <= cost <= took + 2, (asked, cost, took)
                assert asked > 100 * cost, (asked, cost)
                print(f"{asked / took:.0f} polls a second cost the feed {cost / took:.2f} requests a second")
            finally:
                proxy.close()
        relay.door.close()
        scribe.close()
        feed.stop()


def hammer(url, count, header=()):
    """Reads again and again for some seconds, in threads; how many answers came and how many the cache gave."""
    got, hits, stop = [], [], time.monotonic() + 3.0

    def read():
        while time.monotonic() < stop:
            answer = curl(url, *header)
            assert answer.status in (200, 304), answer.status
            got.append(answer.headers.get("etag"))
            cached = answer.headers.get("x-cache", "") in ("HIT", "STALE", "UPDATING", "REVALIDATED")
            hits.append(cached or len(answer.headers.get("x-varnish", "").split()) == 2)

    threads = [threading.Thread(target=read) for _ in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return len(got), sum(hits)


def caches__in_front__serve_most_and_nothing_old(programs):
    with tempfile.TemporaryDirectory() as folder:
        db, scribe = bout(programs, folder)
        feed = Feed(programs, db)
        for make in (lambda: nginx(programs, folder, feed, cache=True), lambda: varnish(programs, folder, feed)):
            proxy = make()
            try:
                url = f"{proxy.url}v1/bouts/{CARD}/1/counts"
                until("an answer", lambda u=url: curl(u).status == 200)
                asked, hits = hammer(url, 3)
                assert asked > 60 and hits > asked * 0.7, (asked, hits)
                # What changed is there within the time that was promised (a second, and one more while it is asked for).
                scribe.do("strike red left_leg leg landed")
                started, entries = time.monotonic(), scribe.entries
                until("the new figure", lambda u=url, n=entries: curl(u).json()["entries"] == n, 5)
                assert time.monotonic() - started < 4
                # Conditional requests are answered by the cache; packed and plain are kept apart.
                tag = curl(url).headers["etag"]
                answer = curl(url, "-H", f"If-None-Match: {tag}")
                assert answer.status in (200, 304)
                packed = subprocess.run(["curl", "-s", "--compressed", url], capture_output=True, check=True).stdout
                assert json.loads(packed)["bout"] == curl(url).json()["bout"] == f"{CARD}/1"
                stream = Stream(proxy)
                stream.wait(lambda event: event["event"] == "counts", 5)
                stream.wait(lambda event: event["event"] == "beat", 6)
                stream.close()
                print(f"{asked} asked in 3 s, {hits} of them by the cache")
            finally:
                proxy.close()
        # The feed is gone: a cache may still show the last, for as long as it was told to.
        scribe.close()
        feed.stop()


if __name__ == "__main__":
    sys.exit(main([value for name, value in list(globals().items())
                   if "__" in name.strip("_") and callable(value)]))
