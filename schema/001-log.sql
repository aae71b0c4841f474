-- 001-log.sql: version 1 of the database.
--
-- Run once, in one transaction that also sets application_id and user_version. Words of the trade
-- (limbs, targets, codes, ...) are stored as text so that any SQLite tool reads them. Which words
-- there are the program checks, so that a new limb needs no new table. Moments are milliseconds
-- since 1970 in UTC (*_ms); spans are milliseconds.

-- The evening's list of bouts.
CREATE TABLE card (
    id     TEXT PRIMARY KEY CHECK (id <> ''),
    title  TEXT NOT NULL,
    date   TEXT NOT NULL,             -- YYYY-MM-DD
    venue  TEXT NOT NULL,
    loaded INTEGER NOT NULL UNIQUE    -- rises with every loading: the highest is the newest card
) STRICT, WITHOUT ROWID;

CREATE TABLE bout (
    id      INTEGER PRIMARY KEY AUTOINCREMENT,
    card    TEXT NOT NULL REFERENCES card (id),
    number  INTEGER NOT NULL CHECK (number BETWEEN 1 AND 999),
    name    TEXT GENERATED ALWAYS AS (card || '/' || number) VIRTUAL,
    weight  TEXT NOT NULL,
    rules   TEXT NOT NULL,
    rounds  INTEGER CHECK (rounds BETWEEN 1 AND 20),   -- NULL: as the rules say
    terms   TEXT NOT NULL,    -- where the bout differs from its rules: 'scoring.open = yes, ...'
    referee TEXT NOT NULL,
    UNIQUE (card, number)
) STRICT;
CREATE UNIQUE INDEX bout_name ON bout (name);

-- The two fighters of a bout.
CREATE TABLE corner (
    bout       INTEGER NOT NULL REFERENCES bout (id) ON DELETE CASCADE,
    corner     TEXT NOT NULL CHECK (corner IN ('red', 'blue')),
    name       TEXT NOT NULL,
    short_name TEXT NOT NULL,    -- for the panel, at most 12 terminal columns
    stance     TEXT NOT NULL,    -- at the start
    origin     TEXT NOT NULL,
    record     TEXT NOT NULL,    -- as announced: '14-2-0'
    PRIMARY KEY (bout, corner)
) STRICT, WITHOUT ROWID;
CREATE INDEX corner_name ON corner (name);    -- a fighter's bouts, across cards

CREATE TABLE judge (
    bout INTEGER NOT NULL REFERENCES bout (id) ON DELETE CASCADE,
    seat INTEGER NOT NULL CHECK (seat BETWEEN 1 AND 7),
    name TEXT NOT NULL,
    PRIMARY KEY (bout, seat)
) STRICT, WITHOUT ROWID;

-- One operator's session on one bout.
CREATE TABLE desk (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,    -- never used again: a lock file counts on it
    uid       TEXT NOT NULL UNIQUE CHECK (length(uid) = 32),    -- unique in the world
    bout      INTEGER NOT NULL REFERENCES bout (id),
    operator  TEXT NOT NULL,
    name      TEXT NOT NULL,    -- what people call it
    corners   TEXT NOT NULL CHECK (corners IN ('', 'red', 'blue', 'both')),    -- that it tags
    shadow    INTEGER NOT NULL CHECK (shadow IN (0, 1)),
    opened_ms INTEGER NOT NULL,
    -- The first desk of the chain that this one goes on from after a crash; both count as one.
    continues INTEGER REFERENCES desk (id) CHECK (continues < id)
) STRICT;
CREATE INDEX desk_bout ON desk (bout);

