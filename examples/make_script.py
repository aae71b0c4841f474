#!/usr/bin/env python3
"""Writes a believable key script of a whole three-round kickboxing bout.

    make_script.py --bout 1 [--seed N]            examples/bout-1.keys
    make_script.py --bout 1 --second [--seed N]   examples/bout-1-second.keys, another tagger of the same bout
    make_script.py --bout 2 [--seed N]            examples/bout-2.keys

The same seed writes the same file; the files in examples/ have the default seed. Two things are told apart:
the bout (what happened, with a story that a reader of the numbers can find) and the tagger (which keys, when,
with which mistakes). The totals in the header are counted twice, once from the bout and once by replaying the
keys by the meanings that README.md lists (count_script.py), and have to agree.
"""
import argparse
import random
import sys

from count_script import CORNERS, DIGITS, PAD, STRIKE_OF_KEY, SWITCHED, Replay, Strike, expected


class Bout:
    """What happens in the ring, with the keys by which the first tagger logs it.

    A round is filled with phases (a single strike, a combination, an exchange, a clinch) around scenes that
    the story sets. `atoms` holds (moment, keys, strike or None); a moment is in seconds since the round began.
    """

    def __init__(self, seed, styles, stances, gap, lead, counts, never=()):
        self.rng = random.Random(seed)
        self.base = styles  # corner: {cell: (weight, chance to land)}
        self.style = {corner: dict(styles[corner]) for corner in CORNERS}  # of the moment
        self.stance = dict(zip(CORNERS, stances))
        self.gap, self.lead, self.never = gap, lead, set(never)  # seconds between phases; red's share of them
        self.counts = counts  # weights of combinations of one to four strikes
        self.atoms, self.last_cell = [], {}

    # -- strikes -----------------------------------------------------------------------------------
    def pick(self, corner):
        style = self.style[corner]
        while True:
            cell = self.rng.choices(list(style), [weight for weight, _ in style.values()])[0]
            if (corner, self.last_cell.get(corner), cell) not in self.never:
                return cell

    def throw(self, at, corner, cell=None, outcome=None, marks=(), keys=None, plain=False):
        """A strike. `plain`: one key, as in a fast exchange; else the tagger may refine it or slip."""
        rng = self.rng
        cell = cell or self.pick(corner)
        self.last_cell[corner] = cell
        fixed = outcome is not None
        if not fixed:
            outcome = "landed" if rng.random() < self.style[corner].get(cell, (0, 0.3))[1] else "attempted"
        marks = set(marks)
        attempted, landed = PAD[corner, cell]
        digit = DIGITS[corner]
        if keys is None:
            keys = [landed if outcome == "landed" else attempted]
            chance = rng.random()
            if fixed or plain:
                pass
            elif outcome == "landed" and chance < 0.16:
                keys = [attempted, "Space"]
            elif outcome == "attempted" and chance < 0.14:
                outcome, keys = "blocked", [attempted, digit["blocked"]]
            elif outcome == "attempted" and chance < 0.16:
                outcome, keys = "blocked", [landed, digit["blocked"]]
            elif outcome == "attempted" and chance < 0.18:
                keys = [landed, "Space"]
            elif chance > 0.965:
                wrong = PAD[corner, self.pick(corner)][outcome == "landed"]
                if wrong != keys[0]:
                    keys = [wrong, "Backspace", *keys]
            elif chance > 0.94 and cell in ("right_hand.head", "right_leg.body", "left_leg.body"):
                marks.add("spinning")
                keys.append(digit["spinning"])
            elif chance > 0.90 and cell in ("knee.head", "left_leg.head", "right_leg.head"):
                marks.add("jumping")
                keys.append(digit["jumping"])
        self.atoms.append((at, keys, Strike(corner, cell, outcome, marks, self.stance[corner])))

    def press(self, at, *keys):
        self.atoms.append((at, list(keys), None))

    # -- phases: each returns the moment at which it ends ---------------------------------------------
    def combination(self, at, corner):
        count = self.rng.choices((1, 2, 3, 4), self.counts[corner])[0]
        for number in range(count):
            self.throw(at, corner, plain=number < count - 1)
            at += self.rng.uniform(0.22, 0.34)
        return at

    def answer(self, at, corner):
        at = self.combination(at, corner)
        return self.combination(at + self.rng.uniform(0.2, 0.5), CORNERS[corner == "red"])

    def exchange(self, at, count=None):
        """Both throw at once, four strikes a second."""
        order = [corner for corner in CORNERS for _ in range(count or self.rng.randint(3, 4))]
        self.rng.shuffle(order)
        for corner in order:
            self.throw(at, corner, plain=True)
            at += self.rng.uniform(0.21, 0.29)
        return at

    def clinch(self, at):
        self.press(at, "`")
        at += 0.6
        for _ in range(self.rng.randint(2, 4)):
            corner = self.rng.choice(CORNERS)
            landed = self.rng.random() < (0.45 if corner == "red" else 0.6)
            self.throw(at, corner, self.rng.choice(("knee.body", "knee.body", "knee.leg")),
                       "landed" if landed else "attempted")
            at += self.rng.uniform(0.5, 0.9)
        self.press(at + 0.3, "`")
        return at + 0.6

    def round(self, length, scenes):
        """Fills one round of `length` seconds by the wall; scenes = [(moment, seconds kept free, action)]."""
        self.atoms = []
        scenes = sorted(scenes, key=lambda scene: scene[0])
        at = 1.5
        while True:
            start = at + self.rng.expovariate(1 / self.gap) + 0.35
            limit = scenes[0][0] - 2.6 if scenes else length - 5.5
            if start < limit:
                busy = "red" if self.rng.random() < self.lead else "blue"
                kind = self.rng.random()
                if kind < 0.10 and limit - start > 4:
                    at = self.exchange(start)
                elif kind < 0.14 and limit - start > 6:
                    at = self.clinch(start)
                elif kind < 0.36 and limit - start > 3:
                    at = self.answer(start, busy)
                else:
                    at = self.combination(start, busy)
            elif scenes:
                moment, span, action = scenes.pop(0)
                action(moment)
                at = moment + span
            else:
                return self.atoms

    # -- scenes ------------------------------------------------------------------------------------
    def mood(self, corner, **cells):
        """From now on other weights and chances for some cells; left_leg_body=(weight, chance)."""
        for name, value in cells.items():
            limb, target = name.rsplit("_", 1)
            self.style[corner][f"{limb}.{target}"] = value

    def form(self, corner, factor):
        """From now on every strike of the corner lands so many times as often as its style says."""
        for cell, (weight, chance) in self.base[corner].items():
            self.style[corner][cell] = (weight, min(0.9, chance * factor))

    def switch(self, at, corner):
        self.press(at, DIGITS[corner]["switch"])
        self.stance[corner] = SWITCHED[self.stance[corner]]

    def stop(self, at, seconds, *during):
        """The referee stops the clock; the keys of `during` are pressed while it stands."""
        self.press(at, "Enter")
        for number, key in enumerate(during):
            self.press(at + 2 + 0.7 * number, key)
        self.press(at + seconds, "Enter")


