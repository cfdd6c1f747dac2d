"""How the marks of a run (began, step, piece, ended) and planned starts are written."""

from __future__ import annotations

from sqlite3 import Connection

from dryward.record.checkpoint import to_json
from dryward.record.moments import (
    Mark,
    NoteWritten,
    PieceNotReached,
    PieceOut,
    PieceReached,
    PlanSettled,
    RunBegan,
    RunEnded,
    StartPlanned,
    StepBegan,
    utc_text,
)
from dryward.record.rows import tidy


def write_mark(conn: Connection, mark: Mark, tick: int, utc: str, session_id: int) -> None:
    """Write one mark that happened in ``tick``."""
    match mark:
        case RunBegan():
            _run_began(conn, mark, tick, utc, session_id)
        case StepBegan():
            conn.execute(
                "UPDATE run_step SET ended_tick = ?, ended_utc = ?, end_reason = ? WHERE run_id = ? AND ended_tick IS NULL AND step_no < ?",
                (tick, utc, tidy(mark.why), mark.run_id, mark.step_no),
            )
            conn.execute(
                "INSERT OR IGNORE INTO run_step (run_id, step_no, name, began_tick, began_utc) VALUES (?,?,?,?,?)",
                (mark.run_id, mark.step_no, mark.name, tick, utc),
            )
        case PieceReached():
            conn.execute(
                "UPDATE piece SET reached_tick = ?, reached_utc = ?, crossed_s = ?, final_g = ? WHERE run_id = ? AND name = ?",
                (tick, utc, mark.crossed_s, mark.weight_g, mark.run_id, tidy(mark.piece)),
            )
        case PieceNotReached():
            conn.execute(
                "UPDATE piece SET reached_tick = NULL, reached_utc = NULL, crossed_s = NULL, final_g = NULL WHERE run_id = ? AND name = ?",
                (mark.run_id, tidy(mark.piece)),
            )
        case PieceOut():
            conn.execute(
                "UPDATE piece SET out_tick = ?, out_utc = ?, final_g = coalesce(?, final_g) WHERE run_id = ? AND name = ?",
                (tick, utc, mark.weight_g, mark.run_id, tidy(mark.piece)),
            )
        case RunEnded():
            _run_ended(conn, mark, tick, utc)
        case StartPlanned():
            conn.execute(
                "INSERT OR IGNORE INTO planned_start (plan_id, program_name, program, at_utc, who, asked_utc) VALUES (?,?,?,?,?,?)",
                (
                    mark.plan_id,
                    mark.program.name,
                    tidy(to_json(mark.program)),
                    utc_text(mark.at_utc_s),
                    tidy(mark.who),
                    utc,
                ),
            )
        case NoteWritten():
            words = (mark.run_id, mark.piece, utc, mark.who, mark.text, mark.photo, " ".join(mark.tags))
            conn.execute(
                "INSERT INTO note (run_id, piece, utc, who, text, photo, tags) VALUES (?,?,?,?,?,?,?)",
                [tidy(word) for word in words],
            )
        case PlanSettled():
            conn.execute("UPDATE planned_start SET outcome = ? WHERE plan_id = ?", (tidy(mark.outcome), mark.plan_id))


def _run_began(conn: Connection, mark: RunBegan, tick: int, utc: str, session_id: int) -> None:
    state = None if mark.state_before is None else tidy(to_json(mark.state_before))
    conn.execute(
        "INSERT OR IGNORE INTO run (run_id, session_id, program_name, program, pieces, start_tick, start_utc, start_state) VALUES (?,?,?,?,?,?,?,?)",
        (
            mark.run_id,
            session_id,
            mark.program.name,
            tidy(to_json(mark.program)),
            tidy(to_json(mark.pieces)),
            tick,
            utc,
            state,
        ),
    )
    conn.executemany(
        "INSERT OR IGNORE INTO piece (run_id, piece_no, name, green_g, target_loss_pct, target_g, scale, cut) VALUES (?,?,?,?,?,?,?,?)",
        [
            (mark.run_id, number, tidy(p.name), p.green_g, p.target_loss_pct, p.target_g, p.scale, tidy(p.cut))
            for number, p in enumerate(mark.pieces)
        ],
    )
    conn.execute(
        "INSERT OR IGNORE INTO run_step (run_id, step_no, name, began_tick, began_utc) VALUES (?,0,?,?,?)",
        (mark.run_id, mark.program.steps[0].name, tick, utc),
    )


def _run_ended(conn: Connection, mark: RunEnded, tick: int, utc: str) -> None:
    conn.execute(
        "UPDATE run SET end_tick = ?, end_utc = ?, end_state = ?, end_reason = ? WHERE run_id = ?",
        (tick, utc, mark.end_state, tidy(mark.end_reason), mark.run_id),
    )
    conn.execute(
        "UPDATE run_step SET ended_tick = ?, ended_utc = ?, end_reason = ? WHERE run_id = ? AND ended_tick IS NULL",
        (tick, utc, tidy(mark.end_reason), mark.run_id),
    )
    conn.executemany(
        "UPDATE piece SET final_g = ? WHERE run_id = ? AND name = ? AND out_tick IS NULL",
        [(weight_g, mark.run_id, tidy(name)) for name, weight_g in mark.last_g.items()],
    )
