#!/usr/bin/env python3
"""Counts a key script of the us-qwerty key map by the meanings of its keys that README.md lists.

    count_script.py FILE...     compares with the totals in each header; exit 1 where they differ

It is the second opinion on a script: written from the meanings alone, it shares nothing with the program but
the key map.
"""
import configparser
import pathlib
import sys

KEYMAP = pathlib.Path(__file__).resolve().parent.parent / "shared" / "keymaps" / "us-qwerty.ini"
WORDS = {"Semicolon": ";", "Colon": ":", "Comma": ",", "Period": ".", "Slash": "/", "Question": "?",
         "Less": "<", "Greater": ">", "LeftBracket": "[", "RightBracket": "]", "Backslash": "\\",
         "Backquote": "`", "Apostrophe": "'"}
CORNERS = ("red", "blue")
ROUND_MS, ROUNDS = 180_000, 3
SWITCHED = {"orthodox": "southpaw", "southpaw": "orthodox", "square": "orthodox"}
DIGITS = {"red": {"spinning": "1", "jumping": "2", "blocked": "3", "knockdown": "4", "switch": "5"},
          "blue": {"spinning": "0", "jumping": "9", "blocked": "8", "knockdown": "7", "switch": "6"}}


def load_pad():
    """{(corner, cell): (attempted, landed)} of the shipped key map; cell = "limb.target"."""
    parser = configparser.ConfigParser(interpolation=None, comment_prefixes=(";", "#"))
    with open(KEYMAP, encoding="utf-8") as file:
        parser.read_file(file)
    return {(corner, cell): tuple(WORDS.get(key, key) for key in keys.split())
            for corner in CORNERS for cell, keys in parser[f"pad.{corner}"].items()}


PAD = load_pad()
STRIKE_OF_KEY = {key: (corner, cell, bool(landed))
                 for (corner, cell), keys in PAD.items() for landed, key in enumerate(keys)}
MARK_OF_KEY = {key: (corner, mark) for corner in CORNERS for mark, key in DIGITS[corner].items() if mark != "switch"}


class Strike:
    """One strike: as it was thrown (in a bout) or as it was tagged (in a replay)."""

    def __init__(self, corner, cell, outcome="attempted", marks=(), stance="", round_=0, off_clock=False):
        self.corner, self.cell, self.outcome, self.marks = corner, cell, outcome, set(marks)
        self.stance, self.round, self.off_clock, self.live = stance, round_, off_clock, True

    def copy(self):
        return Strike(self.corner, self.cell, self.outcome, self.marks, self.stance, self.round, self.off_clock)

    def words(self):
        return " ".join([self.corner, *self.cell.split("."), self.outcome, *sorted(self.marks)])


