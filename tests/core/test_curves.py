"""What the shell sees in the drying curves becomes alarms, and no more than that."""

from __future__ import annotations

import pytest

from dryward.core.curves import CURVE_KEYS, Curves, conditions, heard, told
from dryward.core.faults import FAULTS
from dryward.core.inputs import Notice, Pull, Stop
from dryward.core.progress import Run
from dryward.core.weighing import PieceState
from tests.core.bench_chamber import Bench, piece

RUNNING = Run(phase="running")


def begun() -> Bench:
    bench = Bench.of()
    bench.begin(piece("a"), piece("b"), air_c=40.0)
    bench.turns(30, 40.0)
    return bench


def alarms(bench: Bench) -> set[tuple[str, str]]:
    return {(a.key, a.subject) for a in bench.state.alarms if a.phase not in ("pending", "cleared")}


@pytest.mark.parametrize("key", CURVE_KEYS)
def test_each_is_told_once_as_a_warning_and_takes_no_heat_away(key: str) -> None:
    bench = begun()
    heat, before = bench.heating, len(bench.said)
    bench.turn(40.0, notices=[told(((key, "a"),))])
    bench.turns(100, 40.0)
    said = [e for e in bench.said[before:] if e.kind == "alarm"]
    assert [(e.subject, e.severity) for e in said] == [(f"{key}:a", "warning")]
    assert FAULTS[key].effect == "tell"
    assert (bench.heating, bench.state.no_heat, bench.state.run.phase) == (heat, "", "running")


def test_what_is_no_longer_said_is_over() -> None:
    bench = begun()
    bench.turn(40.0, notices=[told((("stalled", "a"), ("out-of-reach", "b")))])
    assert alarms(bench) == {("stalled", "a"), ("out-of-reach", "b")}
    bench.turn(40.0, notices=[told((("out-of-reach", "b"),))])
    bench.turns(60, 40.0)
    assert alarms(bench) == {("out-of-reach", "b")}


def test_a_piece_that_is_out_and_a_run_that_is_over_have_no_curve() -> None:
    bench = begun()
    bench.turn(40.0, notices=[told((("stalled", "a"), ("stalled", "b")))])
    bench.turn(40.0, asks=[Pull(piece="a", weight_g=900.0)])
    assert bench.state.curves == (("stalled", "b"),)
    bench.turn(40.0, asks=[Stop()])
    bench.turns(120, 40.0)
    assert bench.state.curves == ()


def test_what_cannot_be_read_is_dropped() -> None:
    pieces = (PieceState(piece("a")),)
    for text in ("", "over-limit a", "stalled nobody", "stalled", "\n\nstalled  a"):
        assert heard((), (Notice("curves", 1.0, text),), RUNNING, pieces) == ()


def test_a_notice_says_all_that_is_wrong() -> None:
    curves: Curves = (("stalled", "loin 1"), ("crust-risk", "b"))
    pieces = (PieceState(piece("loin 1")), PieceState(piece("b")))
    assert heard((), (told(curves),), RUNNING, pieces) == curves
    assert heard(curves, (told(()),), RUNNING, pieces) == ()
    assert [(c.key, c.subject) for c in conditions(curves)] == list(curves)
    assert heard(curves, (), RUNNING, pieces) is curves
