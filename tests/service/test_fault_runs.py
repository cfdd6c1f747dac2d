"""Runs of the fault matrix on record: they replay exactly, and one that was aborted never looks like one that finished."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner

from dryward.core.commands import Commands
from dryward.core.engine import step
from dryward.core.inputs import Inputs
from dryward.core.layout import Layout
from dryward.core.state import State
from dryward.doors.cli import main
from dryward.record.digest import as_text as day_text
from dryward.record.digest import day_of
from dryward.record.moments import Session, Stamp
from dryward.record.page import page
from dryward.record.queries import Record
from dryward.record.review import gather, judge
from dryward.record.writer import RecordWriter
from dryward.service.marks import marks
from dryward.service.replay import replay
from tests.faults import stand as stand_module
from tests.faults.cell import Cell, Experiment
from tests.faults.rows_heat import missing, over_limit, reversed_sensor, welded
from tests.faults.states import BY_NAME

UTC_S = 1_770_000_000.0


@dataclass(frozen=True, slots=True)
class FaultRun:
    """One cell of the matrix: what is done to the chamber, in which state, and how the run must end."""

    experiment: Experiment
    case: str
    end: str


RUNS = {
    "F11 too hot": FaultRun(over_limit("air"), "dwell", "aborted"),
    "F12 welded relay": FaultRun(welded(contactor=True), "dwell", "aborted"),
    # held, and nobody came:
    "F13 reversed sensor": FaultRun(reversed_sensor, "cold start", ""),
    "F4 sensor gone": FaultRun(missing, "ramp", ""),
}


class Recorder:
    """Stands in the place of the engine's ``step``: decides the same, and writes it down as the loop does."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.writer: RecordWriter | None = None

    def step(self, layout: Layout, state: State, inputs: Inputs, now: float) -> tuple[State, Commands]:
        after, commands = step(layout, state, inputs, now)
        tick = round(now / layout.chamber.period_s)
        stamp = Stamp(utc_s=UTC_S + now)
        if self.writer is None:
            self.writer = RecordWriter(
                self._path, Session(chamber=layout.chamber, first_tick=tick, stamp=stamp), threaded=False
            )
        self.writer.put(tick, stamp, inputs, commands, after, marks=marks(state, after))
        return after, commands


@pytest.fixture(scope="module", params=RUNS)
def fault_run(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """Return the record of one cell, and how it must end."""
    run = RUNS[request.param]
    path = tmp_path_factory.mktemp("fault") / "record.db"
    recorder = Recorder(path)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stand_module, "step", recorder.step)
        cell = run.experiment(BY_NAME[run.case], "small-fan-box")
    assert isinstance(cell, Cell)
    assert cell.good, cell
    assert recorder.writer is not None
    assert recorder.writer.close()
    return path, run.end


def test_it_replays_exactly(fault_run: tuple[Path, str]) -> None:
    with Record(fault_run[0]) as record:
        found = replay(record, "r")
    assert found.different == 0, found.text()
    assert found.decisions > 0


SHOWN: dict[str, Callable[[Record], str]] = {
    "review": lambda record: _command(record, "review", "r"),
    "review as JSON": lambda record: _command(record, "review", "r", "--json"),
    "runs": lambda record: _command(record, "runs"),
    "page": lambda record: _said(page(record, "r")),
    "digest": lambda record: day_text(day_of(record, "r")),
    "export": lambda record: _exported(record),
}


def _command(record: Record, *words: str) -> str:
    result = CliRunner().invoke(main, [*words, "--record", str(record.path)])
    assert result.exit_code == 0, result.output
    return result.output


def _exported(record: Record) -> str:
    folder = record.path.parent / "csv"
    _command(record, "export", "r", "--csv", str(folder))
    return (folder / "run.csv").read_text()


def _said(html: str) -> str:
    """Return what stands before the styles and what stands from the body on."""
    return html.partition("<style>")[0] + html.partition("</style>")[2]


@pytest.mark.parametrize("way", SHOWN)
def test_it_looks_nowhere_like_a_finished_run(fault_run: tuple[Path, str], way: str) -> None:
    path, end = fault_run
    with Record(path) as record:
        told = SHOWN[way](record).lower()
    assert "complete" not in told
    unfinished = {"runs": "open", "digest": "held", "review as JSON": '"open"'}.get(way, "no end ")
    assert ("aborted" if end else unfinished) in told


def test_the_first_thing_said_is_that_it_was_aborted_and_what_to_do(fault_run: tuple[Path, str]) -> None:
    path, end = fault_run
    with Record(path) as record:
        text, html, review = _command(record, "review", "r"), page(record, "r"), judge(gather(record, "r"))
    assert review.verdict == (end or "open")
    first = "ABORTED, NOT FINISHED" if end else "NO END YET"
    assert text.startswith(first)
    assert any("Do not treat these pieces as dried" in line for line in review.attention)
    assert f'<body class="is-{end or "open"}">' in html
    top = html.partition("<h1>")[2].partition("How it went")[0]
    assert top.lower().startswith(first.lower())
    assert 'Is it done?</h2><p class="answer">' + ("No, it was aborted" if end else "Not yet, or cut off") in top
    assert ("Find the cause" if end else "Look whether it is still under way") in top
