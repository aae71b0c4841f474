"""Seeded single-line mutations of the rooms that count; see mutate.sh.

A mutation that does not compile is none. One that no test notices within the time that the tests
take unchanged, five times over, is killed too: it hangs.
"""
import os
import random
import re
import subprocess
import sys
import time

ROOMS = ["bout", "tally", "insight", "desk", "log"]
# Which tests can notice: a room's own, and those of the rooms that stand on it.
TESTS = {
    "bout": "unit/(bout|tally|insight|desk|sheet)/",
    "tally": "unit/(tally|insight|desk|sheet|log)/",
    "insight": "unit/(insight|sheet|desk)/|outside/remarks_sql",
    "desk": "unit/(desk|screen)/",
    "log": "unit/log/",
}
SWAPS = [
    (r"<=", "<"), (r">=", ">"), (r"(?<![<\-=])<(?![<=])", "<="), (r"(?<![>\-=])>(?![>=])", ">="),
    (r"==", "!="), (r"!=", "=="), (r"&&", "||"), (r"\|\|", "&&"),
    (r"(?<=\w) \+ (?=\w)", " - "), (r"(?<=\w) - (?=\w)", " + "),
    (r"\+\+", "--"), (r"\breturn true;", "return false;"), (r"\breturn false;", "return true;"),
    (r"\b0\b", "1"), (r"\b1\b", "2"), (r"\+=", "-="), (r"-=", "+="),
    (r"\bif \((?!\()", "if (!("),
]


def run(words, timeout=600):
    try:
        done = subprocess.run(words, capture_output=True, text=True, timeout=timeout)
        return done.returncode, done.stdout + done.stderr
    except subprocess.TimeoutExpired:
        return -1, "timeout"


def candidates(root):
    """(file, line, pattern, replacement) of every change that could be made."""
    found = []
    for room in ROOMS:
        for folder, _, names in os.walk(os.path.join(root, "src", room)):
            for name in sorted(names):
                if not name.endswith(".c"):
                    continue
                path = os.path.join(folder, name)
                with open(path, encoding="utf-8") as file:
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
                    for pattern, other in SWAPS:
                        if re.search(pattern, line):
                            found.append((room, path, number, pattern, other))
                    if re.fullmatch(r"\w[\w>.\-\[\]]* [+\-|&]?= .*;|\w+\(.*\);", text):
                        found.append((room, path, number, None, None))  # left out
    return found


def change(line, pattern, other):
    if pattern is None:
        return re.match(r"\s*", line).group(0) + ";"
    if other == "if (!(":
        match = re.match(r"(\s*(?:\} else )?)if \((.*)\) \{$", line)
        return f"{match.group(1)}if (!({match.group(2)})) {{" if match else line
    return re.sub(pattern, other, line, count=1)


def main():
    root, count, seed = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    build = os.path.join(root, "build-mutate")
    code, said = run(["cmake", "-S", root, "-B", build, "-G", "Ninja", "-DCMAKE_BUILD_TYPE=Debug",
                      "-DRINGTALLY_WERROR=OFF", "-DRINGTALLY_SANITIZE=address,undefined"] + sys.argv[4:])
    code = code or run(["ninja", "-C", build], 1800)[0]
    if code:
        sys.exit(f"the copy does not build:\n{said}")
    usual = {}
    for room, tests in TESTS.items():
        begun = time.monotonic()
        code, said = run(["ctest", "--test-dir", build, "-R", tests, "-j2"], 1800)
        usual[room] = time.monotonic() - begun
        if code:
            sys.exit(f"tests fail unchanged ({room}):\n{said[-2000:]}")
    chooser = random.Random(seed)
    places = candidates(root)
    chooser.shuffle(places)
    killed, survived = 0, []
    for room, path, number, pattern, other in places:
        if killed + len(survived) >= count:
            break
        with open(path, encoding="utf-8") as file:
            whole = file.read()
        lines = whole.split("\n")
        mutant = change(lines[number], pattern, other)
        if mutant == lines[number]:
            continue
        was, lines[number] = lines[number], mutant
        with open(path, "w", encoding="utf-8") as file:
            file.write("\n".join(lines))
        if run(["ninja", "-C", build], 600)[0] == 0:
            code, _ = run(["ctest", "--test-dir", build, "-R", TESTS[room], "-j2",
                           "--stop-on-failure"], 30 + 5 * usual[room])
            if code:
                killed += 1
                print(f"killed: {killed} of {killed + len(survived)}", flush=True)
            else:
                survived.append(f"{os.path.relpath(path, root)}:{number + 1}: "
                                f"{was.strip()}  ->  {mutant.strip()}")
                print(f"survived: {survived[-1]}", flush=True)
        with open(path, "w", encoding="utf-8") as file:
            file.write(whole)
    total = killed + len(survived)
    print(f"{killed} of {total} mutations killed: {100 * killed / max(total, 1):.1f} %")


main()
