-- Schema 1. Times: `tick` counts the engine's decisions, chamber seconds = tick x session.period_s (never moved by the
-- wall clock); `utc` is RFC 3339 text. Booleans are 0 or 1. `seq` is the place within the tick: order is part of an input.
-- SQLite can hold neither NaN nor minus zero in a REAL: `*_odd` ('nan', '-0') keeps what the number was.

CREATE TABLE session (          -- one start of the daemon
    session_id         INTEGER PRIMARY KEY,
    boot_id            TEXT NOT NULL,
    version            TEXT NOT NULL,
    chamber_name       TEXT NOT NULL,
    chamber            TEXT NOT NULL,      -- the whole configuration, JSON
    period_s           REAL NOT NULL,
    first_tick         INTEGER NOT NULL,
    last_tick          INTEGER NOT NULL,   -- last tick that is durable
    begun_utc          TEXT NOT NULL,
    clock_synchronised INTEGER NOT NULL,
    start_state        TEXT,               -- engine state before first_tick, JSON; NULL: began afresh
    carried_from       TEXT NOT NULL DEFAULT '',  -- file that was set aside just before
    closed             INTEGER NOT NULL DEFAULT 0 -- 1: ended in order, 0: killed, powered off, or still running
) STRICT;

CREATE TABLE clock (            -- what the wall clock said at a tick: regularly, and whenever it stepped
    tick          INTEGER PRIMARY KEY,
    session_id    INTEGER NOT NULL,
    chamber_s     REAL NOT NULL,
    utc           TEXT NOT NULL,
    utc_s         REAL NOT NULL,
    synchronised  INTEGER NOT NULL
) STRICT;

CREATE TABLE channel (          -- names of what is measured or computed
    channel_id INTEGER PRIMARY KEY,
    kind       TEXT NOT NULL,              -- sensor, scale, figure (computed by the engine)
    name       TEXT NOT NULL,
    role       TEXT NOT NULL DEFAULT '',   -- of a sensor
    unit       TEXT NOT NULL DEFAULT '',
    UNIQUE (kind, name)
) STRICT;

CREATE TABLE reading_note (     -- rare remarks on a reading, kept once
    note_id   INTEGER PRIMARY KEY,
    fault     TEXT NOT NULL,
    value_odd TEXT NOT NULL,
    UNIQUE (fault, value_odd)
) STRICT;

CREATE TABLE reading (          -- every sample the engine saw, in the order it saw them; about 31 bytes each
    reading_id INTEGER PRIMARY KEY,        -- tick * 4096 + seq: search by this, 'reading_id >= 4096 * TICK' is quick
    channel_id INTEGER NOT NULL,
    value      REAL,                       -- NULL: failed
    sampled_s  REAL,                       -- chamber seconds when the sample was taken; NULL: not a number
    note_id    INTEGER,
    tick       INTEGER GENERATED ALWAYS AS (reading_id >> 12) VIRTUAL
) STRICT;

CREATE TABLE span (             -- low, mean and high of the readings of five minutes, kept for ever
    channel_id INTEGER NOT NULL,
    from_tick  INTEGER NOT NULL,
    ticks      INTEGER NOT NULL,           -- length of the span
    n          INTEGER NOT NULL,           -- good readings
    failed     INTEGER NOT NULL,
    low        REAL,
    high       REAL,
    total      REAL,                       -- mean = total / n
    PRIMARY KEY (channel_id, from_tick, ticks)
) STRICT, WITHOUT ROWID;

