-- 001-hub.sql: version 1 of the hub, in PostgreSQL.
--
-- The same log as in schema/NNN-*.sql, of many evenings: the same tables, columns and words, so that
-- one query serves both. Run by `ringtally hub init`, once, in one transaction. Entries lie in parts
-- by their bout, and whatever is asked for by bout touches one part. Flags are booleans here.
-- Nothing below needs more than PostgreSQL's common ground (no extension, no rule, no inheritance).

CREATE TABLE hub_version (
    version integer PRIMARY KEY,
    made    timestamptz NOT NULL DEFAULT now()
);

CREATE TABLE card (
    id     text PRIMARY KEY CHECK (id <> ''),
    title  text NOT NULL,
    date   text NOT NULL,    -- YYYY-MM-DD
    venue  text NOT NULL,
    loaded bigint GENERATED ALWAYS AS IDENTITY UNIQUE    -- the highest is the newest card
);
CREATE INDEX card_date ON card (date);    -- a season

CREATE TABLE bout (
    id       bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    card     text NOT NULL REFERENCES card (id),
    number   integer NOT NULL CHECK (number BETWEEN 1 AND 999),
    name     text GENERATED ALWAYS AS (card || '/' || number::text) STORED,
    weight   text NOT NULL,
    rules    text NOT NULL,
    rounds   integer CHECK (rounds BETWEEN 1 AND 20),    -- NULL: as the rules say
    terms    text NOT NULL,
    referee  text NOT NULL,
    -- Counts what came into the bout. Who adds entries raises it in the same transaction and numbers
    -- them by it; so they wait for each other, and a number is seen only when all below it are.
    arrivals bigint NOT NULL DEFAULT 0,
    UNIQUE (card, number)
) WITH (fillfactor = 50);
CREATE UNIQUE INDEX bout_name ON bout (name);
CREATE INDEX bout_rules ON bout (rules, card);    -- a rule set

CREATE TABLE corner (
    bout       bigint NOT NULL REFERENCES bout (id),
    corner     text NOT NULL CHECK (corner IN ('red', 'blue')),
    name       text NOT NULL,
    name_key   text NOT NULL,    -- the name without case and accents
    short_name text NOT NULL,
    stance     text NOT NULL,
    origin     text NOT NULL,
    record     text NOT NULL,
    PRIMARY KEY (bout, corner)
);
CREATE INDEX corner_name ON corner (name);    -- a fighter's bouts, across cards
CREATE INDEX corner_key ON corner (name_key, name);

-- Who is whom across spellings: what somebody looked at and said, never guessed. The newest word
-- about a pair of names holds.
CREATE TABLE same_person (
    id      bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    name    text NOT NULL,
    other   text NOT NULL CHECK (name <> other),
    same    boolean NOT NULL,
    said_by text NOT NULL CHECK (said_by <> ''),
    said    timestamptz NOT NULL DEFAULT now()
);

CREATE TABLE judge (
    bout bigint NOT NULL REFERENCES bout (id),
    seat integer NOT NULL CHECK (seat BETWEEN 1 AND 7),
    name text NOT NULL,
    PRIMARY KEY (bout, seat)
);

CREATE TABLE desk (
    id        bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    uid       text COLLATE "C" NOT NULL UNIQUE CHECK (uid ~ '^[0-9a-f]{32}$'),    -- in the world
    bout      bigint NOT NULL REFERENCES bout (id),
    operator  text NOT NULL,
    name      text NOT NULL,
    corners   text NOT NULL CHECK (corners IN ('', 'red', 'blue', 'both')),
    shadow    boolean NOT NULL,
    opened_ms bigint NOT NULL,
    continues bigint CHECK (continues < id),    -- the first desk of its chain
    UNIQUE (bout, id),
    FOREIGN KEY (bout, continues) REFERENCES desk (bout, id)
);

