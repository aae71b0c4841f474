"""The digests of entries and desks, made a second time from their description in
include/ringtally/log/chain.h, with Python's own BLAKE2b."""
import hashlib


class Digest:
    def __init__(self, domain):
        self.bytes = b""
        self.text(domain)

    def number(self, value):
        self.bytes += b"i" + int(value).to_bytes(8, "big", signed=True)

    def text(self, value):
        raw = value.encode("utf-8")
        self.bytes += b"t" + len(raw).to_bytes(4, "big") + raw

    def raw(self, value):
        self.bytes += b"b" + len(value).to_bytes(4, "big") + value

    def feed(self, value):
        """By its kind, as a column of the database is fed."""
        if value is None:
            self.bytes += b"n"
        elif isinstance(value, bytes):
            self.raw(value)
        elif isinstance(value, str):
            self.text(value)
        else:
            self.number(value)

    def end(self):
        return hashlib.blake2b(self.bytes, digest_size=32).digest()


def desk_digest(card, bout, desk):
    """Of a desk's line of the portable form."""
    digest = Digest("ringtally desk 1")
    for value in (desk["desk"], card, bout, desk["operator"], desk["name"], desk["corners"],
                  int(desk["shadow"]), desk["opened_ms"], desk.get("continues")):
        digest.feed(value)
    return digest.end()


CORNER = {"strike", "stance", "incident", "score", "result", "note", "view"}


def entry_digest(entry, prior):
    """Of an entry's line of the portable form; `prior` as bytes or None."""
    digest = Digest("ringtally entry 1")
    strike = entry["kind"] == "strike"

    def flag(key):
        return int(entry.get(key, False))

    def name(key):
        named = entry.get(key, {})
        return named.get("desk"), named.get("seq")

    for value in (
            entry["desk"], entry["entry"], prior, entry["utc_ms"], entry["at_ms"], entry["kind"],
            entry["act"], entry.get("code", ""), *name("subject"), *name("undoes"), entry["round"],
            entry["elapsed_ms"], flag("off_clock"), flag("review"), flag("accepted"),
            flag("unsure"), entry["corner"] if entry["kind"] in CORNER else None,
            entry["limb"] if strike else None, entry["target"] if strike else None,
            entry["stance"] if strike or entry["kind"] == "stance" else None, entry["position"],
            entry["outcome"] if strike else None, flag("spinning") if strike else None,
            flag("jumping") if strike else None, flag("knockdown") if strike else None,
            entry.get("value", 0), entry.get("text", "")):
        digest.feed(value)
    return digest.end()


def chained(card, bout, desks, entries):
    """The entries, each with its prior; a desk's stand in the order of their numbers, from 1 on."""
    heads = {desk["desk"]: desk_digest(card, bout, desk) for desk in desks}
    linked = []
    for entry in entries:
        prior = heads[entry["desk"]]
        heads[entry["desk"]] = entry_digest(entry, prior)
        linked.append({**entry, "prior": prior.hex()})
    return linked, heads
