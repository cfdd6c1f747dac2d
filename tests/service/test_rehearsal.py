"""What a rehearsal notes: times, air, finishes, wear, warnings."""

from __future__ import annotations

import pytest

from dryward.core.commands import Commands, Event
from dryward.core.inputs import Inputs
from dryward.service.rehearsal import Notebook
from tests.core.bench_chamber import Bench, hot, piece, program
from tests.service.conftest import WholeRun


def test_steps_are_noted_with_their_times_and_air() -> None:
    made = program(hot("one"), hot("two"))
    bench = Bench.of()
    book = Notebook(made, bench.layout.air)
    bench.begin(piece(), with_program=made, air_c=78.0)
    for air_c in (79.0, 81.5, 80.0):
        bench.turn(air_c)
        book.watch(bench.tick, Inputs(), bench.last, bench.state)
    step = book.steps[0]
    assert step.name == "one"
    assert (step.low_c, step.high_c) == (79.0, 81.5)
    assert step.end_s is None


def test_only_what_needs_a_look_becomes_a_warning() -> None:
    bench = Bench.of()
    bench.begin()
    book = Notebook(program(), bench.layout.air)
    events = (Event(kind="a", severity="notice", text="fine"), Event(kind="b", severity="alarm", text="look"))
    book.watch(1, Inputs(), Commands(events=events), bench.state)
    assert len(book.warnings) == 1
    assert "look" in book.warnings[0]


def test_a_whole_run_is_put_together(whole_run: WholeRun) -> None:
    book = Notebook(whole_run.program, whole_run.ended.layout.air)
    found = book.close(whole_run.ended)
    assert found.end == "complete"
    assert found.energy_kwh == pytest.approx(38.0, rel=0.3)  # a 900 W dryer for three to four days
    assert found.relay_operations["heater"] > 1000
    for piece_found in found.pieces:
        assert piece_found.finish_s is not None
        assert piece_found.final_g == pytest.approx(piece_found.target_g, abs=1.0)