class Replay:
    """What the keys of a script mean, for counting: clock, strikes, marks, undo. Times in milliseconds."""

    def __init__(self, stances):
        self.strikes, self.done, self.undone = [], [], []
        self.stance = dict(zip(CORNERS, stances))
        self.state, self.round, self.elapsed, self.since = "ready", 1, 0, 0
        self.prompt, self.last_at, self.last_key, self.key_at = False, 0, None, {}

    def bell(self):
        """When the running round ends."""
        return self.since + ROUND_MS - self.elapsed

    def advance(self, at):
        if self.state == "running" and at >= self.bell():
            self.state, self.elapsed = ("rest" if self.round < ROUNDS else "over"), ROUND_MS

    def newest(self, corner):
        for strike in reversed(self.strikes):
            if strike.live and strike.round == self.round and corner in (None, strike.corner):
                return strike
        raise ValueError("a mark without a strike")

    def write(self, undo, redo):
        """An entry that Backspace takes back."""
        redo()
        self.done.append((undo, redo))
        self.undone.clear()

    def mark(self, strike, mark):
        before = (strike.outcome, set(strike.marks))
        outcome, marks = before[0], set(before[1])
        if mark == "landed":
            outcome = "attempted" if outcome == "landed" else "landed"
        elif mark == "blocked":
            outcome = "attempted" if outcome == "blocked" else "blocked"
        elif mark in marks:
            marks.discard(mark)
        else:
            marks.add(mark)
            outcome = "landed" if mark == "knockdown" else outcome
        if outcome != "landed":
            marks.discard("knockdown")

        def put(outcome_, marks_):
            strike.outcome, strike.marks = outcome_, set(marks_)
        self.write(lambda: put(*before), lambda: put(outcome, marks))

    def clock(self, at):
        self.advance(at)
        if self.state == "over":
            raise ValueError("a clock key after the bout")
        if self.state == "running":
            self.elapsed += at - self.since
            self.state = "stopped"
        else:
            if self.state == "rest":
                self.round, self.elapsed = self.round + 1, 0
            self.state = "running"
        self.since = at

    def key(self, at, key):
        gap = at - self.last_at
        if key == self.last_key and gap < 120 or self.last_key and gap < 20:
            raise ValueError(f"at {at} ms: {key} comes {gap} ms after {self.last_key}")
        self.last_at, self.last_key = at, key
        self.advance(at)
        if self.prompt:
            if key not in "wdcktia":
                raise ValueError("an incident without its letter")
            self.prompt = False
            self.write(lambda: None, lambda: None)
        elif key in "[]":
            self.prompt = True
        elif key == "Enter":
            self.clock(at)
        elif key in ("Left", "Right"):
            self.elapsed += 1000 if key == "Right" else -1000
        elif key in "56":
            corner = CORNERS["56".index(key)]
            self.stance[corner] = SWITCHED[self.stance[corner]]
        elif key == "`":
            pass
        elif key == "'":
            self.write(lambda: None, lambda: None)
        elif key == "Backspace":
            self.undone.append(self.done.pop())
            self.undone[-1][0]()
        elif key == "\\":
            self.done.append(self.undone.pop())
            self.done[-1][1]()
        elif key == "Space":
            self.mark(self.newest(None), "landed")
        elif key in MARK_OF_KEY:
            corner, mark = MARK_OF_KEY[key]
            self.mark(self.newest(corner), mark)
        else:
            corner, cell, landed = STRIKE_OF_KEY[key]
            strike = Strike(corner, cell, "landed" if landed else "attempted", (), self.stance[corner], self.round,
                            self.state != "running")
            strike.live = False
            self.strikes.append(strike)
            self.write(lambda: setattr(strike, "live", False), lambda: setattr(strike, "live", True))


def expected(strikes):
    """The lines "expected ROUND CORNER ATTEMPTED LANDED BLOCKED KNOCKDOWNS" and the like."""
    def line(name, some):
        landed = sum(s.outcome == "landed" for s in some)
        blocked = sum(s.outcome == "blocked" for s in some)
        return f"expected {name} {len(some)} {landed} {blocked} {sum('knockdown' in s.marks for s in some)}"
    live = [s for s in strikes if s.live]
    lines = []
    for round_ in ("all", 1, 2, 3):
        for corner in CORNERS:
            lines.append(line(f"{round_} {corner}",
                              [s for s in live if s.corner == corner and round_ in ("all", s.round)]))
    for corner in CORNERS:
        for stance in SWITCHED:
            lines.append(line(f"{stance} {corner}", [s for s in live if (s.corner, s.stance) == (corner, stance)]))
    for corner in CORNERS:
        lines.append(line(f"off-clock {corner}", [s for s in live if s.corner == corner and s.off_clock]))
    return lines


def check(path):
    """Counts a script by the meanings of its keys and compares with its header. Returns what is wrong."""
    text = pathlib.Path(path).read_text(encoding="utf-8").splitlines()
    stances = next(line.split()[2:] for line in text if line.startswith("# stances "))
    replay = Replay(stances)
    for line in text:
        if not line.startswith("#"):
            seconds, key = line.split(" ")
            replay.key(round(float(seconds) * 1000), key)
    written = [line[2:] for line in text if line.startswith("# expected ") and "ROUND" not in line]
    return [f"{have} (header) is {count}" for have, count in zip(written, expected(replay.strikes), strict=True)
            if have != count]


def main(paths):
    wrong = 0
    for path in paths:
        lines = check(path)
        wrong += bool(lines)
        print("\n".join(lines) or f"{path}: as its header says")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
