-- Facts of the archive. Times are UTC, ISO 8601. `seal` is a digest of the row (scanner/archive/rows.py): `verify` finds
-- by it a bit that flipped inside the database. What a person is known by stands in `tasters` alone, so that it can be
-- erased in one place.

CREATE TABLE piles (                      -- the files that one `add` was given
    id       TEXT PRIMARY KEY,            -- twelve characters of SHA-256 over the digests of its files
    added_at TEXT NOT NULL,
    seal     BLOB
) STRICT;

CREATE TABLE originals (                  -- page files as given, and typed entries
    digest   TEXT PRIMARY KEY CHECK (length(digest) = 64),
    suffix   TEXT NOT NULL,               -- by its content: the file is originals/ab/abcd….suffix
    bytes    INTEGER NOT NULL,
    name     TEXT NOT NULL,               -- the file's name as given, without its folder
    pile     TEXT NOT NULL REFERENCES piles (id),
    added_at TEXT NOT NULL,
    seal     BLOB
) STRICT;

CREATE TABLE kits (                       -- kits/K7Q4M2/kit.json and layout.json, by SHA-256
    id             TEXT PRIMARY KEY,
    record_digest  TEXT NOT NULL,
    layout_digest  TEXT NOT NULL,
    record_pending TEXT,                  -- the digests that are about to take their place
    layout_pending TEXT,
    added_at       TEXT NOT NULL,
    seal           BLOB
) STRICT;

CREATE TABLE sittings (
    id         TEXT PRIMARY KEY,          -- the kit's, or for a typed result its own
    kit        TEXT REFERENCES kits (id),
    title      TEXT NOT NULL,
    date       TEXT NOT NULL,
    drink      TEXT,
    shuffle    TEXT NOT NULL CHECK (shuffle IN ('host', 'hand', 'twin')),
    keys       TEXT NOT NULL CHECK (keys IN ('own', 'shared', 'balanced')),
    glasses    INTEGER NOT NULL CHECK (glasses BETWEEN 3 AND 5),
    entered_by TEXT NOT NULL CHECK (entered_by IN ('kit', 'typed')),
    added_at   TEXT NOT NULL,
    seal       BLOB
) STRICT;

CREATE TABLE tasters (                    -- people, over all sittings
    id   INTEGER PRIMARY KEY,
    key  TEXT NOT NULL UNIQUE,            -- the id, or the name where there is none
    name TEXT NOT NULL,
    seal BLOB
) STRICT;

CREATE TABLE sittings_tasters (
    sitting   TEXT NOT NULL REFERENCES sittings (id),
    number    INTEGER NOT NULL,
    taster    INTEGER REFERENCES tasters (id),  -- NULL: erased
    erased_at TEXT,
    seal      BLOB,
    UNIQUE (sitting, number)
) STRICT;
CREATE INDEX sittings_of_taster ON sittings_tasters (taster);

CREATE TABLE drinks (                     -- drinks, over all sittings
    id          INTEGER PRIMARY KEY,
    key         TEXT NOT NULL UNIQUE,     -- the id, or the name where there is none
    name        TEXT NOT NULL,
    style       TEXT,
    abv_percent REAL,
    seal        BLOB
) STRICT;

CREATE TABLE sittings_drinks (
    sitting TEXT NOT NULL REFERENCES sittings (id),
    coaster INTEGER NOT NULL,
    drink   INTEGER NOT NULL REFERENCES drinks (id),
    seal    BLOB,
    UNIQUE (sitting, coaster)
) STRICT;
CREATE INDEX sittings_of_drink ON sittings_drinks (drink);

