"""Seeded single-line mutations of the rooms that count; see mutate.sh.

A mutant is built by compiling one file and linking its room's shared library once. It is given to
the unit tests of its room and of the rooms above, those first that noticed most in the least time.
What survives is given to the room's own tests under the sanitizers, then to those that take long. A mutant that does not compile is none. One that needs many times the usual time hangs:
that is noticed too.
"""
import collections
import hashlib
import json
import os
import re
import resource
import signal
import subprocess
import sys
import time

ROOMS = ["bout", "tally", "insight", "desk", "log"]
UNIT_ROOMS = ROOMS + ["sheet", "screen"]
# Which tests can notice a room: its own unit tests and those of the rooms that stand on it.
UNITS = {
    "bout": "unit/(bout|tally|insight|desk|sheet)/",
    "tally": "unit/(tally|insight|desk|sheet)/",
    "insight": "unit/(insight|sheet|desk)/",
    "desk": "unit/(desk|screen)/",
    "log": "unit/log/",
}
# And of what takes long: what runs the real program, or proves by other means.
PROGRAM = {
    "bout": "unit/log/views$|outside/(card|log|officials|binary|history|coverage)$",
    "tally": "unit/log/views$|"
             "outside/(log|two|officials|binary|history|coverage|.*_sql)$",
    "insight": "outside/(agree|remarks|remarks_sql|facts_sql)$",
    "desk": "screen/(form|officials|tagging|clock|terminals)$",
    "log": "outside/(log|two|guards|history)$|fault/fault_",
}
SWAPS = [
    (r"<=", "<"), (r">=", ">"), (r"(?<![<\-=])<(?![<=])", "<="), (r"(?<![>\-=])>(?![>=])", ">="),
    (r"==", "!="), (r"!=", "=="), (r"&&", "||"), (r"\|\|", "&&"),
    (r"(?<=\w) \+ (?=\w)", " - "), (r"(?<=\w) - (?=\w)", " + "),
    (r"\+\+", "--"), (r"\breturn true;", "return false;"), (r"\breturn false;", "return true;"),
    (r"\b0\b", "1"), (r"\b1\b", "2"), (r"\+=", "-="), (r"-=", "+="),
]
CONDITION = re.compile(r"(\s*(?:\} else )?)if \((.*)\) \{$")
STATEMENT = re.compile(r"(\s*)(?:[\w*][\w>.\-\[\]]* [+\-|&]?= .*;|\w+\(.*\);)")

Mutant = collections.namedtuple("Mutant", "room path number was now")
Test = collections.namedtuple("Test", "name words folder environment")


def limit():
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    resource.setrlimit(resource.RLIMIT_FSIZE, (1 << 30, 1 << 30))


def run(words, timeout, folder=None, environment=None):
    """What it returned, or None where it took too long; and what it said."""
    with subprocess.Popen(words, cwd=folder, env=environment, stdin=subprocess.DEVNULL,
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT, preexec_fn=limit,
                          start_new_session=True, text=True, errors="replace") as child:
        try:
            said, _ = child.communicate(timeout=timeout)
            return child.returncode, said
        except subprocess.TimeoutExpired:
            os.killpg(child.pid, signal.SIGKILL)
            child.communicate()
            return None, "timeout"


def mutants_of(room, path, root):
    with open(os.path.join(root, path), encoding="utf-8") as file:
        lines = file.read().split("\n")
    comment = False
    for number, line in enumerate(lines):
        text = line.strip()
        comment = comment or text.startswith("/*")
        skip = comment or text.startswith(("#", "static const", "//")) or '"' in line
        if "*/" in text:
            comment = False
        if skip or not line.startswith("    "):
            continue
        changed = [line[:m.start()] + other + line[m.end():]
                   for pattern, other in SWAPS for m in re.finditer(pattern, line)]
        condition = CONDITION.match(line)
        if condition:
            changed.append(f"{condition.group(1)}if (!({condition.group(2)})) {{")
        statement = STATEMENT.fullmatch(line)
        if statement:
            changed.append(statement.group(1) + ";")
        for other in changed:
            yield Mutant(room, path, number, line, other)


