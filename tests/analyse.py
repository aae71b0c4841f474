"""Runs the analysers and weighs what they say; see analyse.sh.

usage: analyse.py BUILD [tidy|cppcheck|gcc]... [FILE...]
"""
import concurrent.futures
import glob
import json
import os
import re
import shlex
import subprocess
import sys
import tempfile

SUPPRESS = "tests/analyse.suppress"
FINDING = re.compile(r"^(?P<path>\S+?):(?P<line>\d+):(?P<column>\d+): (?P<grade>warning|error|"
                     r"fatal error|performance|portability|style): (?P<text>.*?)"
                     r"(?: \[(?P<check>[\w.,=-]+)\])?$")
CPPCHECK = ["cppcheck", "--std=c11", "--library=posix", "--quiet", "--enable=warning,performance,portability",
            "--template={file}:{line}:{column}: {severity}: {message} [{id}]"]
# An analyser that does not see this does not look.
PLANTED = """#include <stdlib.h>
int planted(char *at);
int planted(char *at)
{
    int few[2] = {1, 2};
    free(at);
    return at[1] + few[2];
}
"""


def flags_of(build):
    """What the compiler is told of each file: definitions, folders, the standard."""
    flags = {}
    with open(os.path.join(build, "compile_commands.json"), encoding="utf-8") as file:
        for entry in json.load(file):
            words = shlex.split(entry["command"])
            path = os.path.relpath(os.path.join(entry["directory"], entry["file"]))
            flags.setdefault(path, [
                word if word != "-isystem" else word + words[i + 1] for i, word in enumerate(words)
                if word.startswith(("-D", "-I", "-std=", "-isystem"))])
    return flags


def command_of(tool, path, flags):
    if tool == "tidy":
        return ["clang-tidy", "--quiet", path, "--"] + flags
    told = flags + ["-DRINGTALLY_ANALYSE"]
    if tool == "cppcheck":
        return CPPCHECK + [word for word in told if word.startswith(("-D", "-I"))] + [path]
    return ["gcc"] + told + ["-O1", "-fanalyzer", "-c", "-o", os.devnull, path]


def look(tool, path, flags):
    """One analyser at one file: its findings as (path, line, checks, text). One that fails without
    a finding is a finding."""
    done = subprocess.run(command_of(tool, path, flags), stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                          encoding="utf-8", errors="replace", check=False)
    found = set()
    for line in done.stdout.splitlines():
        match = FINDING.match(line)
        if match:
            checks = (match["check"] or "failed").replace(",-warnings-as-errors", "")
            text = re.sub(r" \[CWE-\d+\]$", "", match["text"])
            found.add((os.path.relpath(match["path"]), int(match["line"]), checks, text))
    if done.returncode and not found:
        found.add((path, 1, "failed", f"{tool}: exit {done.returncode}: {done.stdout.strip()[-600:]}"))
    return found


def read_suppressed():
    """CHECK PATH TEXT: the check is wrong about lines of that file in which that text stands."""
    wanted = {}
    with open(SUPPRESS, encoding="utf-8") as file:
        for line in file:
            if line.strip() and not line.startswith("#"):
                check, path, text = line.rstrip("\n").split(" ", 2)
                wanted[check, path, text] = 0
    return wanted


def is_suppressed(finding, wanted):
    path, number, checks, _ = finding
    with open(path, encoding="utf-8") as file:
        source = (file.read().split("\n") + [""])[number - 1]
    for check, where, text in wanted:
        if check in checks.split(",") and where == path and text in source:
            wanted[check, where, text] += 1
            return True
    return False


def main():
    build, words = sys.argv[1], sys.argv[2:]
    tools = [word for word in words if word in ("tidy", "cppcheck", "gcc")] or ["tidy", "cppcheck", "gcc"]
    files = [word for word in words if word not in ("tidy", "cppcheck", "gcc")]
    whole = not files
    flags = flags_of(build)
    files = files or sorted(glob.glob("src/**/*.c", recursive=True))
    unread = [path for path in files if path not in flags]
    if unread:
        sys.exit(f"analyse: not built by anything: {' '.join(unread)}")
    wanted = read_suppressed()
    found, left = set(), 0  # a header's findings come with each file that includes it
    with tempfile.TemporaryDirectory(dir=build) as folder, \
            concurrent.futures.ThreadPoolExecutor(len(os.sched_getaffinity(0))) as pool:
        planted = os.path.join(folder, "planted.c")
        with open(planted, "w", encoding="utf-8") as file:
            file.write(PLANTED)
        for tool in tools:
            print(f"== {tool}: {len(files)} files", flush=True)
            if not any(finding[2] != "failed" for finding in look(tool, planted, ["-std=c17"])):
                sys.exit(f"analyse: {tool} does not see a planted fault")
            for one in pool.map(lambda path, tool=tool: look(tool, path, flags[path]), files):
                for finding in sorted(one - found):
                    found.add(finding)
                    if not is_suppressed(finding, wanted):
                        left += 1
                        print("{0}:{1}: {3} [{2}]".format(*finding), flush=True)
    stale = [" ".join(key) for key, times in wanted.items() if not times] if whole and len(tools) == 3 else []
    for line in stale:
        print(f"{SUPPRESS}: needed no more: {line}")
    if left or stale:
        sys.exit(f"{left} findings, {len(stale)} reasons without one")
    print("nothing found")


if __name__ == "__main__":
    main()
