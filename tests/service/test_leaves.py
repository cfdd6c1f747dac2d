"""Real weighings through the daemon: 12 leaves weighed one by one while the room's air was logged.

Data: R package pvldcurve 1.2.6 (MIT, Anna Raesch), see tests/data/LICENCE.md.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import pytest

from dryward.core.commands import Commands
from dryward.core.inputs import Inputs
from dryward.core.program import Ends, Piece, Program, Step
from dryward.core.state import State
from dryward.record.queries import Record
from dryward.service.fast import run_fast
from dryward.service.replay import replay
from dryward.settings import read_settings
from dryward_hardware.recorded import slug

DATA = Path(__file__).parent.parent / "data"
TARGET_PCT = 15.0
PERIOD_S = 5.0


@dataclass(frozen=True, slots=True)
class Leaf:
    """One leaf's weighings, s and g, straight from the file; and when it crossed its target by hand."""

    times_s: list[float]
    weights_g: list[float]

    def crossing_s(self) -> tuple[float, float]:
        """Interpolated crossing and the length of the weighing interval it lies in."""
        target_g = self.weights_g[0] * (1 - TARGET_PCT / 100)
        for (t0, w0), (t1, w1) in zip(
            zip(self.times_s, self.weights_g, strict=True),
            list(zip(self.times_s, self.weights_g, strict=True))[1:],
            strict=False,
        ):
            if w1 <= target_g:
                return t0 + (t1 - t0) * (w0 - target_g) / (w0 - w1), t1 - t0
        raise AssertionError("never reached")


@pytest.fixture(scope="module")
def leaves() -> dict[str, Leaf]:
    rows: dict[str, list[tuple[float, float]]] = defaultdict(list)
    with (DATA / "leaf_weighings.csv").open() as file:
        for row in csv.DictReader(file):
            name = slug(row["treatment"], row["sample"])
            rows[name].append((float(row["date.and.time"]), float(row["fresh.weight"])))
    return {name: Leaf([t for t, _ in pairs], [w for _, w in pairs]) for name, pairs in rows.items()}


@pytest.fixture(scope="module")
def finished(leaves: dict[str, Leaf], tmp_path_factory: pytest.TempPathFactory) -> tuple[State, list[str], Path, float]:
    folder = tmp_path_factory.mktemp("leaves")
    begin_s = min(leaf.times_s[0] for leaf in leaves.values())
    (folder / "chamber.toml").write_text(f"""
[chamber]
name = "leaf-room"
[devices.room]
kind = "recorded"
file = "{DATA / "leaf_room.csv"}"
time_column = "date.and.time"
time_unit = "epoch-s"
starts_at = "{begin_s:.0f}"
columns = {{ temperature = "temperature", humidity = "humidity" }}
[devices.balance]
kind = "recorded"
file = "{DATA / "leaf_weighings.csv"}"
holds = "weighings"
time_column = "date.and.time"
time_unit = "epoch-s"
starts_at = "{begin_s:.0f}"
piece_columns = ["treatment", "sample"]
weight_column = "fresh.weight"
[sensors.air]
role = "control-air"
device = "room"
fresh_s = 1200
[sensors.humidity]
role = "humidity"
device = "room"
fresh_s = 1200
[record]
path = "record.db"
[service]
socket = "sock"
""")
    settings = read_settings(folder / "chamber.toml")
    pieces = [Piece(name=n, green_g=leaf.weights_g[0], target_loss_pct=TARGET_PCT) for n, leaf in leaves.items()]
    step = Step(name="room-drying", watch_only=True, ends=Ends(own_target=True, cap_h=30.0))
    program = Program(name="watch-leaves", cap_h=40.0, steps=(step,))
    told: list[str] = []
    first: list[float] = []

    def watch(tick: int, inputs: Inputs, commands: Commands, state: State) -> None:
        told.extend(e.subject for e in commands.events if e.kind == "piece-done")
        first.extend(w.sampled_s for w in inputs.weighings if not first)

    record = folder / "record.db"
    ended = run_fast(
        settings, program, pieces, run_id="leaves", period_s=PERIOD_S, record=record, who="tester", watch=watch
    )
    return ended.state, told, record, first[0] - begin_s


def test_every_leaf_crosses_when_the_file_says(
    leaves: dict[str, Leaf], finished: tuple[State, list[str], Path, float]
) -> None:
    state, told, _, zero_s = finished
    assert len(leaves) == 12
    assert sorted(told) == sorted(leaves)
    for piece in state.pieces:
        leaf = leaves[piece.piece.name]
        by_hand_s, interval_s = leaf.crossing_s()
        assert piece.crossed_s is not None
        assert piece.done_s is not None
        since_start_s = by_hand_s - leaf.times_s[0]
        engine_s = piece.crossed_s - zero_s - leaf.times_s[0]
        assert engine_s == pytest.approx(since_start_s, rel=0.02)
        assert abs(piece.done_s - zero_s - by_hand_s) <= interval_s + PERIOD_S


def test_the_run_is_complete_when_the_last_leaf_is(finished: tuple[State, list[str], Path, float]) -> None:
    state = finished[0]
    assert state.run.phase == "complete"
    assert state.on == frozenset()


def test_the_leaves_replay_exactly(finished: tuple[State, list[str], Path, float]) -> None:
    with Record(finished[2]) as record:
        assert replay(record, "leaves").different == 0