def mutants(root, seed):
    """All of them, in the seed's order: one that stays when others come and go keeps its place."""
    found = []
    for room in ROOMS:
        for folder, _, names in os.walk(os.path.join(root, "src", room)):
            for name in sorted(names):
                if name.endswith(".c"):
                    path = os.path.relpath(os.path.join(folder, name), root)
                    found += mutants_of(room, path, root)
    return sorted(found, key=lambda m: hashlib.sha256(
        f"{seed} {m.path} {m.was} {m.now}".encode()).digest())


def told(mutant):
    return f"{mutant.path}:{mutant.number + 1}: {mutant.was.strip()}  ->  {mutant.now.strip()}"


def without_line(text):
    return re.sub(r"^.*?(src/\S+):\d+: ", r"\1 ", text.strip())


class Build:
    """One build of the copy, its tests, and how long each takes unchanged."""

    def __init__(self, root, name, patience, *options):
        self.patience = patience  # seconds that a test may take
        self.folder = os.path.join(root, name)
        self.usual = {}
        self.kills = collections.Counter()
        code, said = run(["cmake", "-S", root, "-B", self.folder, "-G", "Ninja",
                          "-DCMAKE_BUILD_TYPE=Debug", "-DRINGTALLY_WERROR=OFF",
                          "-DBUILD_SHARED_LIBS=ON", "-DCMAKE_LINK_DEPENDS_NO_SHARED=ON",
                          *options], 600)
        if code:
            sys.exit(f"the copy cannot be configured:\n{said}")
        units = [t["name"].split("/", 1)[1].replace("/", "_")
                 for t in self.listed() if t["name"].startswith("unit/")]
        self.make([f"tests/unit_{name}" for name in units if name.split("_")[0] in UNIT_ROOMS])

    def listed(self):
        return json.loads(run(["ctest", "--test-dir", self.folder, "--show-only=json-v1"], 60)[1])[
            "tests"]

    def make(self, targets):
        """Builds them and takes up what tests there are now; ctest tells no command before that."""
        code, said = run(["ninja", "-C", self.folder, *targets], 3600)
        if code:
            sys.exit(f"the copy does not build:\n{said}")
        self.tests = []
        for test in self.listed():
            properties = {p["name"]: p["value"] for p in test["properties"]}
            environment = dict(os.environ, MALLOC_PERTURB_="165")
            environment.update(e.split("=", 1) for e in properties.get("ENVIRONMENT", []))
            if "command" in test:
                self.tests.append(Test(test["name"], test["command"],
                                       properties["WORKING_DIRECTORY"], environment))

    def room(self, room):
        return run(["ninja", "-C", self.folder, f"rt_{room}"], 600)[0] == 0

    def measure(self, pattern):
        """The tests of that pattern; what fails or is too slow unchanged is not asked."""
        for test in self.tests:
            if re.match(pattern, test.name) and test.name not in self.usual:
                begun = time.monotonic()
                code, _ = run(test.words, self.patience, test.folder, test.environment)
                self.usual[test.name] = time.monotonic() - begun if code == 0 else None
                if code != 0:
                    print(f"{test.name} does not pass in {self.patience} s unchanged: not asked")
        return [t for t in self.tests if re.match(pattern, t.name) and self.usual[t.name]]

    def fails(self, test):
        return run(test.words, 5 + 6 * self.usual[test.name], test.folder, test.environment)[0] != 0

    def noticed_by(self, mutant, pattern):
        """The name of the first test that fails. A slow one has to fail twice: it may be the load."""
        stem = os.path.splitext(os.path.basename(mutant.path))[0].split("_")[0]

        def worth(test):
            likely = 5 * test.name.split("/")[-1].startswith(stem)
            likely += 3 * self.kills[test.name, mutant.path] + self.kills[test.name, mutant.room]
            return -(likely + 0.2) / (self.usual[test.name] + 0.05)

        for test in sorted(self.measure(pattern), key=worth):
            if self.fails(test) and (self.usual[test.name] < 0.5 or self.fails(test)):
                self.kills[test.name, mutant.path] += 1
                self.kills[test.name, mutant.room] += 1
                return test.name
        return None