# The two bouts. A scene is (moment, seconds kept free, action); moments are seconds by the wall since the round
# began. A round's wall length is 180 s, plus stops, minus what the clock is nudged on.

def bout_1(seed):
    """Red is sharp in round 1, blue in round 2, blue's left hook to the body lands seven in a row; a jumping knee ends it."""
    red = {"left_hand.head": (24, .42), "right_hand.head": (18, .40), "left_hand.body": (6, .50),
           "right_hand.body": (5, .48), "right_leg.leg": (8, .55), "left_leg.leg": (6, .52),
           "right_leg.body": (6, .44), "left_leg.body": (5, .44), "left_leg.head": (2, .20),
           "right_leg.head": (3, .22), "knee.body": (5, .60), "knee.head": (2, .25)}
    blue = {"left_hand.head": (20, .38), "right_hand.head": (16, .36), "left_hand.body": (9, .46),
            "right_hand.body": (6, .44), "right_leg.leg": (7, .48), "left_leg.leg": (5, .48),
            "right_leg.body": (5, .40), "left_leg.body": (6, .42), "left_leg.head": (3, .18),
            "right_leg.head": (2, .18), "knee.body": (4, .55), "knee.head": (2, .25)}
    b = Bout(seed, {"red": red, "blue": blue}, ("orthodox", "orthodox"), gap=2.0, lead=0.52,
             counts={"red": (30, 38, 23, 9), "blue": (34, 38, 20, 8)})

    def round_1():
        b.form("red", 1.30)
        b.form("blue", 0.60)

        def slip_brought_back(at):  # a right strike taken back in haste, and brought back
            b.throw(at, "red", "right_leg.body", "landed", keys=["F", "Backspace", "\\"])
        return 204, [
            (36, 3, lambda at: b.exchange(at, 4)),
            (71, 12, lambda at: b.stop(at, 10, "Left")),  # a glove's tape; the stop came a second late
            (102, 3, slip_brought_back),
            (124, 17, lambda at: b.stop(at, 13, "[", "w")),  # a warning for red
            (166, 6, b.clinch)]

    def round_2():
        b.form("red", 0.55)
        b.form("blue", 1.35)

        def doubt(at):
            b.throw(at, "blue", "left_leg.head", "landed", keys=["U", "'"])
        return 180, [
            (24, 3, lambda at: b.exchange(at, 4)),
            (46, 1, lambda at: b.switch(at, "blue")),
            (69, 1, lambda at: b.switch(at, "blue")),
            (92, 6, b.clinch),
            (131, 3, doubt),
            (155, 3, lambda at: b.exchange(at, 4))]

    def round_3():
        b.form("red", 1.0)
        b.form("blue", 1.0)

        def hook(at):
            b.throw(at - 0.9, "red", plain=True)
            b.throw(at, "blue", "left_hand.body", "landed")

        def knee(at):
            b.throw(at, "red", "left_hand.head", "attempted", plain=True)
            b.throw(at + 0.31, "red", "knee.head", "landed", ["jumping", "knockdown"], ["T", "2", "4"])

        def backfist(at):
            b.throw(at, "blue", "right_hand.head", "landed", ["spinning"], ["o", "0", "Space"])
        series = [(moment, 1.5, hook) for moment in (38, 44, 49.5, 56, 61, 66.5, 73)]
        return 190, [
            (14, 3, lambda at: b.exchange(at, 4)),
            (31, 1, lambda at: b.mood("blue", left_hand_body=(0, 0))),
            *series,
            (82, 1, lambda at: b.mood("blue", left_hand_body=(6, .40))),
            (94, 12, lambda at: b.stop(at, 10)),
            (111, 3, backfist),
            (122, 1, lambda at: b.switch(at, "red")),
            (140, 1, lambda at: b.switch(at, "red")),
            (149, 14, knee),
            (172, 3, lambda at: b.exchange(at, 4))]

    after = {
        1: [(0.9, ["I"], Strike("blue", "left_hand.head", "landed"))],  # after the bell
        2: [],
        3: [(-1.4, ["w"], Strike("red", "left_hand.head", "landed")), (4.6, ["Space"], None),  # put right late
            (7.3, ["]", "w"], None)]}  # blue is warned, the bout being over
    return b, (round_1, round_2, round_3), after


