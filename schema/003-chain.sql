-- 003-chain.sql: version 3 of the database.
--
-- Each entry carries the digest of its desk's entry before it, so that what is changed or taken out
-- later shows; seals say what the heads of these chains were at a moment.
--
-- Digests are BLAKE2b of 32 bytes over typed values (digest.h): of an entry the domain
-- 'ringtally entry 1', the desk's uid, seq, prior, then the columns of `entry` from utc_ms on to
-- text in their order, with the uid of a desk for its id; of a desk, which stands before its first
-- entry, 'ringtally desk 1', uid, the bout's card and number, operator, name, corners, shadow,
-- opened_ms, and the uid of the desk that it continues.

-- NULL: it came in without one, and its desk's entry before it was not here. (What stood here
-- before gets its digests right behind this step; a seal of the kind 'migration' says so.)
ALTER TABLE entry ADD COLUMN prior BLOB CHECK (length(prior) = 32);

-- What a bout's chains were at a moment.
CREATE TABLE seal (
    id        INTEGER PRIMARY KEY,
    bout      INTEGER NOT NULL REFERENCES bout (id),
    statement TEXT NOT NULL UNIQUE,    -- lines; seal.h says which
    digest    BLOB NOT NULL CHECK (length(digest) = 32),    -- of the statement, BLAKE2b
    signature BLOB CHECK (length(signature) = 64)    -- of the statement, Ed25519; NULL: no key
) STRICT;
CREATE INDEX seal_bout ON seal (bout);

-- Append-only, as entries are.
CREATE TRIGGER seal_insert BEFORE INSERT ON seal
WHEN EXISTS (SELECT 1 FROM seal WHERE id = new.id OR statement = new.statement)
BEGIN
    SELECT raise(ABORT, 'this seal exists already: seals are never changed');
END;
CREATE TRIGGER seal_update BEFORE UPDATE ON seal
BEGIN
    SELECT raise(ABORT, 'seals are never changed');
END;
CREATE TRIGGER seal_delete BEFORE DELETE ON seal
BEGIN
    SELECT raise(ABORT, 'seals are never deleted');
END;
