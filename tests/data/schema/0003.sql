BEGIN TRANSACTION;
CREATE TABLE channel (          -- names of what is measured or computed
    channel_id INTEGER PRIMARY KEY,
    kind       TEXT NOT NULL,              -- sensor, scale, figure (computed by the engine)
    name       TEXT NOT NULL,
    role       TEXT NOT NULL DEFAULT '',   -- of a sensor
    unit       TEXT NOT NULL DEFAULT '',
    UNIQUE (kind, name)
) STRICT;
INSERT INTO "channel" VALUES(1,'sensor','air','control-air','degC');
INSERT INTO "channel" VALUES(2,'sensor','top','limit-air','degC');
INSERT INTO "channel" VALUES(3,'sensor','damp','humidity','%RH');
INSERT INTO "channel" VALUES(4,'scale','hook','','g');
INSERT INTO "channel" VALUES(5,'figure','air_setpoint_c','','');
INSERT INTO "channel" VALUES(6,'figure','energy_kwh','','');
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
INSERT INTO "checkpoint" VALUES(1,1,400,'{"tick":400,"trips":[],"seen":{}}','boot-1',900.0,'2025-10-09T09:00:00.000Z',1760000400.0,1);
CREATE TABLE clock (            -- what the wall clock said at a tick: regularly, and whenever it stepped
    tick          INTEGER PRIMARY KEY,
    session_id    INTEGER NOT NULL,
    chamber_s     REAL NOT NULL,
    utc           TEXT NOT NULL,
    utc_s         REAL NOT NULL,
    synchronised  INTEGER NOT NULL
) STRICT;
INSERT INTO "clock" VALUES(0,1,0.0,'2025-10-09T08:53:20.000Z',1760000000.0,1);
INSERT INTO "clock" VALUES(60,1,60.0,'2025-10-09T08:54:20.000Z',1760000060.0,1);
INSERT INTO "clock" VALUES(120,1,120.0,'2025-10-09T08:55:20.000Z',1760000120.0,1);
INSERT INTO "clock" VALUES(180,1,180.0,'2025-10-09T08:56:20.000Z',1760000180.0,1);
INSERT INTO "clock" VALUES(240,1,240.0,'2025-10-09T08:57:20.000Z',1760000240.0,1);
INSERT INTO "clock" VALUES(300,1,300.0,'2025-10-09T08:58:20.000Z',1760000300.0,1);
INSERT INTO "clock" VALUES(360,1,360.0,'2025-10-09T08:59:20.000Z',1760000360.0,1);
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
INSERT INTO "event" VALUES(100,0,'2025-10-09T08:55:00.000Z','test','','alarm','The air was too hot.','It dries too fast.','Look.',NULL,'nan');
CREATE TABLE figure (           -- what the engine computed, at the pace the service chose; a value holds until the next
    tick       INTEGER NOT NULL,
    channel_id INTEGER NOT NULL,
    value      REAL,
    PRIMARY KEY (tick, channel_id)
) STRICT, WITHOUT ROWID;
INSERT INTO "figure" VALUES(0,5,50.0);
INSERT INTO "figure" VALUES(0,6,0.0);
INSERT INTO "figure" VALUES(60,6,0.06);
INSERT INTO "figure" VALUES(120,6,0.12);
INSERT INTO "figure" VALUES(180,6,0.18);
INSERT INTO "figure" VALUES(240,6,0.24);
INSERT INTO "figure" VALUES(300,6,0.3);
INSERT INTO "figure" VALUES(360,6,0.36);
CREATE TABLE "lost" (        -- readings the engine saw that could not be kept, or were thinned out to their spans
    from_tick INTEGER NOT NULL,
    why       TEXT NOT NULL,
    to_tick   INTEGER NOT NULL,
    readings  INTEGER NOT NULL,
    PRIMARY KEY (from_tick, why)
) STRICT, WITHOUT ROWID;
INSERT INTO "lost" VALUES(310,'the disk was full',320,4);
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
INSERT INTO "note" VALUES(1,'r1','loin-a','2025-10-09T08:58:20.000Z','Ana','Kruste hart, mild – gut','cut.jpg','tasting -thick');
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
INSERT INTO "notice" VALUES(150,0,'2025-10-09T08:55:50.000Z','clock-stepped',3.0,NULL,'by hand');
CREATE TABLE output_change (    -- an output was wanted on or off from this tick
    tick   INTEGER NOT NULL,
    output TEXT NOT NULL,
    is_on  INTEGER NOT NULL,
    PRIMARY KEY (tick, output)
) STRICT, WITHOUT ROWID;
INSERT INTO "output_change" VALUES(0,'fan',1);
INSERT INTO "output_change" VALUES(0,'heater',1);
INSERT INTO "output_change" VALUES(20,'heater',0);
INSERT INTO "output_change" VALUES(40,'heater',1);
INSERT INTO "output_change" VALUES(60,'heater',0);
INSERT INTO "output_change" VALUES(80,'heater',1);
INSERT INTO "output_change" VALUES(100,'heater',0);
INSERT INTO "output_change" VALUES(120,'heater',1);
INSERT INTO "output_change" VALUES(140,'heater',0);
INSERT INTO "output_change" VALUES(160,'heater',1);
INSERT INTO "output_change" VALUES(180,'heater',0);
INSERT INTO "output_change" VALUES(200,'heater',1);
INSERT INTO "output_change" VALUES(220,'heater',0);
INSERT INTO "output_change" VALUES(240,'heater',1);
INSERT INTO "output_change" VALUES(260,'heater',0);
INSERT INTO "output_change" VALUES(280,'heater',1);
INSERT INTO "output_change" VALUES(300,'heater',0);
INSERT INTO "output_change" VALUES(320,'heater',1);
INSERT INTO "output_change" VALUES(340,'heater',0);
INSERT INTO "output_change" VALUES(360,'heater',1);
INSERT INTO "output_change" VALUES(380,'heater',0);
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
INSERT INTO "piece" VALUES('r1',0,'loin-a',1000.0,35.0,650.0,NULL,'',648.0,200,'2025-10-09T08:56:40.000Z',199.5,200,'2025-10-09T08:56:40.000Z');
INSERT INTO "piece" VALUES('r1',1,'loin-b',812.5,38.0,503.75,NULL,'',500.0,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "piece" VALUES('r2',0,'loin-a',1000.0,35.0,650.0,NULL,'',NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "piece" VALUES('r2',1,'loin-b',812.5,38.0,503.75,NULL,'',NULL,NULL,NULL,NULL,NULL,NULL);
CREATE TABLE planned_start (
    plan_id      TEXT PRIMARY KEY,
    program_name TEXT NOT NULL,
    program      TEXT NOT NULL,            -- JSON
    at_utc       TEXT NOT NULL,
    who          TEXT NOT NULL,
    asked_utc    TEXT NOT NULL,
    outcome      TEXT NOT NULL DEFAULT ''  -- empty: still waiting
) STRICT;
INSERT INTO "planned_start" VALUES('p1','two-step','{"name":"two-step","steps":[{"name":"warm","ends":{"dwell_h":1.0,"loss_pct":null,"own_target":false,"pieces":"all","core_c":null,"cap_h":null,"when":"first"},"air_c":50.0,"ramp_k_per_h":null,"rh_pct":null,"band_k":3.0,"safe_air_low_c":null,"safe_air_high_c":null,"safe_rh_low_pct":null,"safe_rh_high_pct":null,"watch_only":false,"vent":"by-humidity"},{"name":"dry","ends":{"dwell_h":null,"loss_pct":null,"own_target":true,"pieces":"all","core_c":null,"cap_h":null,"when":"first"},"air_c":60.0,"ramp_k_per_h":null,"rh_pct":null,"band_k":3.0,"safe_air_low_c":null,"safe_air_high_c":null,"safe_rh_low_pct":null,"safe_rh_high_pct":null,"watch_only":false,"vent":"by-humidity"}],"cap_h":90.0,"at_end":{"action":"off","air_c":null,"max_h":4.0},"note":"","poultry":false}','2025-10-09T11:23:20.000Z','Ana','2025-10-09T08:53:21.000Z','dropped by Ana');
CREATE TABLE reading (          -- every sample the engine saw, in the order it saw them; about 31 bytes each
    reading_id INTEGER PRIMARY KEY,        -- tick * 4096 + seq: search by this, 'reading_id >= 4096 * TICK' is quick
    channel_id INTEGER NOT NULL,
    value      REAL,                       -- NULL: failed
    sampled_s  REAL,                       -- chamber seconds when the sample was taken; NULL: not a number
    note_id    INTEGER,
    tick       INTEGER GENERATED ALWAYS AS (reading_id >> 12) VIRTUAL
) STRICT;
INSERT INTO "reading" VALUES(0,1,50.0,-0.125,NULL);
INSERT INTO "reading" VALUES(1,4,900.0,0.0,NULL);
INSERT INTO "reading" VALUES(40960,1,50.1,9.875,NULL);
INSERT INTO "reading" VALUES(40961,4,890.0,10.0,NULL);
INSERT INTO "reading" VALUES(81920,1,50.2,19.875,NULL);
INSERT INTO "reading" VALUES(81921,4,880.0,20.0,NULL);
INSERT INTO "reading" VALUES(122880,1,50.3,29.875,NULL);
INSERT INTO "reading" VALUES(122881,4,870.0,30.0,NULL);
INSERT INTO "reading" VALUES(163840,1,50.4,39.875,NULL);
INSERT INTO "reading" VALUES(163841,4,860.0,40.0,NULL);
INSERT INTO "reading" VALUES(204800,1,NULL,49.875,1);
INSERT INTO "reading" VALUES(204801,4,850.0,50.0,NULL);
INSERT INTO "reading" VALUES(245760,1,0.0,59.875,2);
INSERT INTO "reading" VALUES(245761,4,840.0,60.0,NULL);
INSERT INTO "reading" VALUES(286720,1,50.7,69.875,NULL);
INSERT INTO "reading" VALUES(286721,4,830.0,70.0,NULL);
INSERT INTO "reading" VALUES(327680,1,50.8,79.875,NULL);
INSERT INTO "reading" VALUES(327681,4,820.0,80.0,NULL);
INSERT INTO "reading" VALUES(368640,1,50.9,89.875,NULL);
INSERT INTO "reading" VALUES(368641,4,810.0,90.0,NULL);
INSERT INTO "reading" VALUES(450560,1,51.1,109.875,NULL);
INSERT INTO "reading" VALUES(450561,4,790.0,110.0,NULL);
INSERT INTO "reading" VALUES(491520,1,51.2,119.875,NULL);
INSERT INTO "reading" VALUES(491521,4,780.0,120.0,NULL);
INSERT INTO "reading" VALUES(532480,1,51.3,129.875,NULL);
INSERT INTO "reading" VALUES(532481,4,770.0,130.0,NULL);
INSERT INTO "reading" VALUES(573440,1,51.4,139.875,NULL);
INSERT INTO "reading" VALUES(573441,4,760.0,140.0,NULL);
INSERT INTO "reading" VALUES(655360,1,51.6,159.875,NULL);
INSERT INTO "reading" VALUES(655361,4,740.0,160.0,NULL);
INSERT INTO "reading" VALUES(696320,1,51.7,169.875,NULL);
INSERT INTO "reading" VALUES(696321,4,730.0,170.0,NULL);
INSERT INTO "reading" VALUES(737280,1,51.8,179.875,NULL);
INSERT INTO "reading" VALUES(737281,4,720.0,180.0,NULL);
INSERT INTO "reading" VALUES(778240,1,51.9,189.875,NULL);
INSERT INTO "reading" VALUES(778241,4,710.0,190.0,NULL);
INSERT INTO "reading" VALUES(819200,1,52.0,199.875,NULL);
INSERT INTO "reading" VALUES(819201,4,700.0,200.0,NULL);
INSERT INTO "reading" VALUES(860160,1,52.1,209.875,NULL);
INSERT INTO "reading" VALUES(860161,4,690.0,210.0,NULL);
INSERT INTO "reading" VALUES(901120,1,52.2,219.875,NULL);
INSERT INTO "reading" VALUES(901121,4,680.0,220.0,NULL);
INSERT INTO "reading" VALUES(942080,1,52.3,229.875,NULL);
INSERT INTO "reading" VALUES(942081,4,670.0,230.0,NULL);
INSERT INTO "reading" VALUES(983040,1,52.4,239.875,NULL);
INSERT INTO "reading" VALUES(983041,4,660.0,240.0,NULL);
INSERT INTO "reading" VALUES(1064960,1,52.6,259.875,NULL);
INSERT INTO "reading" VALUES(1064961,4,640.0,260.0,NULL);
INSERT INTO "reading" VALUES(1105920,1,52.7,269.875,NULL);
INSERT INTO "reading" VALUES(1105921,4,630.0,270.0,NULL);
INSERT INTO "reading" VALUES(1146880,1,52.8,279.875,NULL);
INSERT INTO "reading" VALUES(1146881,4,620.0,280.0,NULL);
INSERT INTO "reading" VALUES(1187840,1,52.9,289.875,NULL);
INSERT INTO "reading" VALUES(1187841,4,610.0,290.0,NULL);
INSERT INTO "reading" VALUES(1228800,1,53.0,299.875,NULL);
INSERT INTO "reading" VALUES(1228801,4,600.0,300.0,NULL);
INSERT INTO "reading" VALUES(1269760,1,53.1,309.875,NULL);
INSERT INTO "reading" VALUES(1269761,4,590.0,310.0,NULL);
INSERT INTO "reading" VALUES(1310720,1,53.2,319.875,NULL);
INSERT INTO "reading" VALUES(1310721,4,580.0,320.0,NULL);
INSERT INTO "reading" VALUES(1351680,1,53.3,329.875,NULL);
INSERT INTO "reading" VALUES(1351681,4,570.0,330.0,NULL);
INSERT INTO "reading" VALUES(1392640,1,53.4,339.875,NULL);
INSERT INTO "reading" VALUES(1392641,4,560.0,340.0,NULL);
INSERT INTO "reading" VALUES(1433600,1,53.5,349.875,NULL);
INSERT INTO "reading" VALUES(1433601,4,550.0,350.0,NULL);
INSERT INTO "reading" VALUES(1474560,1,53.6,359.875,NULL);
INSERT INTO "reading" VALUES(1474561,4,540.0,360.0,NULL);
INSERT INTO "reading" VALUES(1515520,1,53.7,369.875,NULL);
INSERT INTO "reading" VALUES(1515521,4,530.0,370.0,NULL);
INSERT INTO "reading" VALUES(1556480,1,53.8,379.875,NULL);
INSERT INTO "reading" VALUES(1556481,4,520.0,380.0,NULL);
INSERT INTO "reading" VALUES(1597440,1,53.9,389.875,NULL);
INSERT INTO "reading" VALUES(1597441,4,510.0,390.0,NULL);
CREATE TABLE reading_note (     -- rare remarks on a reading, kept once
    note_id   INTEGER PRIMARY KEY,
    fault     TEXT NOT NULL,
    value_odd TEXT NOT NULL,
    UNIQUE (fault, value_odd)
) STRICT;
INSERT INTO "reading_note" VALUES(1,'crc','');
INSERT INTO "reading_note" VALUES(2,'','-0');
CREATE TABLE refused (          -- entries that the tables would not take, as text
    tick INTEGER NOT NULL,
    why  TEXT NOT NULL,
    what TEXT NOT NULL
) STRICT;
INSERT INTO "refused" VALUES(400,'cannot store TEXT value in REAL column weighing.sampled_s','Tick(tick=400, stamp=Stamp(utc_s=1760000400.0, boottime_s=900.0, synchronised=True), inputs=Inputs(readings=(), weighings=(Weighing(piece=''loin-b'', weight_g=1.0, sampled_s=1.0), Weighing(piece=''loin-b'', weight_g=1.0, sampled_s=''late'')), requests=(), notices=()), commands=Commands(on=frozenset(), events=(), replies=(), keep=False), marks=(), figures=None, skipped_from=None, switched=True)');
CREATE TABLE reply (
    tick       INTEGER NOT NULL,
    seq        INTEGER NOT NULL,
    request_id TEXT NOT NULL,
    accepted   INTEGER NOT NULL,
    text       TEXT NOT NULL,
    PRIMARY KEY (tick, seq)
) STRICT, WITHOUT ROWID;
INSERT INTO "reply" VALUES(100,0,'q1',1,'taken');
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
INSERT INTO "request" VALUES(100,0,'2025-10-09T08:55:00.000Z','q1','weigh','Ana','socket','{"verb":"weigh","piece":"loin-a","weight_g":700.0}');
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
INSERT INTO "run" VALUES('r1',1,'two-step','{"name":"two-step","steps":[{"name":"warm","ends":{"dwell_h":1.0,"loss_pct":null,"own_target":false,"pieces":"all","core_c":null,"cap_h":null,"when":"first"},"air_c":50.0,"ramp_k_per_h":null,"rh_pct":null,"band_k":3.0,"safe_air_low_c":null,"safe_air_high_c":null,"safe_rh_low_pct":null,"safe_rh_high_pct":null,"watch_only":false,"vent":"by-humidity"},{"name":"dry","ends":{"dwell_h":null,"loss_pct":null,"own_target":true,"pieces":"all","core_c":null,"cap_h":null,"when":"first"},"air_c":60.0,"ramp_k_per_h":null,"rh_pct":null,"band_k":3.0,"safe_air_low_c":null,"safe_air_high_c":null,"safe_rh_low_pct":null,"safe_rh_high_pct":null,"watch_only":false,"vent":"by-humidity"}],"cap_h":90.0,"at_end":{"action":"off","air_c":null,"max_h":4.0},"note":"","poultry":false}','[{"name":"loin-a","green_g":1000.0,"target_loss_pct":35.0,"scale":null,"thickness_mm":null,"cut":"","salt_pct":null},{"name":"loin-b","green_g":812.5,"target_loss_pct":38.0,"scale":null,"thickness_mm":null,"cut":"","salt_pct":null}]',1,'2025-10-09T08:53:21.000Z',300,'2025-10-09T08:58:20.000Z','complete','all pieces reached their target',NULL);
INSERT INTO "run" VALUES('r2',1,'two-step','{"name":"two-step","steps":[{"name":"warm","ends":{"dwell_h":1.0,"loss_pct":null,"own_target":false,"pieces":"all","core_c":null,"cap_h":null,"when":"first"},"air_c":50.0,"ramp_k_per_h":null,"rh_pct":null,"band_k":3.0,"safe_air_low_c":null,"safe_air_high_c":null,"safe_rh_low_pct":null,"safe_rh_high_pct":null,"watch_only":false,"vent":"by-humidity"},{"name":"dry","ends":{"dwell_h":null,"loss_pct":null,"own_target":true,"pieces":"all","core_c":null,"cap_h":null,"when":"first"},"air_c":60.0,"ramp_k_per_h":null,"rh_pct":null,"band_k":3.0,"safe_air_low_c":null,"safe_air_high_c":null,"safe_rh_low_pct":null,"safe_rh_high_pct":null,"watch_only":false,"vent":"by-humidity"}],"cap_h":90.0,"at_end":{"action":"off","air_c":null,"max_h":4.0},"note":"","poultry":false}','[{"name":"loin-a","green_g":1000.0,"target_loss_pct":35.0,"scale":null,"thickness_mm":null,"cut":"","salt_pct":null},{"name":"loin-b","green_g":812.5,"target_loss_pct":38.0,"scale":null,"thickness_mm":null,"cut":"","salt_pct":null}]',380,'2025-10-09T08:59:40.000Z',NULL,NULL,'','',NULL);
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
INSERT INTO "run_step" VALUES('r1',0,'warm',1,'2025-10-09T08:53:21.000Z',150,'2025-10-09T08:55:50.000Z','an hour is over');
INSERT INTO "run_step" VALUES('r1',1,'dry',150,'2025-10-09T08:55:50.000Z',300,'2025-10-09T08:58:20.000Z','all pieces reached their target');
INSERT INTO "run_step" VALUES('r2',0,'warm',380,'2025-10-09T08:59:40.000Z',NULL,NULL,'');
CREATE TABLE scale_calibration (  -- what a count of each load cell weighed in a session; scales that count nothing have no row
    session_id  INTEGER NOT NULL,
    scale       TEXT NOT NULL,
    calibration TEXT NOT NULL,    -- its name in the book of calibrations; empty: the chamber file named none
    zero_count  REAL NOT NULL,
    g_per_count REAL NOT NULL,
    PRIMARY KEY (session_id, scale)
) STRICT, WITHOUT ROWID;
INSERT INTO "scale_calibration" VALUES(1,'hook','hook-20251001',-8123.25,0.0097);
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
INSERT INTO "session" VALUES(1,'boot-1','0','shed-box','{"name":"shed-box","sensors":[{"name":"air","role":"control-air","device":"d1","reads":null,"rated_low":-40.0,"rated_high":125.0,"fresh_s":10.0,"reset_value":null,"offset":0.0},{"name":"top","role":"limit-air","device":"d2","reads":null,"rated_low":-40.0,"rated_high":125.0,"fresh_s":10.0,"reset_value":null,"offset":0.0},{"name":"damp","role":"humidity","device":"d3","reads":null,"rated_low":-40.0,"rated_high":125.0,"fresh_s":10.0,"reset_value":null,"offset":0.0}],"outputs":[{"name":"heater","gpio":null,"active_high":true,"safe_on":false,"min_on_s":0.0,"min_off_s":0.0,"power_w":500.0,"rated_operations":100000},{"name":"fan","gpio":null,"active_high":true,"safe_on":false,"min_on_s":0.0,"min_off_s":0.0,"power_w":0.0,"rated_operations":100000}],"scales":[{"name":"hook","device":"d4","reads":null,"carries":"piece","tare_g":0.0,"max_g":10000.0,"settle_s":2700.0,"drift_g_per_k":0.0,"tare_c":20.0}],"limits":{"max_air_c":90.0,"over_top_step_k":8.0,"over_setpoint_k":5.0,"over_setpoint_s":30.0,"over_setpoint_trip_s":180.0,"heat_stale_s":10.0,"trip_stale_s":60.0,"jump_k":5.0,"stuck_s":600.0,"stuck_k":0.1,"response_s":120.0,"response_k":2.0,"no_response_power_s":300.0,"below_band_k":5.0,"below_band_ks":600.0,"off_rise_k":2.0,"off_rise_s":60.0,"reversed_k":3.0,"reversed_s":180.0,"disagree_k":8.0,"disagree_s":60.0,"fan_feedback_s":10.0,"door_open_s":300.0,"outage_go_on_s":300.0,"outage_ramp_s":3600.0,"max_heating_h":240.0,"relay_notice_pct":70.0,"commissioning":false},"control":{"cycle_s":40.0,"pace":"calm","plant":null,"cool_band_k":0.8,"heat_cool_gap_k":0.5,"rh_band_pct":3.0,"fan_after_s":120.0,"stir_every_s":0.0,"stir_s":300.0,"airing_every_s":0.0,"airing_s":180.0,"defrost_every_s":0.0,"defrost_s":1200.0,"puff_s":10.0,"dew_margin_k":1.0},"period_s":1.0,"pressure_pa":101325.0,"humidity_low_pct":0.0}',1.0,0,400,'2025-10-09T08:53:20.000Z',1,'{"tick":-1}','',1);
CREATE TABLE skipped (          -- ticks that were never executed (the machine was late)
    from_tick INTEGER PRIMARY KEY,
    to_tick   INTEGER NOT NULL
) STRICT;
INSERT INTO "skipped" VALUES(250,250);
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
INSERT INTO "span" VALUES(1,0,300,26,1,0.0,52.9,1287.4);
INSERT INTO "span" VALUES(1,300,300,10,0,53.0,53.9,534.5);
INSERT INTO "span" VALUES(4,0,300,27,0,610.0,900.0,20450.0);
INSERT INTO "span" VALUES(4,300,300,10,0,510.0,600.0,5550.0);
CREATE TABLE weighing (         -- weights played from a recording; what people typed is in `request`, both in view `weigh_in`
    tick       INTEGER NOT NULL,
    seq        INTEGER NOT NULL,
    piece      TEXT NOT NULL,
    weight_g   REAL,
    weight_odd TEXT,
    sampled_s  REAL,
    PRIMARY KEY (tick, seq)
) STRICT, WITHOUT ROWID;
INSERT INTO "weighing" VALUES(100,0,'loin-b',600.0,NULL,99.5);
CREATE INDEX reply_by_request ON reply (request_id);
CREATE INDEX run_by_start ON run (start_tick);
CREATE INDEX note_by_run ON note (run_id);
CREATE VIEW tick_anchor AS      -- helper: the wall clock at the anchors, with the length of a tick
SELECT clock.tick, clock.utc_s, session.period_s, clock.session_id
FROM clock JOIN session USING (session_id);
CREATE VIEW weigh_in AS         -- every weight that was accepted: typed in, or played from a recording
SELECT weighing.tick, weighing.piece, weighing.weight_g, 'recording' AS who, 'weighing' AS via
FROM weighing
UNION ALL
SELECT request.tick, json_extract(ask, '$.piece'), json_extract(ask, '$.weight_g'), who, verb
FROM request JOIN reply USING (tick, request_id)
WHERE accepted = 1 AND verb IN ('weigh', 'pull') AND json_extract(ask, '$.weight_g') IS NOT NULL;
CREATE VIEW run_summary AS
SELECT run.run_id, run.program_name AS program, session.chamber_name AS chamber,
       run.start_utc, run.end_utc,
       round((coalesce(run.end_tick, session.last_tick) - run.start_tick) * session.period_s / 3600.0, 2) AS hours,
       CASE WHEN run.end_state = '' THEN 'no end recorded' ELSE run.end_state END AS ended,
       run.end_reason,
       p.pieces, p.reached, p.green_g, p.final_g,
       round(100.0 * (1.0 - p.final_g / p.weighed_green_g), 1) AS loss_pct,
       (SELECT count(*) FROM event WHERE severity = 'trip' AND tick BETWEEN run.start_tick AND coalesce(run.end_tick, 9e18)) AS trips,
       (SELECT count(*) FROM event WHERE severity = 'alarm' AND tick BETWEEN run.start_tick AND coalesce(run.end_tick, 9e18)) AS alarms
FROM run JOIN session USING (session_id)
LEFT JOIN (SELECT run_id, count(*) AS pieces, count(reached_tick) AS reached, sum(green_g) AS green_g, sum(final_g) AS final_g,
                  sum(CASE WHEN final_g IS NOT NULL THEN green_g END) AS weighed_green_g
           FROM piece GROUP BY run_id) AS p USING (run_id);
CREATE VIEW piece_summary AS
SELECT run_id, name AS piece, cut, green_g, target_loss_pct, round(target_g, 1) AS target_g, final_g,
       round(100.0 * (1.0 - final_g / green_g), 1) AS loss_pct,
       CASE WHEN reached_tick IS NOT NULL THEN 'reached'
            WHEN out_tick IS NOT NULL THEN 'taken out before its target'
            ELSE 'not reached' END AS how,
       reached_utc, out_utc
FROM piece;
CREATE VIEW reading_text AS     -- every reading with its name, unit and wall time
SELECT reading.tick,
       (SELECT strftime('%Y-%m-%dT%H:%M:%fZ', a.utc_s + (reading.tick - a.tick) * a.period_s, 'unixepoch')
        FROM tick_anchor AS a WHERE a.tick <= reading.tick ORDER BY a.tick DESC LIMIT 1) AS utc,
       channel.name AS channel, reading.value, channel.unit,
       coalesce(reading_note.fault, '') AS fault, reading.sampled_s
FROM reading JOIN channel USING (channel_id) LEFT JOIN reading_note USING (note_id);
CREATE VIEW readings_wide AS    -- one row a tick, one column a role; two sensors of a role: the careful one of them
SELECT reading.tick,
       (SELECT strftime('%Y-%m-%dT%H:%M:%fZ', a.utc_s + (reading.tick - a.tick) * a.period_s, 'unixepoch')
        FROM tick_anchor AS a WHERE a.tick <= reading.tick ORDER BY a.tick DESC LIMIT 1) AS utc,
       max(CASE role WHEN 'control-air' THEN value END) AS air_c,
       max(CASE role WHEN 'limit-air' THEN value END) AS limit_air_c,
       min(CASE role WHEN 'core' THEN value END) AS core_c,
       max(CASE role WHEN 'humidity' THEN value END) AS rh_pct,
       max(CASE role WHEN 'ambient' THEN value END) AS ambient_c,
       max(CASE role WHEN 'ambient-humidity' THEN value END) AS ambient_rh_pct,
       max(CASE role WHEN 'door' THEN value END) AS door_open
FROM reading JOIN channel USING (channel_id)
GROUP BY reading.tick;
CREATE VIEW span_text AS        -- low, mean and high of five minutes, kept after the single readings are gone
SELECT span.from_tick,
       (SELECT strftime('%Y-%m-%dT%H:%M:%fZ', a.utc_s + (span.from_tick - a.tick) * a.period_s, 'unixepoch')
        FROM tick_anchor AS a WHERE a.tick <= span.from_tick + span.ticks ORDER BY a.tick DESC LIMIT 1) AS utc,
       channel.name AS channel, span.low, span.total / nullif(span.n, 0) AS mean, span.high, channel.unit, span.n, span.failed
FROM span JOIN channel USING (channel_id);
CREATE VIEW event_text AS       -- events as sentences, with the run they fell into
SELECT event.tick, event.utc, run.run_id, event.severity, event.kind, event.subject,
       replace(trim(event.text || ' ' || event.meaning || ' ' || event.advice), '  ', ' ') AS sentence
FROM event LEFT JOIN run ON event.tick BETWEEN run.start_tick AND coalesce(run.end_tick, 9e18);
CREATE VIEW raw_count AS        -- what the load cells counted, exactly, and the calibration by which that was weighed
SELECT reading.tick,
       (SELECT strftime('%Y-%m-%dT%H:%M:%fZ', a.utc_s + (reading.tick - a.tick) * a.period_s, 'unixepoch')
        FROM tick_anchor AS a WHERE a.tick <= reading.tick ORDER BY a.tick DESC LIMIT 1) AS utc,
       c.scale, CAST(round(reading.value / c.g_per_count + c.zero_count) AS INTEGER) AS counts, reading.value AS weight_g, c.calibration
FROM session JOIN scale_calibration AS c USING (session_id)
JOIN channel ON channel.kind = 'scale' AND channel.name = c.scale
JOIN reading ON reading.channel_id = channel.channel_id
            AND reading.reading_id >= session.first_tick * 4096 AND reading.reading_id < (session.last_tick + 1) * 4096
WHERE reading.value IS NOT NULL;
COMMIT;
PRAGMA user_version = 3;