def bout_2(seed):
    """Red, square, finds the body with the knee; then, orthodox, the left hook to the body sets up the right hand."""
    red = {"left_hand.head": (20, .34), "right_hand.head": (12, .12), "left_hand.body": (5, .42),
           "right_hand.body": (6, .40), "right_leg.leg": (8, .42), "left_leg.leg": (6, .42),
           "right_leg.body": (6, .36), "left_leg.body": (4, .34), "left_leg.head": (2, .15),
           "right_leg.head": (3, .16), "knee.body": (3, .30), "knee.head": (2, .22)}
    blue = {"right_hand.head": (22, .32), "left_hand.head": (20, .35), "right_hand.body": (6, .42),
            "left_hand.body": (5, .42), "left_leg.leg": (7, .40), "right_leg.leg": (6, .42),
            "left_leg.body": (8, .38), "right_leg.body": (4, .35), "left_leg.head": (4, .18),
            "right_leg.head": (2, .14), "knee.body": (6, .48), "knee.head": (2, .22)}
    b = Bout(seed, {"red": red, "blue": blue}, ("square", "southpaw"), gap=1.95, lead=0.54,
             counts={"red": (32, 36, 22, 10), "blue": (32, 36, 22, 10)},
             never=[("red", "left_hand.body", "right_hand.head")])

    def set_up(at, landed, down=False):
        b.throw(at, "red", "left_hand.body", plain=True)
        b.throw(at + b.rng.uniform(0.30, 0.42), "red", "right_hand.head", "landed" if landed else "attempted",
                *((["knockdown"], ["E", "4"]) if down else ()))

    def set_ups(moments, outcomes):
        return [(moment, 2.2, lambda at, landed=outcome == "L": set_up(at, landed))
                for moment, outcome in zip(moments, outcomes, strict=True)]

    def round_1():
        b.mood("red", knee_body=(24, .66), right_hand_head=(9, .12))

        def early(at):  # red hits on after the referee has stopped the clock
            b.stop(at, 11)
            b.throw(at + 1.1, "red", "left_leg.leg", "landed")

        def knockdown(at):
            b.throw(at, "blue", "right_hand.head", "attempted", plain=True)
            b.throw(at + 0.32, "blue", "left_leg.head", "landed", ["knockdown"], ["U", "7"])
        return 191, [
            (29, 3, lambda at: b.exchange(at, 4)),
            (58, 1, lambda at: b.switch(at, "blue")),
            (73, 1, lambda at: b.switch(at, "blue")),
            (90, 14, early),
            (133, 14, knockdown),
            (163, 3, lambda at: b.exchange(at, 4))]

    def round_2():
        def orthodox(at):
            b.switch(at, "red")
            b.mood("red", knee_body=(3, .25))

        def two_taken_back(at):  # two right strikes taken back, and both brought back
            b.throw(at, "blue", "right_hand.head", "attempted", keys=["o"])
            b.throw(at + 0.5, "blue", "knee.body", "landed",
                    keys=["H", "Backspace", "Backspace", "\\", "\\"])
        return 179, [
            (6, 1, orthodox),
            *set_ups((15, 26, 37, 49, 88, 112, 139, 163), "LLALLLLL"),
            (62, 2, lambda at: b.press(at, "Right")),
            (74, 4, two_taken_back),
            (124, 3, lambda at: b.exchange(at, 4))]

    def round_3():
        def doubt(at):  # counted as a knockdown, then seen to be a slip
            b.throw(at, "blue", "right_leg.leg", "landed", keys=["?", "7", "7", "'"])
        return 196, [
            *set_ups((11, 22, 34, 45, 57, 99, 168, 181), "LLLALLLA"),
            (70, 18, lambda at: b.stop(at, 16, "[", "i")),  # the doctor looks at a cut of red's
            (118, 4, doubt),
            (141, 14, lambda at: set_up(at, True, down=True))]

    after = {
        1: [],
        2: [(1.1, ["s"], Strike("red", "left_hand.body", "attempted"))],  # after the bell
        3: [(-1.2, ["R"], Strike("red", "right_leg.head", "blocked")), (5.2, ["3"], None),  # put right late
            (8.1, ["[", "w"], None)]}  # red is warned, the bout being over
    return b, (round_1, round_2, round_3), after


