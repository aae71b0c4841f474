"""PostgreSQL clusters of our own for the tests of the hub, and the programs on them."""
import contextlib
import os
import pathlib
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "outside"))

DEADLINE = 60


def find_bin():
    """Where the server's own programs are: Debian keeps them out of PATH."""
    for folder in sorted(pathlib.Path("/usr/lib/postgresql").glob("*/bin"), reverse=True):
        if (folder / "initdb").exists():
            return folder
    raise SystemExit("PostgreSQL's server is not installed")


BIN = find_bin()
# A server does not run as root.
USER = pwd.getpwnam("postgres") if os.getuid() == 0 else None


def until(what, ready, seconds=DEADLINE):
    """Polls until ready() gives something true, and returns that. `what`: a text, or what makes one."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = ready()
        if found:
            return found
        time.sleep(0.02)
    raise AssertionError(f"in vain: {what() if callable(what) else what}")


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Yard:
    """A folder that the server's user may enter, and all that was started in it."""

    def __init__(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="hub-", dir="/tmp"))
        if USER:
            os.chown(self.folder, USER.pw_uid, USER.pw_gid)
        os.chmod(self.folder, 0o755)
        self.clusters = []

    def __enter__(self):
        return self

    def __exit__(self, *_):
        for cluster in self.clusters:
            cluster.stop()
        shutil.rmtree(self.folder, ignore_errors=True)

    def cluster(self, name="main", source=None, lines=()):
        made = Cluster(self, name, source, lines)
        self.clusters.append(made)
        return made


def as_server(words, **more):
    """Runs as the user that owns the cluster."""
    if USER:
        more |= {"user": USER.pw_uid, "group": USER.pw_gid, "extra_groups": []}
    return subprocess.run(words, check=True, cwd="/", capture_output=True, timeout=DEADLINE, **more)


def make_cluster(folder):
    """An empty cluster: a copy of the one that the build keeps (make_cluster.py), else from nothing."""
    kept = os.environ.get("RINGTALLY_CLUSTER")
    if kept:
        subprocess.run(["cp", "-a", kept, folder], check=True, timeout=DEADLINE)
    else:
        as_server([BIN / "initdb", "-D", folder, "-U", "hub", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8",
                   "-N"])


class Cluster:
    """One server on a Unix socket, and on a port of 127.0.0.1. Nothing survives a power cut here:
    what is tested are processes that die."""

    def __init__(self, yard, name, source, lines):
        self.folder = yard.folder / name
        self.sockets = yard.folder
        self.port = free_port()
        self.process = None
        if source:
            as_server([BIN / "pg_basebackup", "-D", self.folder, "-R", "-X", "stream", "-c", "fast",
                       "-N", "-d", source.uri("postgres")])
        else:
            make_cluster(self.folder)
        with open(self.folder / "postgresql.conf", "a", encoding="utf-8") as conf:
            conf.write("\n".join((f"port = {self.port}", f"unix_socket_directories = '{self.sockets}'",
                                  "listen_addresses = '127.0.0.1'", "fsync = off",
                                  "shared_buffers = 16MB", "max_connections = 80",
                                  "log_min_messages = fatal", "jit = off",
                                  "wal_retrieve_retry_interval = 100ms", *lines)) + "\n")
        self.start()

    def start(self):
        more = {"user": USER.pw_uid, "group": USER.pw_gid, "extra_groups": []} if USER else {}
        self.log = open(self.sockets / f"{self.folder.name}.log", "ab")
        self.process = subprocess.Popen([BIN / "postgres", "-D", self.folder], cwd="/",
                                        stdout=self.log, stderr=self.log, **more)
        until("the server is ready", self.ready)

    def ready(self):
        assert self.process.poll() is None, (self.sockets / f"{self.folder.name}.log").read_text()
        return subprocess.run([BIN / "pg_isready", "-q", "-h", self.sockets, "-p", str(self.port)],
                              timeout=DEADLINE).returncode == 0

    def stop(self, how=signal.SIGINT):
        """SIGINT ends it at once but in order, SIGKILL as a power cut of the machine would."""
        if self.process and self.process.poll() is None:
            if how == signal.SIGKILL:  # and its children, which would finish what they are at
                for pid in [self.process.pid, *self.children()]:
                    self.tell(pid, signal.SIGKILL)
            else:
                self.process.send_signal(how)
            self.process.wait(DEADLINE)
        self.log.close()

    @contextlib.contextmanager
    def stalled(self):
        """None of its processes runs meanwhile: connections stay, nothing is answered."""
        pids = [self.process.pid]
        self.process.send_signal(signal.SIGSTOP)  # from here on it has no new ones
        try:
            for pid in self.children():
                pids.append(pid)
                self.tell(pid, signal.SIGSTOP)
            yield
        finally:
            for pid in pids:
                self.tell(pid, signal.SIGCONT)

    @staticmethod
    def tell(pid, number):
        try:
            os.kill(pid, number)
        except ProcessLookupError:  # a backend whose client left
            pass

    def children(self):
        return [int(pid) for pid in subprocess.run(["pgrep", "-P", str(self.process.pid)], capture_output=True,
                                                   text=True).stdout.split()]

    def promote(self):
        self.sql("SELECT pg_promote()")

    def uri(self, database="league", user="hub", tcp=False):
        host = "127.0.0.1" if tcp else self.sockets
        return f"host={host} port={self.port} dbname={database} user={user}"

    def sql(self, text, database="league", user="hub", code=0):
        done = subprocess.run([BIN / "psql", "-XqAt", "-v", "ON_ERROR_STOP=1", "-d",
                               self.uri(database, user), "-c", text],
                              capture_output=True, text=True, timeout=DEADLINE)
        assert (done.returncode == 0) == (code == 0), (text, done.stderr)
        return done.stderr if code else done.stdout.strip()

    def create(self, database="league"):
        self.sql(f"CREATE DATABASE {database}", "postgres")