class Copy:
    """The sources, in which one line at a time is changed."""

    def __init__(self, root):
        self.root = root

    def noticed_by(self, mutant, build, pattern):
        """The test that notices, None if none does, False where it does not compile."""
        build.measure(pattern)  # before anything is changed
        path = os.path.join(self.root, mutant.path)
        with open(path, encoding="utf-8") as file:
            whole = file.read()
        lines = whole.split("\n")
        lines[mutant.number] = mutant.now
        try:
            with open(path, "w", encoding="utf-8") as file:
                file.write("\n".join(lines))
            return build.room(mutant.room) and build.noticed_by(mutant, pattern)
        finally:
            with open(path, "w", encoding="utf-8") as file:
                file.write(whole)
            build.room(mutant.room)


def sample(copy, build, places, count):
    """Which of the first so many that compile no unit test notices, and how many were tried."""
    tried, survived = collections.Counter(), []
    for mutant in places:
        if sum(tried.values()) >= count:
            break
        begun = time.monotonic()
        name = copy.noticed_by(mutant, build, UNITS[mutant.room])
        if name is False:
            continue
        tried[mutant.room] += 1
        if name is None:
            survived.append(mutant)
        print(f"{sum(tried.values()) - len(survived)} of {sum(tried.values())} "
              f"({time.monotonic() - begun:.0f} s): {name or 'not yet'}: {told(mutant)}", flush=True)
    return tried, survived


def sift(copy, build, survived, patterns):
    left = []
    for mutant in survived:
        name = copy.noticed_by(mutant, build, patterns[mutant.room])
        print(f"{name or 'not yet'}: {told(mutant)}", flush=True)
        left += [] if name else [mutant]
    return left


def main():
    root, count, seed, report = sys.argv[1], int(sys.argv[2]), sys.argv[3], sys.argv[4]
    places = mutants(root, seed)
    print(f"{len(places)} changes are possible; seed {seed}", flush=True)
    if report:
        with open(report, encoding="utf-8") as file:
            again = {without_line(line) for line in file.read().split("Survived")[-1].split("\n")}
        places = [m for m in places if without_line(told(m)) in again]
    copy = Copy(root)
    plain = Build(root, "build-plain", 90, "-DCMAKE_C_FLAGS=-ftrivial-auto-var-init=pattern")
    tried, survived = sample(copy, plain, places, count)
    if survived:
        print("\nThe room's own tests, with sanitizers", flush=True)
        checked = Build(root, "build-checked", 8, "-DRINGTALLY_SANITIZE=address,undefined")
        survived = sift(copy, checked, survived, {room: f"unit/{room}/" for room in ROOMS})
        print("\nTests that take long", flush=True)
        plain.make([])
        survived = sift(copy, plain, survived, PROGRAM)
    print("\nSurvived")
    for mutant in sorted(survived):
        print(told(mutant))
    print("\n| room | killed | of | |\n|---|---|---|---|")
    alive = collections.Counter(mutant.room for mutant in survived)
    for room in ROOMS:
        if tried[room]:
            print(f"| {room} | {tried[room] - alive[room]} | {tried[room]} | "
                  f"{100 - 100 * alive[room] / tried[room]:.1f} % |")
    total = max(sum(tried.values()), 1)
    print(f"| all | {total - len(survived)} | {total} | {100 - 100 * len(survived) / total:.1f} % |")


main()
