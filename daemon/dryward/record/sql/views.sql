-- Views made for people. They hold no data: every migration drops them and makes them anew.

CREATE VIEW tick_anchor AS      -- helper: the wall clock at the anchors, with the length of a tick
SELECT clock.tick, clock.utc_s, session.period_s, clock.session_id
FROM clock JOIN session USING (session_id);

CREATE VIEW run_ticks AS        -- helper: a run's first and last tick; one without an end goes to the next run, or to what is known last
SELECT run_id, start_tick,
       coalesce(end_tick, (SELECT min(n.start_tick) - 1 FROM run AS n WHERE n.start_tick > run.start_tick),
                (SELECT max(last_tick) FROM session)) AS last_tick
FROM run;

CREATE VIEW weigh_in AS         -- every weight that was accepted: typed in, or played from a recording
SELECT weighing.tick, weighing.piece, weighing.weight_g, 'recording' AS who, 'weighing' AS via
FROM weighing
UNION ALL
SELECT request.tick, json_extract(ask, '$.piece'), json_extract(ask, '$.weight_g'), who, verb
FROM request JOIN reply USING (tick, request_id)
WHERE accepted = 1 AND verb IN ('weigh', 'pull')
      -- One refused weight that is no JSON, such as Infinity in an old record, must not spoil all the others.
      AND CASE WHEN json_valid(ask) THEN json_extract(ask, '$.weight_g') END IS NOT NULL;

CREATE VIEW run_summary AS
SELECT run.run_id, run.program_name AS program, session.chamber_name AS chamber,
       run.start_utc, run.end_utc,
       round((t.last_tick - t.start_tick) * session.period_s / 3600.0, 2) AS hours,
       CASE WHEN run.end_state = '' THEN 'no end recorded' ELSE run.end_state END AS ended,
       run.end_reason,
       p.pieces, p.reached, p.green_g, p.final_g,
       round(100.0 * (1.0 - p.final_g / p.weighed_green_g), 1) AS loss_pct,
       (SELECT count(*) FROM event WHERE severity = 'trip' AND tick BETWEEN t.start_tick AND t.last_tick) AS trips,
       (SELECT count(*) FROM event WHERE severity = 'alarm' AND tick BETWEEN t.start_tick AND t.last_tick) AS alarms
FROM run JOIN session USING (session_id) JOIN run_ticks AS t USING (run_id)
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
SELECT event.tick, event.utc, run_ticks.run_id, event.severity, event.kind, event.subject,
       replace(trim(event.text || ' ' || event.meaning || ' ' || event.advice), '  ', ' ') AS sentence
FROM event LEFT JOIN run_ticks ON event.tick BETWEEN run_ticks.start_tick AND run_ticks.last_tick;

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