-- Everything that happened at a desk, append-only. A correction is a newer entry that names its
-- subject and carries the whole content as it is to be from then on.
CREATE TABLE entry (
    desk         INTEGER NOT NULL REFERENCES desk (id),
    seq          INTEGER NOT NULL CHECK (seq >= 1),    -- number at the desk
    utc_ms       INTEGER NOT NULL,    -- when the key was read
    at_ms        INTEGER NOT NULL,    -- the moment spoken of: utc_ms, but for an inserted strike
    kind         TEXT NOT NULL,       -- strike stance position clock incident note official ...
    act          TEXT NOT NULL CHECK (act IN ('add', 'refine', 'amend', 'void', 'restore')),
    code         TEXT NOT NULL,       -- what of its kind: start, stop, warning, ...; '': none
    subject_desk INTEGER REFERENCES desk (id),    -- what it corrects; NULL where act = 'add'
    subject_seq  INTEGER,
    undoes_desk  INTEGER REFERENCES desk (id),    -- the entry that its keystroke takes back or
    undoes_seq   INTEGER,                         -- brings back; NULL: none
    round        INTEGER NOT NULL CHECK (round BETWEEN 1 AND 20),
    elapsed_ms   INTEGER NOT NULL CHECK (elapsed_ms BETWEEN 0 AND 3600000),    -- of the round
    off_clock    INTEGER NOT NULL CHECK (off_clock IN (0, 1)),    -- the round clock stood still
    review       INTEGER NOT NULL CHECK (review IN (0, 1)),       -- flagged for review
    accepted     INTEGER NOT NULL CHECK (accepted IN (0, 1)),     -- looked at, and let stand
    corner       TEXT CHECK (corner IN ('red', 'blue')),    -- NULL here and below: the kind has none
    limb         TEXT,
    target       TEXT,
    stance       TEXT,
    position     TEXT NOT NULL,    -- open or clinch
    outcome      TEXT CHECK (outcome IN ('attempted', 'landed', 'blocked')),
    spinning     INTEGER CHECK (spinning IN (0, 1)),
    jumping      INTEGER CHECK (jumping IN (0, 1)),
    knockdown    INTEGER CHECK (knockdown IN (0, 1)),
    value        INTEGER NOT NULL,    -- points deducted, milliseconds nudged; else 0
    text         TEXT NOT NULL,
    PRIMARY KEY (desk, seq),
    CHECK ((act = 'add') = (subject_desk IS NULL)),
    CHECK ((subject_desk IS NULL) = (subject_seq IS NULL)),
    CHECK ((undoes_desk IS NULL) = (undoes_seq IS NULL)),
    CHECK (kind <> 'strike' OR (corner IS NOT NULL AND limb IS NOT NULL AND target IS NOT NULL AND
                                stance IS NOT NULL AND outcome IS NOT NULL AND
                                spinning IS NOT NULL AND jumping IS NOT NULL AND
                                knockdown IS NOT NULL)),
    CHECK (NOT knockdown OR outcome = 'landed')
) STRICT, WITHOUT ROWID;

-- The few rows that are looked for by what they say.
CREATE INDEX entry_subject ON entry (subject_desk, subject_seq) WHERE subject_desk IS NOT NULL;
CREATE INDEX entry_official ON entry (desk, utc_ms) WHERE kind = 'official';

-- Append-only, whichever program writes. (INSERT OR REPLACE deletes without asking the DELETE
-- trigger, so an insert asks too.)
CREATE TRIGGER entry_insert BEFORE INSERT ON entry
WHEN EXISTS (SELECT 1 FROM entry WHERE desk = new.desk AND seq = new.seq)
BEGIN
    SELECT raise(ABORT, 'this entry exists already: entries are never changed');
END;
CREATE TRIGGER entry_update BEFORE UPDATE ON entry
BEGIN
    SELECT raise(ABORT, 'entries are never changed: a correction is a new entry');
END;
CREATE TRIGGER entry_delete BEFORE DELETE ON entry
BEGIN
    SELECT raise(ABORT, 'entries are never deleted: a void is a new entry');
END;
-- What it names belongs to the same bout.
CREATE TRIGGER entry_bout BEFORE INSERT ON entry
WHEN new.subject_desk <> new.desk OR new.undoes_desk <> new.desk
BEGIN
    SELECT raise(ABORT, 'it names an entry of another bout')
    FROM desk AS own, desk AS named
    WHERE own.id = new.desk AND named.id IN (new.subject_desk, new.undoes_desk) AND
          named.bout <> own.bout;
END;
-- A desk is what entries and other logs name it by.
CREATE TRIGGER desk_update BEFORE UPDATE ON desk
BEGIN
    SELECT raise(ABORT, 'desks are never changed');
END;