CREATE TABLE sheets (                     -- one row for each reading of a page
    id            INTEGER PRIMARY KEY,
    original      TEXT REFERENCES originals (digest),   -- NULL: erased
    page          INTEGER NOT NULL,
    kind          TEXT NOT NULL CHECK (kind IN ('page', 'row', 'key')),
    sitting       TEXT REFERENCES sittings (id),
    taster        INTEGER,
    role          TEXT,
    sheet         TEXT,                   -- such as K7Q4M2-0001-3
    outcome       TEXT NOT NULL CHECK (outcome IN ('read', 'foreign', 'unreadable')),
    reason        TEXT,
    told          TEXT,                   -- JSON: a row's order; a key's places and salt
    entered_by    TEXT NOT NULL CHECK (entered_by IN ('scan', 'typed')),
    added_at      TEXT NOT NULL,
    taken_back_at TEXT,
    superseded_by INTEGER REFERENCES sheets (id),
    conflict      INTEGER NOT NULL DEFAULT 0,
    left_over     INTEGER NOT NULL DEFAULT 0,           -- things on it that only a person can settle
    seal          BLOB,
    UNIQUE (original, page)
) STRICT;
CREATE INDEX sheets_of_sitting ON sheets (sitting, taster, taken_back_at, superseded_by, left_over);
CREATE INDEX readings_of_sheet ON sheets (sheet);

CREATE TABLE marks (                      -- as read; boxes that are empty have no row, their list is in layout.json
    sheet  INTEGER NOT NULL REFERENCES sheets (id),
    field  TEXT NOT NULL,
    option TEXT NOT NULL,
    state  TEXT NOT NULL CHECK (state IN ('marked', 'withdrawn', 'doubtful')),
    reason TEXT,
    PRIMARY KEY (sheet, field, option)
) STRICT, WITHOUT ROWID;

CREATE TABLE cutouts (                    -- cutouts/ab/abcd….png
    sheet  INTEGER NOT NULL REFERENCES sheets (id),
    kind   TEXT NOT NULL CHECK (kind IN ('writing', 'box')),
    field  TEXT NOT NULL,
    option TEXT NOT NULL,                 -- '' for a writing area
    digest TEXT NOT NULL,
    PRIMARY KEY (sheet, kind, field, option)
) STRICT, WITHOUT ROWID;

CREATE TABLE settlements (                -- what a person decided; the last word on a box holds
    id      INTEGER PRIMARY KEY,
    subject TEXT NOT NULL,                -- a sheet, or with field 'row' a kit and taster, such as K7Q4M2-0001
    field   TEXT NOT NULL,
    option  TEXT NOT NULL,                -- of a row: '' or the photograph, as DIGEST:PAGE
    before  TEXT NOT NULL,
    after   TEXT,                         -- NULL: the decision before was taken back
    who     TEXT NOT NULL,
    at      TEXT NOT NULL,
    seal    BLOB
) STRICT;
CREATE INDEX settlements_of_subject ON settlements (subject);

CREATE TABLE results (                    -- typed: claims and truth without any sheet
    id            INTEGER PRIMARY KEY,
    sitting       TEXT NOT NULL REFERENCES sittings (id),
    taster        INTEGER NOT NULL,
    claims        TEXT NOT NULL,          -- JSON: place → coaster number or null
    sure          TEXT NOT NULL,          -- JSON: place → word or null
    truth         TEXT NOT NULL,          -- JSON: place → coaster number
    correct       INTEGER NOT NULL,
    of            INTEGER NOT NULL,
    original      TEXT REFERENCES originals (digest),
    entered_by    TEXT NOT NULL CHECK (entered_by = 'typed'),
    added_at      TEXT NOT NULL,
    taken_back_at TEXT,
    seal          BLOB,
    UNIQUE (original)
) STRICT;
CREATE INDEX results_of_sitting ON results (sitting, taster);

CREATE TABLE waiting (                    -- sheets of kits that are not in the archive yet
    original TEXT NOT NULL REFERENCES originals (digest),
    page     INTEGER NOT NULL,
    kit      TEXT NOT NULL,
    reason   TEXT NOT NULL,
    added_at TEXT NOT NULL,
    seal     BLOB,
    UNIQUE (original, page)
) STRICT;
CREATE INDEX waiting_for_kit ON waiting (kit);