CREATE TABLE figure (           -- what the engine computed, at the pace the service chose; a value holds until the next
    tick       INTEGER NOT NULL,
    channel_id INTEGER NOT NULL,
    value      REAL,
    PRIMARY KEY (tick, channel_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE weighing (         -- weights played from a recording; what people typed is in `request`, both in view `weigh_in`
    tick       INTEGER NOT NULL,
    seq        INTEGER NOT NULL,
    piece      TEXT NOT NULL,
    weight_g   REAL,
    weight_odd TEXT,
    sampled_s  REAL,
    PRIMARY KEY (tick, seq)
) STRICT, WITHOUT ROWID;

CREATE TABLE request (          -- what somebody asked for
    tick       INTEGER NOT NULL,
    seq        INTEGER NOT NULL,
    utc        TEXT NOT NULL,
    request_id TEXT NOT NULL,
    verb       TEXT NOT NULL,
    who        TEXT NOT NULL,
    origin     TEXT NOT NULL,
    ask        TEXT NOT NULL,              -- JSON
    PRIMARY KEY (tick, seq)
) STRICT, WITHOUT ROWID;

CREATE TABLE reply (
    tick       INTEGER NOT NULL,
    seq        INTEGER NOT NULL,
    request_id TEXT NOT NULL,
    accepted   INTEGER NOT NULL,
    text       TEXT NOT NULL,
    PRIMARY KEY (tick, seq)
) STRICT, WITHOUT ROWID;
CREATE INDEX reply_by_request ON reply (request_id);

CREATE TABLE notice (           -- what the daemon found out about itself
    tick      INTEGER NOT NULL,
    seq       INTEGER NOT NULL,
    utc       TEXT NOT NULL,
    kind      TEXT NOT NULL,
    value     REAL,
    value_odd TEXT,
    text      TEXT NOT NULL,
    PRIMARY KEY (tick, seq)
) STRICT, WITHOUT ROWID;

CREATE TABLE event (            -- what the engine decided to tell
    tick      INTEGER NOT NULL,
    seq       INTEGER NOT NULL,
    utc       TEXT NOT NULL,
    kind      TEXT NOT NULL,
    subject   TEXT NOT NULL,
    severity  TEXT NOT NULL,               -- log, notice, warning, alarm, trip
    text      TEXT NOT NULL,
    meaning   TEXT NOT NULL,               -- for the meat
    advice    TEXT NOT NULL,               -- what to do now
    value     REAL,
    value_odd TEXT,
    PRIMARY KEY (tick, seq)
) STRICT, WITHOUT ROWID;

CREATE TABLE output_change (    -- an output was wanted on or off from this tick
    tick   INTEGER NOT NULL,
    output TEXT NOT NULL,
    is_on  INTEGER NOT NULL,
    PRIMARY KEY (tick, output)
) STRICT, WITHOUT ROWID;

CREATE TABLE skipped (          -- ticks that were never executed (the machine was late)
    from_tick INTEGER PRIMARY KEY,
    to_tick   INTEGER NOT NULL
) STRICT;

CREATE TABLE lost (             -- readings the engine saw that could not be kept, or were thinned out to their spans
    from_tick INTEGER NOT NULL,
    to_tick   INTEGER NOT NULL,
    readings  INTEGER NOT NULL,
    why       TEXT NOT NULL,
    PRIMARY KEY (from_tick, why)
) STRICT, WITHOUT ROWID;

CREATE TABLE refused (          -- entries that the tables would not take, as text
    tick INTEGER NOT NULL,
    why  TEXT NOT NULL,
    what TEXT NOT NULL
) STRICT;

CREATE TABLE checkpoint (       -- the newest engine state, and the one before
    slot         INTEGER PRIMARY KEY,
    session_id   INTEGER NOT NULL,
    tick         INTEGER NOT NULL,
    state        TEXT NOT NULL,            -- JSON
    boot_id      TEXT NOT NULL,
    boottime_s   REAL NOT NULL,            -- CLOCK_BOOTTIME
    utc          TEXT NOT NULL,
    utc_s        REAL NOT NULL,
    synchronised INTEGER NOT NULL
) STRICT;

CREATE TABLE run (
    run_id       TEXT PRIMARY KEY,
    session_id   INTEGER NOT NULL,
    program_name TEXT NOT NULL,
    program      TEXT NOT NULL,            -- JSON
    pieces       TEXT NOT NULL,            -- JSON, as loaded
    start_tick   INTEGER NOT NULL,
    start_utc    TEXT NOT NULL,
    end_tick     INTEGER,
    end_utc      TEXT,
    end_state    TEXT NOT NULL DEFAULT '', -- complete, stopped, aborted; empty: no end was recorded
    end_reason   TEXT NOT NULL DEFAULT '',
    start_state  TEXT                      -- engine state before start_tick, JSON
) STRICT;
CREATE INDEX run_by_start ON run (start_tick);

CREATE TABLE run_step (
    run_id     TEXT NOT NULL,
    step_no    INTEGER NOT NULL,           -- from 0
    name       TEXT NOT NULL,
    began_tick INTEGER NOT NULL,
    began_utc  TEXT NOT NULL,
    ended_tick INTEGER,
    ended_utc  TEXT,
    end_reason TEXT NOT NULL DEFAULT '',
    PRIMARY KEY (run_id, step_no)
) STRICT, WITHOUT ROWID;

CREATE TABLE piece (            -- a piece in a run
    run_id          TEXT NOT NULL,
    piece_no        INTEGER NOT NULL,
    name            TEXT NOT NULL,
    green_g         REAL NOT NULL,
    target_loss_pct REAL NOT NULL,
    target_g        REAL NOT NULL,
    scale           TEXT,
    cut             TEXT NOT NULL DEFAULT '',
    final_g         REAL,
    reached_tick    INTEGER,
    reached_utc     TEXT,
    crossed_s       REAL,                  -- chamber seconds at which the target was crossed
    out_tick        INTEGER,
    out_utc         TEXT,
    PRIMARY KEY (run_id, piece_no)
) STRICT, WITHOUT ROWID;

CREATE TABLE planned_start (
    plan_id      TEXT PRIMARY KEY,
    program_name TEXT NOT NULL,
    program      TEXT NOT NULL,            -- JSON
    at_utc       TEXT NOT NULL,
    who          TEXT NOT NULL,
    asked_utc    TEXT NOT NULL,
    outcome      TEXT NOT NULL DEFAULT ''  -- empty: still waiting
) STRICT;

CREATE TABLE note (             -- what people wrote about a run or a piece, also long after
    note_id INTEGER PRIMARY KEY,
    run_id  TEXT NOT NULL,
    piece   TEXT NOT NULL,                 -- empty: about the whole run
    utc     TEXT NOT NULL,
    who     TEXT NOT NULL,
    text    TEXT NOT NULL,
    photo   TEXT NOT NULL,                 -- name of a file
    tags    TEXT NOT NULL                  -- separated by spaces
) STRICT;
CREATE INDEX note_by_run ON note (run_id);