CREATE TABLE entry (
    bout         bigint NOT NULL,
    arrival      bigint NOT NULL,      -- rises in the order in which the bout's entries came here
    desk         bigint NOT NULL,
    seq          bigint NOT NULL CHECK (seq >= 1),
    utc_ms       bigint NOT NULL,
    at_ms        bigint NOT NULL,
    kind         text NOT NULL,
    act          text NOT NULL CHECK (act IN ('add', 'refine', 'amend', 'void', 'restore')),
    code         text NOT NULL,
    subject_desk bigint,
    subject_seq  bigint,
    undoes_desk  bigint,
    undoes_seq   bigint,
    round        integer NOT NULL CHECK (round BETWEEN 1 AND 20),
    elapsed_ms   integer NOT NULL CHECK (elapsed_ms BETWEEN 0 AND 3600000),
    off_clock    boolean NOT NULL,
    review       boolean NOT NULL,
    accepted     boolean NOT NULL,
    unsure       boolean NOT NULL,
    corner       text CHECK (corner IN ('red', 'blue')),
    limb         text,
    target       text,
    stance       text,
    position     text NOT NULL,
    outcome      text CHECK (outcome IN ('attempted', 'landed', 'blocked')),
    spinning     boolean,
    jumping      boolean,
    knockdown    boolean,
    value        bigint NOT NULL,
    text         text NOT NULL,
    prior        bytea CHECK (length(prior) = 32),    -- digest of its desk's entry before it, as
                                                      -- the desk's own log made it
    PRIMARY KEY (bout, desk, seq),
    -- What it names belongs to the same bout.
    FOREIGN KEY (bout, desk) REFERENCES desk (bout, id),
    FOREIGN KEY (bout, subject_desk) REFERENCES desk (bout, id),
    FOREIGN KEY (bout, undoes_desk) REFERENCES desk (bout, id),
    CHECK ((act = 'add') = (subject_desk IS NULL)),
    CHECK ((subject_desk IS NULL) = (subject_seq IS NULL)),
    CHECK ((undoes_desk IS NULL) = (undoes_seq IS NULL)),
    CHECK (kind <> 'strike' OR (corner IS NOT NULL AND limb IS NOT NULL AND target IS NOT NULL AND
                                stance IS NOT NULL AND outcome IS NOT NULL AND
                                spinning IS NOT NULL AND jumping IS NOT NULL AND
                                knockdown IS NOT NULL)),
    CHECK (NOT knockdown OR outcome = 'landed')
) PARTITION BY HASH (bout);
CREATE UNIQUE INDEX entry_arrival ON entry (bout, arrival);
CREATE INDEX entry_subject ON entry (bout, subject_desk, subject_seq) WHERE subject_desk IS NOT NULL;
CREATE INDEX entry_official ON entry (bout, utc_ms) WHERE kind = 'official';

-- Append-only, whoever writes.
CREATE FUNCTION entry_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'UPDATE' THEN
        RAISE EXCEPTION 'entries are never changed: a correction is a new entry'
              USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RAISE EXCEPTION 'entries are never deleted: a void is a new entry'
          USING ERRCODE = 'integrity_constraint_violation';
END $$;
CREATE TRIGGER entry_keep BEFORE UPDATE OR DELETE ON entry
    FOR EACH ROW EXECUTE FUNCTION entry_refuse();
CREATE TRIGGER entry_keep_all BEFORE TRUNCATE ON entry
    FOR EACH STATEMENT EXECUTE FUNCTION entry_refuse();
DO $$
BEGIN
    FOR part IN 0..15 LOOP
        EXECUTE format('CREATE TABLE entry_%s PARTITION OF entry '
                       'FOR VALUES WITH (MODULUS 16, REMAINDER %s)', part, part);
        EXECUTE format('CREATE TRIGGER entry_keep_all BEFORE TRUNCATE ON entry_%s '
                       'FOR EACH STATEMENT EXECUTE FUNCTION entry_refuse()', part);
    END LOOP;
END $$;

-- What a bout's chains of digests were at a moment: as in the local log.
CREATE TABLE seal (
    id        bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    bout      bigint NOT NULL REFERENCES bout (id),
    statement text NOT NULL,
    digest    bytea NOT NULL CHECK (length(digest) = 32),
    signature bytea CHECK (length(signature) = 64),
    UNIQUE (bout, digest)
);
CREATE FUNCTION seal_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'seals are never changed or deleted'
          USING ERRCODE = 'integrity_constraint_violation';
END $$;
CREATE TRIGGER seal_keep BEFORE UPDATE OR DELETE ON seal
    FOR EACH ROW EXECUTE FUNCTION seal_refuse();
CREATE TRIGGER seal_keep_all BEFORE TRUNCATE ON seal
    FOR EACH STATEMENT EXECUTE FUNCTION seal_refuse();

-- A desk is what entries and other logs name it by.
CREATE FUNCTION desk_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'desks are never changed' USING ERRCODE = 'integrity_constraint_violation';
END $$;
CREATE TRIGGER desk_keep BEFORE UPDATE OR DELETE ON desk
    FOR EACH ROW EXECUTE FUNCTION desk_refuse();
CREATE TRIGGER desk_keep_all BEFORE TRUNCATE ON desk
    FOR EACH STATEMENT EXECUTE FUNCTION desk_refuse();

