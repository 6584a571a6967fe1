//! The shelf on disk: riffs, their tags, sources and history in SQLite. Nothing else knows SQL.
