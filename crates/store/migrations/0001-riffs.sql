-- The shelf: riffs with their history, tags, imports, fingerprints and words to search.
-- This text has been shipped and never changes; what comes later is a migration of its own.
-- Instants are milliseconds since 1970-01-01T00:00:00Z.

-- A riff as it stands: what lists, filters and sorting need. Its text is in its newest edition.
-- Numbers of riffs are never used twice.
CREATE TABLE riff (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    edition    INTEGER NOT NULL CHECK (edition >= 1),
    removed    INTEGER NOT NULL CHECK (removed IN (0, 1)),
    title      TEXT    NOT NULL,
    key        TEXT    NOT NULL,
    meter      TEXT    NOT NULL,
    notes      INTEGER NOT NULL CHECK (notes >= 0),
    degrees    INTEGER NOT NULL CHECK (degrees BETWEEN 0 AND 4095),
    permission TEXT    NOT NULL CHECK (permission IN
                   ('own work', 'public domain', 'with permission', 'for class only', 'unknown')),
    added      INTEGER NOT NULL,
    changed    INTEGER NOT NULL
) STRICT;

CREATE INDEX riff_by_degrees ON riff (degrees, removed);

-- Every state that a riff ever had, the newest included.
CREATE TABLE edition (
    id         INTEGER PRIMARY KEY,
    riff       INTEGER NOT NULL REFERENCES riff (id) ON DELETE CASCADE,
    number     INTEGER NOT NULL CHECK (number >= 1),
    at         INTEGER NOT NULL,
    did        TEXT    NOT NULL,
    removed    INTEGER NOT NULL CHECK (removed IN (0, 1)),
    title      TEXT    NOT NULL,
    notation   TEXT    NOT NULL,
    source     TEXT    NOT NULL,
    permission TEXT    NOT NULL,
    note       TEXT    NOT NULL,
    tags       TEXT    NOT NULL, -- one a line, in order
    UNIQUE (riff, number)
) STRICT;

-- `folded` is the tag without regard to capitals.
CREATE TABLE tag (
    id     INTEGER PRIMARY KEY,
    folded TEXT NOT NULL UNIQUE,
    name   TEXT NOT NULL
) STRICT;

CREATE TABLE riff_tag (
    riff INTEGER NOT NULL REFERENCES riff (id) ON DELETE CASCADE,
    tag  INTEGER NOT NULL REFERENCES tag (id),
    PRIMARY KEY (riff, tag)
) STRICT, WITHOUT ROWID;

CREATE INDEX riff_tag_by_tag ON riff_tag (tag);

-- Files that were read; `digest` says that the same bytes came before.
CREATE TABLE import (
    id     INTEGER PRIMARY KEY,
    riff   INTEGER NOT NULL REFERENCES riff (id) ON DELETE CASCADE,
    at     INTEGER NOT NULL,
    digest BLOB    NOT NULL,
    name   TEXT    NOT NULL,
    kind   TEXT    NOT NULL,
    kept   INTEGER NOT NULL CHECK (kept IN (0, 1)) -- 0: it held a riff that the shelf had already
) STRICT;

CREATE INDEX import_by_digest ON import (digest);
CREATE INDEX import_by_riff ON import (riff);

-- Fingerprints, as bytes of a stated version: whoever reads them knows what they mean.
CREATE TABLE print (
    riff     INTEGER PRIMARY KEY REFERENCES riff (id) ON DELETE CASCADE,
    version  INTEGER NOT NULL,
    likeness BLOB    NOT NULL,
    imprint  BLOB    NOT NULL
) STRICT;

CREATE INDEX print_by_likeness ON print (likeness);
CREATE INDEX print_by_version ON print (version);

-- Words of riffs, without their text: rowid is the riff. Emoji are words, diacritics are none.
CREATE VIRTUAL TABLE words USING fts5 (
    title, tags, source, note,
    content = '', contentless_delete = 1,
    tokenize = "unicode61 remove_diacritics 2 categories 'L* N* Co So Sk'"
);