-- Readers are woken with the name of the bout into which something came.
CREATE FUNCTION bout_arrived() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF new.arrivals < old.arrivals THEN
        RAISE EXCEPTION 'arrivals only rise: readers go by them'
              USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    PERFORM pg_notify('ringtally', new.name);
    RETURN NULL;
END $$;
CREATE TRIGGER bout_arrived AFTER UPDATE OF arrivals ON bout
    FOR EACH ROW EXECUTE FUNCTION bout_arrived();

-- Roles: what a login role may do it may as a member of these. They belong to the whole server, so
-- another hub on it may have made them.
DO $$
BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'ringtally_desk') THEN
        CREATE ROLE ringtally_desk NOLOGIN;
    END IF;
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'ringtally_reader') THEN
        CREATE ROLE ringtally_reader NOLOGIN;
    END IF;
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'ringtally_editor') THEN
        CREATE ROLE ringtally_editor NOLOGIN IN ROLE ringtally_reader;    -- says who is whom
    END IF;
END $$;

-- Which role works on which card. Who brings a card has it; others are let onto it by the hub's
-- operator, with a row here.
CREATE TABLE card_role (
    card text NOT NULL REFERENCES card (id),
    role name NOT NULL,
    PRIMARY KEY (card, role)
);
CREATE FUNCTION card_brought() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
    SET search_path FROM CURRENT AS $$
BEGIN
    INSERT INTO card_role (card, role) VALUES (new.id, session_user) ON CONFLICT DO NOTHING;
    RETURN NULL;
END $$;
CREATE TRIGGER card_brought AFTER INSERT ON card
    FOR EACH ROW EXECUTE FUNCTION card_brought();

GRANT SELECT ON hub_version, card, bout, corner, judge, desk, entry, seal, card_role, same_person
    TO ringtally_desk, ringtally_reader;
GRANT INSERT ON card, bout, corner, judge, desk, entry, seal TO ringtally_desk;
GRANT UPDATE (arrivals) ON bout TO ringtally_desk;
GRANT INSERT ON same_person TO ringtally_editor;

ALTER TABLE card ENABLE ROW LEVEL SECURITY;
ALTER TABLE bout ENABLE ROW LEVEL SECURITY;
ALTER TABLE corner ENABLE ROW LEVEL SECURITY;
ALTER TABLE judge ENABLE ROW LEVEL SECURITY;
ALTER TABLE desk ENABLE ROW LEVEL SECURITY;
ALTER TABLE entry ENABLE ROW LEVEL SECURITY;
ALTER TABLE seal ENABLE ROW LEVEL SECURITY;
CREATE POLICY reader ON card FOR SELECT TO ringtally_reader USING (true);
CREATE POLICY reader ON bout FOR SELECT TO ringtally_reader USING (true);
CREATE POLICY reader ON corner FOR SELECT TO ringtally_reader USING (true);
CREATE POLICY reader ON judge FOR SELECT TO ringtally_reader USING (true);
CREATE POLICY reader ON desk FOR SELECT TO ringtally_reader USING (true);
CREATE POLICY reader ON entry FOR SELECT TO ringtally_reader USING (true);
CREATE POLICY reader ON seal FOR SELECT TO ringtally_reader USING (true);
-- A desk reads and adds to its own cards; a new card anybody may bring. What belongs to a bout is
-- seen where the bout is.
CREATE POLICY desk_brings ON card FOR INSERT TO ringtally_desk WITH CHECK (true);
CREATE POLICY desk ON card FOR SELECT TO ringtally_desk
    USING (EXISTS (SELECT FROM card_role AS r
                   WHERE r.card = card.id AND pg_has_role(r.role, 'member')));
CREATE POLICY desk ON bout TO ringtally_desk
    USING (EXISTS (SELECT FROM card_role AS r
                   WHERE r.card = bout.card AND pg_has_role(r.role, 'member')));
CREATE POLICY desk ON corner TO ringtally_desk
    USING (EXISTS (SELECT FROM bout AS b WHERE b.id = corner.bout));
CREATE POLICY desk ON judge TO ringtally_desk
    USING (EXISTS (SELECT FROM bout AS b WHERE b.id = judge.bout));
CREATE POLICY desk ON desk TO ringtally_desk
    USING (EXISTS (SELECT FROM bout AS b WHERE b.id = desk.bout));
CREATE POLICY desk ON entry TO ringtally_desk
    USING (EXISTS (SELECT FROM bout AS b WHERE b.id = entry.bout));
CREATE POLICY desk ON seal TO ringtally_desk
    USING (EXISTS (SELECT FROM bout AS b WHERE b.id = seal.bout));
