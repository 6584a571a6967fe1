-- The teacher's own necks, and settings such as learned tastes: named bodies of a stated version, whose
-- meaning is known to those who write and read them.
-- This text has been shipped and never changes; what comes later is a migration of its own.

CREATE TABLE neck (
    folded  TEXT    PRIMARY KEY,
    name    TEXT    NOT NULL,
    version INTEGER NOT NULL,
    body    TEXT    NOT NULL,
    changed INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE setting (
    name    TEXT    PRIMARY KEY,
    version INTEGER NOT NULL,
    body    BLOB    NOT NULL,
    changed INTEGER NOT NULL
) STRICT;

-- Orders of a list; the degrees are there so that a page of few riffs need not look into every riff.
CREATE INDEX riff_by_title ON riff (removed, title COLLATE NOCASE, degrees);
CREATE INDEX riff_by_changed ON riff (removed, changed, degrees);
