"""A strict reader of WebVTT, by the W3C's "WebVTT file structure" (editor's source of 14 May 2026, commit
92a85cc; excerpt): what a conforming file may hold, where common readers are lenient. `python3 webvtt.py` runs it
over good and bad files; they are written here, each bad one to break one clause.
"""
import re

STAMP = re.compile(r"(?:(\d{2,}):)?([0-5]\d):([0-5]\d)\.(\d{3})")
TIMING = re.compile(rf"({STAMP.pattern})[ \t]+-->[ \t]+({STAMP.pattern})([ \t]+\S.*)?")
ENTITY = re.compile(r"&(?:amp|lt|gt|lrm|rlm|nbsp|#\d+|#x[0-9a-fA-F]+);")
TAG = re.compile(r"</?(?:c|i|b|u|ruby|rt|v|lang)?[^<>&]*>")


class Invalid(Exception):
    pass


def milliseconds(text):
    hours, minutes, seconds, rest = STAMP.fullmatch(text).groups()
    return ((int(hours or 0) * 60 + int(minutes)) * 60 + int(seconds)) * 1000 + int(rest)


def need(holds, reason):
    if not holds:
        raise Invalid(reason)


def check_text(line):
    rest = TAG.sub("", ENTITY.sub("", line))
    need("&" not in rest and "<" not in rest, f"not escaped: {line}")


def cues(data):
    """[(id, start ms, end ms, [lines])] of a conforming file; Invalid for any other."""
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise Invalid(str(error)) from error
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    need("\0" not in text, "NUL")
    lines = text.split("\n")
    need(re.fullmatch(r"WEBVTT([ \t].*)?", lines[0]), "magic line")
    need("-->" not in lines[0], "--> in the magic line")
    need(len(lines) > 1 and lines[1] == "", "two line terminators behind the magic line")
    found, ids, last = [], set(), 0
    for block in re.split(r"\n{2,}", "\n".join(lines[2:]).strip("\n")):
        if not block:
            continue
        part = block.split("\n")
        if re.fullmatch(r"NOTE([ \t].*)?", part[0]):
            need("-->" not in block, "--> in a comment")
            continue
        name = None
        if "-->" not in part[0]:
            name = part.pop(0)
            need(name not in ids, f"identifier twice: {name}")
            ids.add(name)
        need(part, "a block without timings")
        timing = TIMING.fullmatch(part[0])
        need(timing, f"timings: {part[0]}")
        start, end = milliseconds(timing.group(1)), milliseconds(timing.group(6))
        need(end > start, f"ends before it starts: {part[0]}")
        need(start >= last, f"starts before the one before: {part[0]}")
        last = start
        for line in part[1:]:
            need("-->" not in line, f"--> in a payload: {line}")
            check_text(line)
        found.append((name, start, end, part[1:]))
    return found


# Own cases, named by the clause that each breaks; ffprobe 5.1 accepts most of the bad ones.
GOOD = [
    ("WEBVTT\n\n1\n00:00:01.000 --> 00:00:02.500\nRED jab head landed\n\n2\n00:00:02.500 --> 00:00:03.000\n"
     "BLUE low kick\n", 2),
    ("WEBVTT\n\n00:01.000 --> 01:02.000\nx\n", 1),
    ("WEBVTT - bout 12\n\nNOTE made by tool\n\n100:00:01.000 --> 100:00:02.000\nx\n", 1),
]
BAD = {
    "full stop, not comma": "WEBVTT\n\n1\n00:00:01,000 --> 00:00:02,500\nx\n",
    "magic string": "WEBVT\n\n00:00:01.000 --> 00:00:02.500\nx\n",
    "two or more line terminators": "WEBVTT\n00:00:01.000 --> 00:00:02.500\nx\n",
    "end after start": "WEBVTT\n\n00:00:02.500 --> 00:00:01.000\nx\n",
    "a marker needs a millisecond": "WEBVTT\n\n00:00:01.000 --> 00:00:01.000\nx\n",
    "start times must not decrease": "WEBVTT\n\n00:00:05.000 --> 00:00:06.000\nb\n\n00:00:01.000 --> 00:00:02.000\na\n",
    "payload without -->": "WEBVTT\n\n00:00:01.000 --> 00:00:02.000\npayload --> arrow\n",
    "two or more hour digits": "WEBVTT\n\n0:00:01.000 --> 0:00:02.000\nx\n",
    "seconds 0 to 59": "WEBVTT\n\n00:61.000 --> 01:02.000\nx\n",
    "identifiers unique": "WEBVTT\n\n1\n00:00:01.000 --> 00:00:02.000\nx\n\n1\n00:00:03.000 --> 00:00:04.000\ny\n",
    "a blank line ends the cue": "WEBVTT\n\n00:00:01.000 --> 00:00:02.000\nx\n\ny\n",
    "ampersand and less-than escaped": "WEBVTT\n\n00:00:01.000 --> 00:00:02.000\na & b\n",
}


def self_test():
    for text, count in GOOD:
        assert len(cues(text.encode())) == count, text
    for reason, text in BAD.items():
        try:
            cues(text.encode())
        except Invalid:
            continue
        raise AssertionError(f"accepted: {reason}")


if __name__ == "__main__":
    self_test()