BOUTS = {1: (bout_1, 410, ("orthodox", "orthodox"), "Kervadenn (red) and Diễm Sương (blue)"),
         2: (bout_2, 428, ("square", "southpaw"), "Trzaskoński (red) and Özbilgeçoğlu (blue)")}


class Tagger:
    """Presses keys: keeps the gaps that fingers need, replays what it presses, keeps the lines."""

    def __init__(self, seed, stances):
        self.rng, self.replay, self.keys = random.Random(seed), Replay(stances), []

    def press(self, at, key):
        """At `at` milliseconds, or as soon after as fingers can. Returns when."""
        if self.keys:
            last_at, last_key = self.keys[-1]
            same = last_key == key or STRIKE_OF_KEY.get(last_key, (0,))[:2] == STRIKE_OF_KEY.get(key, (1,))[:2]
            at = max(at, last_at + (140 if same else 70))
        self.replay.key(at, key)
        self.keys.append((at, key))
        return at

    def atom(self, at, keys):
        first = self.press(at, keys[0])
        for key in keys[1:]:
            self.press(self.keys[-1][0] + self.rng.randint(170, 340), key)
        return first


def first_tagger(number, seed):
    """Returns the tagger and what was logged, in order: [(ms, keys, strike or None)]; keys of no strike only."""
    make, default, stances, _ = BOUTS[number]
    bout, rounds, after = make(default if seed is None else seed)
    tagger = Tagger(bout.rng.random(), stances)
    logged, start = [], 5_200

    def log(at, keys, strike):
        if strike:
            strike.round = tagger.replay.round
        at = tagger.atom(at, keys)
        if strike:
            strike.stance = strike.stance or tagger.replay.stance[strike.corner]
            strike.off_clock = tagger.replay.state != "running"
        logged.append((at, keys, strike))
    for round_, plan in enumerate(rounds, 1):
        log(start, ["Enter"], None)
        length, scenes = plan()
        atoms = sorted(bout.round(length, scenes), key=lambda atom: atom[0])
        for moment, keys, strike in atoms:
            log(start + round(moment * 1000), keys, strike)
        bell = tagger.replay.bell()
        if abs(bell - start - length * 1000) > 300:
            raise ValueError(f"round {round_}: the bell comes at {bell - start} ms, not near {length} s")
        for seconds, keys, strike in after[round_]:
            log(bell + round(seconds * 1000), keys, strike)
        start = bell + 60_000 + bout.rng.randint(300, 1_900)
    return tagger, logged


