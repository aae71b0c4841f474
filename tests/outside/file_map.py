"""What each byte of a database's file is: so that one whose change nobody hears of can be named."""
import sqlite3

# Of the first page: what SQLite counts for itself, and what it does not read.
HEADER = {**{at: "change counter" for at in range(24, 28)}, **{at: "schema cookie" for at in range(40, 44)},
          **{at: "cache size" for at in range(48, 52)}, **{at: "version-valid-for" for at in range(92, 96)},
          **{at: "SQLite's version" for at in range(96, 100)}, **{at: "reserved" for at in range(72, 92)},
          18: "write version", 19: "read version", **{at: "schema format" for at in range(44, 48)},
          **{at: "text encoding" for at in range(56, 60)}, **{at: "freelist, empty" for at in range(32, 40)}, **{at: "incremental vacuum" for at in range(64, 68)}, **{at: "size in pages" for at in range(28, 32)}}


def varint(page, at):
    value = 0
    for i in range(9):
        byte = page[at + i]
        if i == 8:
            return (value << 8) | byte, at + 9
        value = (value << 7) | (byte & 0x7f)
        if byte < 0x80:
            return value, at + i + 1
    raise AssertionError


class Map:
    """What each byte of a database's file is, by the published format (sqlite.org/fileformat2.html, from memory)."""

    def __init__(self, path):
        self.bytes = path.read_bytes()
        self.size = int.from_bytes(self.bytes[16:18], "big")
        database = sqlite3.connect(path)
        roots = database.execute("SELECT rootpage, name, type FROM sqlite_schema WHERE rootpage > 0").fetchall()
        self.views = [row[0] for row in database.execute("SELECT rowid FROM sqlite_schema WHERE type = 'view'")]
        self.local = {}
        for table, column in (("desk", "bout"), ("bout", "id")):
            self.local[table] = {row[0] for row in database.execute(f"SELECT rowid FROM {table} WHERE {column} <> 1")}
        self.local["entry"] = {row[0] for row in database.execute(
            "SELECT entry.rowid FROM entry JOIN desk ON desk.id = entry.desk WHERE bout <> 1")}
        self.own = [row[0] for row in database.execute("SELECT rowid FROM sqlite_schema WHERE name LIKE 'sqlite_%'")]
        self.triggers = {row[0] for row in database.execute("SELECT rowid FROM sqlite_schema WHERE type = 'trigger'")}
        database.close()
        self.names = {}
        self.kinds = {}
        for root, name, kind in [(1, "sqlite_schema", "table"), *roots]:
            self.walk(root, name, kind)

    def walk(self, number, name, kind):
        start = (number - 1) * self.size
        page = self.bytes[start:start + self.size]
        head = 100 if number == 1 else 0
        leaf, table = page[head] in (0x0a, 0x0d), page[head] in (0x05, 0x0d)
        self.names[number] = (name, kind)
        count = int.from_bytes(page[head + 3:head + 5], "big")
        first = head + (8 if leaf else 12)
        for at in range(head, first + 2 * count):
            self.kinds[start + at] = "page's head"
        cells = [int.from_bytes(page[first + 2 * i:first + 2 * i + 2], "big") for i in range(count)]
        for cell in cells:
            self.cell(start, page, cell, name, table, leaf)
        if not leaf:
            below = [int.from_bytes(page[cell:cell + 4], "big") for cell in cells]
            for child in [*below, int.from_bytes(page[head + 8:head + 12], "big")]:
                self.walk(child, name, kind)

    def cell(self, start, page, cell, name, table, leaf):
        row, at = None, cell if leaf else cell + 4
        number = at
        size = 0
        if not table or leaf:
            size, at = varint(page, at)
        if table:
            number = at
            row, at = varint(page, at)
            size = size if leaf else 0
        whole, beyond = size, 0
        most = self.size - 35 if table else (self.size - 12) * 64 // 255 - 23
        if size > most:  # the rest is on pages of its own
            least = (self.size - 12) * 32 // 255 - 23
            size = least + (whole - least) % (self.size - 4)
            size = size if size <= most else least
            beyond = int.from_bytes(page[at + size:at + size + 4], "big")
            size += 4
        what = "row"
        if not table and name in ("corner", "judge"):  # without a rowid: the bout comes first
            head, column = varint(page, at)
            row = {8: 0, 9: 1}.get(page[column], page[at + head])
            row = "other" if row != 1 else None
        if row == "other" or (table and row in self.local.get(name, ())):
            what = "another bout's"
        elif name == "sqlite_schema" and row in self.views:
            what = "a view's text"
        elif name == "sqlite_sequence" or (name == "sqlite_schema" and row in self.own):
            what = "SQLite's own"
        elif not table and name not in ("card", "corner", "judge"):
            what = "an index"  # which integrity_check holds against its table
        for byte in range(cell, at + size):
            self.kinds[start + byte] = what
        if table and leaf and name in ("bout", "desk", "entry", "seal"):  # the row's number stands before
            self.kinds[start + at + 1] = "a key's empty place"
        elif name == "sqlite_schema":
            self.kinds.update({start + byte: "a row's number" for byte in range(number, at)})
            if leaf and row in self.triggers:  # the fourth column is a root, of which a trigger has none
                kind = varint(page, at)[1]
                for _ in range(3):
                    kind = varint(page, kind)[1]
                self.kinds[start + kind] = "a trigger's root"
        left = whole - (size - 4)
        while beyond:
            base = (beyond - 1) * self.size
            self.names[beyond] = (name, "overflow")
            used = min(left, self.size - 4)
            for byte in range(base, base + 4 + used):
                self.kinds[byte] = what
            left -= used
            beyond = int.from_bytes(self.bytes[base:base + 4], "big")

    def kind(self, at):
        if at < 100:
            return HEADER.get(at, "header")
        number = at // self.size + 1
        if number not in self.names:
            return "free page"
        return self.kinds.get(at, "free space")


SAYS_NOTHING = {"free page", "free space", "another bout's", "a view's text", "SQLite's own", "an index", "a key's empty place",
                "a row's number", "a trigger's root", *HEADER.values()}
