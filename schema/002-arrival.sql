-- 002-arrival.sql: version 2 of the database.
--
-- Entries are numbered as they arrive here, so that a reader knows what it has seen however late
-- another desk's entries come in; a strike may be marked unsure; a signed bout takes no entries.

-- Triggers and indexes would go along with the old table. (Views are gone while migrations run.)
DROP TRIGGER entry_insert;
DROP TRIGGER entry_update;
DROP TRIGGER entry_delete;
DROP TRIGGER entry_bout;
DROP INDEX entry_subject;
DROP INDEX entry_official;
ALTER TABLE entry RENAME TO entry_1;

-- Everything that happened at a desk, append-only. A correction is a newer entry that names its
-- subject and carries the whole content as it is to be from then on.
CREATE TABLE entry (
    arrival      INTEGER PRIMARY KEY,    -- rises in the order in which entries came into this
                                         -- database: what a reader has seen it knows by this
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
    unsure       INTEGER NOT NULL DEFAULT 0 CHECK (unsure IN (0, 1)),    -- not seen well
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
    UNIQUE (desk, seq),
    CHECK ((act = 'add') = (subject_desk IS NULL)),
    CHECK ((subject_desk IS NULL) = (subject_seq IS NULL)),
    CHECK ((undoes_desk IS NULL) = (undoes_seq IS NULL)),
    CHECK (kind <> 'strike' OR (corner IS NOT NULL AND limb IS NOT NULL AND target IS NOT NULL AND
                                stance IS NOT NULL AND outcome IS NOT NULL AND
                                spinning IS NOT NULL AND jumping IS NOT NULL AND
                                knockdown IS NOT NULL)),
    CHECK (NOT knockdown OR outcome = 'landed')
) STRICT;

-- How they came in before nobody knows; that a desk's entries came one after the other holds.
INSERT INTO entry (desk, seq, utc_ms, at_ms, kind, act, code, subject_desk, subject_seq,
                   undoes_desk, undoes_seq, round, elapsed_ms, off_clock, review, accepted, corner,
                   limb, target, stance, position, outcome, spinning, jumping, knockdown, value,
                   text)
SELECT desk, seq, utc_ms, at_ms, kind, act, code, subject_desk, subject_seq, undoes_desk,
       undoes_seq, round, elapsed_ms, off_clock, review, accepted, corner, limb, target, stance,
       position, outcome, spinning, jumping, knockdown, value, text
FROM entry_1 ORDER BY desk, seq;
DROP TABLE entry_1;

-- The few rows that are looked for by what they say.
CREATE INDEX entry_subject ON entry (subject_desk, subject_seq) WHERE subject_desk IS NOT NULL;
CREATE INDEX entry_official ON entry (desk, utc_ms) WHERE kind = 'official';
CREATE INDEX entry_sign ON entry (desk, utc_ms, seq) WHERE kind = 'sign';

-- Append-only, whichever program writes. (INSERT OR REPLACE deletes without asking the DELETE
-- trigger, so an insert asks too.)
CREATE TRIGGER entry_insert BEFORE INSERT ON entry
WHEN EXISTS (SELECT 1 FROM entry WHERE desk = new.desk AND seq = new.seq) OR
     EXISTS (SELECT 1 FROM entry WHERE arrival = new.arrival)
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

-- A row stands here only inside a transaction that unites logs: entries that were written
-- elsewhere are taken in even where the bout was signed here meanwhile.
CREATE TABLE uniting (
    here INTEGER PRIMARY KEY CHECK (here = 1)
) STRICT;
-- A signed bout takes nothing but its reopening. Its newest signature or reopening, in the one
-- order of a bout's entries, says which it is.
CREATE TRIGGER entry_signed BEFORE INSERT ON entry
WHEN NOT (new.kind = 'sign' AND new.code = 'reopen') AND NOT EXISTS (SELECT 1 FROM uniting)
BEGIN
    SELECT raise(ABORT, 'the record is signed: it takes no entries until it is reopened')
    WHERE (SELECT e.code
           FROM desk AS own JOIN desk AS d ON d.bout = own.bout JOIN entry AS e ON e.desk = d.id
           WHERE own.id = new.desk AND e.kind = 'sign'
           ORDER BY e.utc_ms DESC, d.uid DESC, e.seq DESC LIMIT 1) = 'sign';
END;

-- A desk goes on from the first of its chain, and from one of its own bout.
CREATE TRIGGER desk_chain BEFORE INSERT ON desk
WHEN EXISTS (SELECT 1 FROM desk
             WHERE id = new.continues AND (continues IS NOT NULL OR bout <> new.bout))
BEGIN
    SELECT raise(ABORT, 'a desk goes on from the first desk of a chain of its own bout');
END;
