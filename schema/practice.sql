-- practice.sql: what operators practised: a database of its own, since it is no part of any bout.
CREATE TABLE IF NOT EXISTS session (
    id              INTEGER PRIMARY KEY,
    at_ms           INTEGER NOT NULL,    -- UTC
    operator        TEXT NOT NULL,
    kind            TEXT NOT NULL CHECK (kind IN ('fingers', 'eyes')),
    level           TEXT NOT NULL CHECK (level IN ('slow', 'bout', 'burst')),
    seed            INTEGER NOT NULL,
    ran_ms          INTEGER NOT NULL,
    called          INTEGER NOT NULL,
    had             REAL NOT NULL,       -- of the calls; expected over all pairings, as all below
    first           REAL NOT NULL,       -- right when typed
    corrected       REAL NOT NULL,
    added           REAL NOT NULL,
    wrong_corner    REAL NOT NULL,
    wrong_limb      REAL NOT NULL,
    wrong_target    REAL NOT NULL,
    wrong_landed    REAL NOT NULL,
    reaction_ms     REAL,                -- median; NULL: not known
    reaction_p90_ms REAL
) STRICT;
CREATE INDEX IF NOT EXISTS session_operator ON session (operator, at_ms);

-- Which cell was answered by which; NULL: by none.
CREATE TABLE IF NOT EXISTS cell (
    session    INTEGER NOT NULL REFERENCES session (id) ON DELETE CASCADE,
    corner     TEXT NOT NULL,
    limb       TEXT NOT NULL,
    target     TEXT NOT NULL,
    hit_corner TEXT,
    hit_limb   TEXT,
    hit_target TEXT,
    count      INTEGER NOT NULL
) STRICT;
CREATE INDEX IF NOT EXISTS cell_session ON cell (session);
