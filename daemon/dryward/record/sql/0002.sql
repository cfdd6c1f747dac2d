-- Schema 2: table `lost` with its key's columns in front. SQLite 3.40 (that of Debian 12) takes every row of a STRICT,
-- WITHOUT ROWID table whose key is not its first columns for damage in PRAGMA integrity_check, and no backup would be believed.

CREATE TABLE lost_anew (        -- readings the engine saw that could not be kept, or were thinned out to their spans
    from_tick INTEGER NOT NULL,
    why       TEXT NOT NULL,
    to_tick   INTEGER NOT NULL,
    readings  INTEGER NOT NULL,
    PRIMARY KEY (from_tick, why)
) STRICT, WITHOUT ROWID;
INSERT INTO lost_anew (from_tick, why, to_tick, readings) SELECT from_tick, why, to_tick, readings FROM lost;
DROP TABLE lost;
ALTER TABLE lost_anew RENAME TO lost;