def differences(logged, rng):
    """What the second tagger sees otherwise. Returns ({index: (kind, strike seen or None)}, [(ms, extra strike)])."""
    strikes = [(at, index, strike) for index, (at, _, strike) in enumerate(logged) if strike]
    moments = [at for at, _, _ in logged]

    def alone(at, strike, ms):
        return sum(abs(at - other) < ms and s.corner == strike.corner for other, _, s in strikes) == 1
    seen = {}

    def choose(kind, count, change, fits):
        free = [(index, strike) for at, index, strike in strikes
                if index not in seen and not strike.off_clock and not strike.marks and fits(at, strike)]
        for index, strike in rng.sample(free, count):
            other = strike.copy()
            seen[index] = (kind, change(other))

    def becomes(outcome):
        return lambda strike: setattr(strike, "outcome", outcome) or strike

    def other_limb(strike):
        limb, target = strike.cell.split(".")
        side, part = limb.split("_")
        strike.cell = f"{'right' if side == 'left' else 'left'}_{part}.{target}"
        return strike

    def other_target(strike):
        limb, target = strike.cell.split(".")
        strike.cell = f"{limb}.{'body' if target != 'body' else 'head'}"
        return strike

    def other_corner(strike):
        strike.corner = CORNERS[strike.corner == "red"]
        return strike
    choose("missed", 9, lambda strike: None, lambda at, s: alone(at, s, 700))
    choose("landed seen as attempted", 7, becomes("attempted"), lambda at, s: s.outcome == "landed")
    choose("attempted seen as landed", 5, becomes("landed"), lambda at, s: s.outcome == "attempted")
    choose("other limb", 4, other_limb, lambda at, s: alone(at, s, 700) and "knee" not in s.cell)
    choose("other target", 4, other_target, lambda at, s: alone(at, s, 700))
    choose("other corner", 2, other_corner, lambda at, s: alone(at, s, 900) and s.outcome == "attempted")
    gaps = [(a + b) // 2 for a, b in zip(moments, moments[1:]) if 2_600 < b - a < 9_000]
    extra = []
    for at in rng.sample(gaps, 5):
        corner = rng.choice(CORNERS)
        cell = rng.choice(("left_hand.head", "right_hand.head", "left_leg.leg", "right_leg.body"))
        extra.append((at, Strike(corner, cell, rng.choice(("attempted", "landed")))))
    return seen, extra


def second_tagger(number, seed):
    """Another tagger of the same bout: later, without typing errors, seeing some strikes otherwise."""
    _, logged = first_tagger(number, seed)
    _, default, stances, _ = BOUTS[number]
    rng = random.Random((default if seed is None else seed) * 1000 + 2)
    seen, extra = differences(logged, rng)
    todo = []
    for index, (at, keys, strike) in enumerate(logged):
        if strike:
            kind, strike = seen.get(index, (None, strike))
            if strike is None:
                continue
            keys = [PAD[strike.corner, strike.cell][strike.outcome == "landed"]]
            marks = sorted(strike.marks) + ["blocked"] * (strike.outcome == "blocked")
            keys += [DIGITS[strike.corner][mark] for mark in marks]
        elif keys == ["Space"] or keys == ["3"]:
            continue  # the first tagger's late correction
        late = min(max(rng.gauss(210, 65), 60), 420)
        todo.append((at + round(late), keys))
    todo += [(at + 200, [PAD[strike.corner, strike.cell][strike.outcome == "landed"]]) for at, strike in extra]
    tagger = Tagger(rng.random(), stances)
    for at, keys in sorted(todo, key=lambda item: item[0]):
        tagger.atom(at, keys)
    notes = [(logged[index][0], f"{kind}: {logged[index][2].words()}"
              + (f" -> {strike.words()}" if strike else "")) for index, (kind, strike) in seen.items()]
    notes += [(at, f"extra: {strike.words()}") for at, strike in extra]
    return tagger, sorted(notes)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--bout", type=int, choices=sorted(BOUTS), required=True)
    parser.add_argument("--seed", type=int, help="another bout with the same story")
    parser.add_argument("--second", action="store_true", help="the second tagger's script")
    args = parser.parse_args()
    make, default, stances, who = BOUTS[args.bout]
    seed = default if args.seed is None else args.seed
    notes = []
    if args.second:
        tagger, notes = second_tagger(args.bout, seed)
    else:
        tagger, logged = first_tagger(args.bout, seed)
        thrown = [strike for _, _, strike in logged if strike]
        if expected(thrown) != expected(tagger.replay.strikes):
            raise ValueError("the keys do not say what happened in the bout")
    print(f"# Key script for the us-qwerty key map, rules kickboxing: bout {args.bout} of card.ini, {who}.")
    print(f"# Written by: make_script.py --bout {args.bout}{' --second' * args.second} --seed {seed}")
    if args.second:
        print(f"# A second tagger of bout-{args.bout}.keys: a fifth of a second later, seeing otherwise as listed.")
    else:
        print(f"# {make.__doc__}")
    print("# stances", *stances)
    print("# expected ROUND|STANCE|off-clock CORNER ATTEMPTED LANDED BLOCKED KNOCKDOWNS")
    for line in expected(tagger.replay.strikes):
        print("#", line)
    kinds = [note.split(":")[0] for _, note in notes]
    for kind in dict.fromkeys(sorted(kinds)):
        print(f"# differences, {kind}: {kinds.count(kind)}")
    for at, note in notes:
        print(f"# at {at / 1000:.3f} {note}")
    for at, key in tagger.keys:
        print(f"{at / 1000:.3f} {key}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