class Line:
    """A network between a hall and a port, which can be cut: connections end, or nothing comes
    through any more and nobody is told."""

    def __init__(self, target):
        self.target, self.state = target, "open"
        self.pairs = []
        self.door = socket.create_server(("127.0.0.1", 0))
        self.port = self.door.getsockname()[1]
        threading.Thread(target=self.serve, daemon=True).start()

    def serve(self):
        while True:
            try:
                near, _ = self.door.accept()
            except OSError:
                return
            if self.state == "closed":
                near.close()
                continue
            try:
                far = socket.create_connection(("127.0.0.1", self.target), 5)
            except OSError:
                near.close()
                continue
            self.pairs.append((near, far))
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=self.carry, args=(one, other), daemon=True).start()

    def carry(self, one, other):
        try:
            while data := one.recv(65536):
                while self.state == "dead":
                    time.sleep(0.02)
                other.sendall(data)
        except OSError:
            pass
        for end in (one, other):
            try:
                end.shutdown(socket.SHUT_RDWR)
            except OSError:
                pass

    def cut(self, state="closed"):
        self.state = state
        if state == "closed":
            for pair in self.pairs:
                for end in pair:
                    try:
                        end.shutdown(socket.SHUT_RDWR)
                    except OSError:
                        pass
            self.pairs.clear()

    def end(self):
        """As a port where nobody listens any more."""
        self.door.shutdown(socket.SHUT_RDWR)
        self.door.close()
        self.cut()

    def mend(self):
        self.state = "open"


class Desk:
    """A desk without a console, which writes what it is told."""

    def __init__(self, scribe, database, bout, operator):
        self.process = subprocess.Popen([scribe, database, bout, operator], text=True,
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        assert self.process.stdout.readline() == "ready\n"

    def tell(self, line):
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()
        answer = self.process.stdout.readline()
        assert answer.startswith("ok"), (line, answer)

    def close(self):
        self.process.stdin.close()
        self.process.wait(DEADLINE)

    def kill(self):
        self.process.kill()
        self.process.wait(DEADLINE)


class Hall:
    """A local database and the program on it; `follow` beside it, if it was begun."""

    def __init__(self, program, database, environment=None):
        self.program, self.database = program, pathlib.Path(database)
        self.environment = {**os.environ, **(environment or {})}
        self.follower = None
        self.said = pathlib.Path(f"{database}.said")

    def ask(self, *words, code=0):
        """Without a database of its own."""
        return self.run(*words, code=code, database=())

    def run(self, *words, code=0, database=None):
        where = ("--db", self.database) if database is None else database
        done = subprocess.run([self.program, *where, *words], capture_output=True,
                              timeout=DEADLINE, env=self.environment)
        assert done.returncode == code, (words, done.returncode, done.stderr.decode())
        return (done.stderr if code else done.stdout).decode()

    def load(self, text):
        path = self.database.with_suffix(".jsonl")
        path.write_text(text, encoding="utf-8")
        return self.run("import-log", path)

    def follow(self, uri, *words):
        self.follower = subprocess.Popen([self.program, "--db", self.database, "hub", "follow", uri,
                                          *words], stderr=open(self.said, "ab"),
                                         env=self.environment)

    def kill(self):
        if self.follower:
            self.follower.kill()
            self.follower.wait(DEADLINE)
            self.follower = None

    def status(self, uri, *words):
        import json
        return json.loads(self.run("hub", "status", uri, "--format", "json", *words))
