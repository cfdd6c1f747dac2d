-- Schema 3. With a scale's calibration every recorded weight gives its raw count back: counts = weight / g_per_count + zero_count.

CREATE TABLE scale_calibration (  -- what a count of each load cell weighed in a session; scales that count nothing have no row
    session_id  INTEGER NOT NULL,
    scale       TEXT NOT NULL,
    calibration TEXT NOT NULL,    -- its name in the book of calibrations; empty: the chamber file named none
    zero_count  REAL NOT NULL,
    g_per_count REAL NOT NULL,
    PRIMARY KEY (session_id, scale)
) STRICT, WITHOUT ROWID;
