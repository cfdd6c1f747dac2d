"""A run's life as rows: begun, steps, pieces, ended; planned starts; notes."""

from __future__ import annotations

from pathlib import Path

from dryward.record.moments import (
    NoteWritten,
    PieceNotReached,
    PieceOut,
    PieceReached,
    PlanSettled,
    StartPlanned,
    StepBegan,
)
from dryward.record.queries import Record
from tests.record.scene import PROGRAM, UTC_S, began, ended, put, writer


def test_a_run_goes_through_its_steps_and_each_piece_has_its_own_end(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite")
    put(book, 0, marks=[began()])
    put(book, 100, marks=[StepBegan(run_id="r1", step_no=1, name="dry", why="1 h in the band")])
    put(book, 200, marks=[PieceReached(run_id="r1", piece="loin-a", weight_g=650.0, crossed_s=195.5)])
    put(book, 250, marks=[PieceOut(run_id="r1", piece="loin-b", weight_g=None)])
    put(book, 300, marks=[ended(loin_a=641.0, loin_b=1.0)])
    book.close()
    with Record(tmp_path / "r.sqlite") as record:
        steps = [(s.step_no, s.name, s.began_tick, s.ended_tick, s.end_reason) for s in record.steps("r1")]
        assert steps == [
            (0, "warm", 0, 100, "1 h in the band"),
            (1, "dry", 100, 300, "all pieces reached their target"),
        ]
        a, b = record.pieces("r1")
        assert (a.target_g, a.final_g, a.reached_tick, a.crossed_s, a.out_tick) == (650.0, 641.0, 200, 195.5, None)
        assert (b.final_g, b.reached_tick, b.out_tick) == (None, None, 250)
        assert record.runs()[0][:8] == (
            "r1",
            "two-step",
            0,
            "2025-10-09T08:53:20.000Z",
            300,
            "2025-10-09T08:58:20.000Z",
            "complete",
            "all pieces reached their target",
        )


def test_a_mark_written_again_after_a_restart_changes_nothing(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite")
    put(book, 0, marks=[began()])
    put(
        book,
        9,
        marks=[began(), StepBegan(run_id="r1", step_no=1, name="dry"), StepBegan(run_id="r1", step_no=1, name="dry")],
    )
    book.close()
    with Record(tmp_path / "r.sqlite") as record:
        assert (record.run("r1").start_tick, len(record.pieces("r1")), len(record.steps("r1"))) == (0, 2, 2)


def test_planned_starts_wait_until_they_are_settled(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite")
    put(
        book,
        0,
        marks=[
            StartPlanned(plan_id="p1", program=PROGRAM, at_utc_s=UTC_S + 3600.0, who="ann"),
            StartPlanned(plan_id="p2", program=PROGRAM, at_utc_s=UTC_S, who="ann"),
        ],
    )
    put(book, 1, marks=[PlanSettled(plan_id="p2", outcome="started as r1")])
    book.close()
    with Record(tmp_path / "r.sqlite") as record:
        assert [(p.plan_id, p.program, p.at_utc, p.outcome) for p in record.plans()] == [
            ("p2", PROGRAM, "2025-10-09T08:53:20.000Z", "started as r1"), ("p1", PROGRAM, "2025-10-09T09:53:20.000Z", ""),
        ]  # fmt: skip


def test_notes_are_kept_in_their_order_and_found_by_run(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite")
    put(
        book,
        0,
        marks=[NoteWritten(run_id="r1", text="Crust a little hard", who="ann", piece="loin-a", tags=("crust",))],
    )
    put(book, 1, marks=[NoteWritten(run_id="r2", text="Fine", who="ben", photo="cut.jpg", tags=("tasting", "good"))])
    book.close()
    with Record(tmp_path / "r.sqlite") as record:
        assert [n.text for n in record.notes()] == ["Crust a little hard", "Fine"]
        assert [n.text for n in record.notes("r2")] == ["Fine"]
        assert [(n.piece, n.photo, n.tags) for n in record.notes()] == [
            ("loin-a", "", "crust"),
            ("", "cut.jpg", "tasting good"),
        ]


def test_a_finish_that_was_none_is_taken_back(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite")
    put(book, 0, marks=[began()])
    put(book, 200, marks=[PieceReached(run_id="r1", piece="loin-a", weight_g=650.0, crossed_s=195.5)])
    put(book, 250, marks=[PieceNotReached(run_id="r1", piece="loin-a")])
    book.close()
    with Record(tmp_path / "r.sqlite") as record:
        a, _ = record.pieces("r1")
        assert (a.final_g, a.reached_tick, a.crossed_s, a.out_tick) == (None, None, None, None)
