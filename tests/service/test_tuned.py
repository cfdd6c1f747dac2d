"""What a relay test on record shows is worked out from the record alone, and equals what the swing itself showed."""

from __future__ import annotations

import sqlite3
import uuid
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice
from pathlib import Path

import pytest

from dryward.core.inputs import Adopt, Load, Request, Stop, Tune
from dryward.core.layout import lay_out
from dryward.core.program import Piece
from dryward.core.state import first_state
from dryward.core.tuning_fit import TuningError
from dryward.doors.tune import text
from dryward.record.lines import NoSuchRun
from dryward.record.moments import Session
from dryward.record.queries import Record
from dryward.record.writer import RecordWriter
from dryward.service.clock import FastClock
from dryward.service.hands import SimulatedHands
from dryward.service.loop import Loop
from dryward.service.replay import replay, stepped
from dryward.service.tuned import newest, proposal
from dryward.service.wiring import Devices, channels, lines
from dryward.settings import read_settings
from dryward_hardware.keeper.in_process import InProcessKeeper

PERIOD_S = 1.0


class Chamber:
    """The simulated dryer of the starter files with loop and record, tick by tick."""

    def __init__(self, folder: Path, record: Path) -> None:
        settings = read_settings(folder / "chamber.toml")
        chamber = replace(settings.chamber, period_s=PERIOD_S)
        layout = lay_out(chamber)
        devices = Devices(settings)
        outputs = devices.simulated_outputs()
        assert outputs is not None
        self.clock = FastClock(first_tick=1, period_s=PERIOD_S, utc_s=1_780_000_000.0)  # 2026-05-28
        session = Session(chamber=chamber, first_tick=1, stamp=self.clock.stamp(), version="0")
        self.loop = Loop(
            layout=layout,
            state=first_state(layout),
            clock=self.clock,
            source=devices.source,
            channels=channels(chamber),
            hands=SimulatedHands(InProcessKeeper(outputs, lines(chamber), lease_s=3.0)),
            writer=RecordWriter(record, session, threaded=False),
        )
        self.turn(5)

    def turn(self, ticks: int = 1) -> None:
        for _ in range(ticks):
            self.loop.turn(self.clock.next_tick() or 1)

    def ask(self, ask: Load | Tune | Adopt | Stop) -> str:
        pending = self.loop.post(Request(request_id=str(uuid.uuid4()), ask=ask, who="Ines"))
        self.turn()
        assert pending.reply is not None
        assert pending.reply.accepted, pending.reply
        return pending.reply.text

    def swing(self, run_id: str, *, at_c: float = 65.0, longest: int = 20_000) -> None:
        self.ask(Tune(setpoint_c=at_c, run_id=run_id))
        while self.loop.view.state.test is not None and longest:
            longest -= 1
            self.turn()
        assert longest


@pytest.fixture(scope="module")
def record(twin_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A record with a run that was broken off, a whole test, and a second after its figures were accepted."""
    path = tmp_path_factory.mktemp("tuned") / "record.db"
    chamber = Chamber(twin_folder, path)
    chamber.ask(Tune(setpoint_c=65.0, run_id="tune-broken"))
    chamber.turn(30)
    chamber.ask(Stop())
    chamber.turn(30)
    chamber.swing("tune-first")
    with Record(path) as past:
        first = proposal(past, "tune-first")
    chamber.ask(Adopt(plant=replace(first.advice.plant, gain_k=2.0 * first.advice.plant.gain_k, tuned_on=first.day)))
    while (chamber.loop.view.state.sensors[0].value or 99.0) > 30.0:
        chamber.turn(100)
    chamber.swing("tune-second")
    chamber.loop.close()
    return path


def test_the_newest_test_is_found_and_dated(record: Path) -> None:
    with Record(record) as past:
        assert newest(past) == "tune-second"
        made = proposal(past, "tune-first")
    assert made.day == "2026-05-28"
    assert made.test.outcome == "done"
    assert len(made.test.readings_c) > 500


def test_it_finds_the_dryer_that_the_bench_finds(record: Path) -> None:
    """`tests.bench.regulation` tunes the empty simulated dryer to 107 K, 466 s and 30 s of delay at 80 degC."""
    with Record(record) as past:
        plant = proposal(past, "tune-first").advice.plant
    assert plant.gain_k == pytest.approx(107.0, rel=0.15)
    assert plant.time_constant_s == pytest.approx(466.0, rel=0.25)
    assert plant.delay_s == pytest.approx(30.0, rel=0.25)


def test_a_pace_is_proposed_as_asked(record: Path) -> None:
    with Record(record) as past:
        calm, tight = (proposal(past, "tune-first", pace=pace) for pace in ("calm", "tight"))
    assert tight.advice.kc_per_k > calm.advice.kc_per_k
    for made, pace in ((calm, "calm"), (tight, "tight")):
        assert f'pace = "{pace}"' in text(made)
        assert f"{pace}: " in text(made)


def test_a_test_broken_off_is_over_on_record(record: Path) -> None:
    with Record(record) as past:
        assert past.run("tune-broken").end_state == "stopped"


def test_a_session_whose_first_ticks_were_left_out_begins_with_its_own_state(
    record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A busy machine may leave out the very tick of a restart; the state it went on with counts all the same."""
    with Record(record) as past:
        whole = past.inputs
        monkeypatch.setattr(past, "inputs", lambda run_id: islice(whole(run_id), 2, None))
        first = next(stepped(past, "tune-first"))
    assert first.state.run.run_id == ""


def test_what_has_changed_since_the_accepted_tuning_is_named(record: Path) -> None:
    """The accepted figures were made twice as strong on purpose."""
    with Record(record) as past:
        assert not [r for r in proposal(past, "tune-first").advice.remarks if "at the last tuning" in r]
        assert [r for r in proposal(past, "tune-second").advice.remarks if "look at the element" in r]


def test_a_test_is_replayed_like_any_run(record: Path) -> None:
    with Record(record) as past:
        for run_id in ("tune-broken", "tune-first", "tune-second"):
            found = replay(past, run_id)
            assert found.different == 0
            assert found.ticks > 30


def test_a_test_with_meat_in_it_is_not_called_empty(twin_folder: Path, tmp_path: Path) -> None:
    """Wet meat takes a third of the power: 76 K instead of 107 K on this dryer."""
    path = tmp_path / "record.db"
    chamber = Chamber(twin_folder, path)
    chamber.ask(Load(pieces=(Piece(name="loin", green_g=900.0, target_loss_pct=35.0),)))
    chamber.ask(Tune(setpoint_c=65.0, run_id="tune-loaded", meat_may_stay=True))
    while chamber.loop.view.state.test is not None:
        chamber.turn()
    chamber.loop.close()
    with Record(path) as past:
        said = text(proposal(past, "tune-loaded"))
    assert "Meat was in it" in said
    assert "empty." not in said


def test_a_test_whose_readings_were_thinned_out_is_not_called_broken_off(record: Path, tmp_path: Path) -> None:
    thin = tmp_path / "thin.db"
    with sqlite3.connect(record) as source, sqlite3.connect(thin) as copy:
        source.backup(copy)
        copy.execute("DELETE FROM reading")
        copy.execute("INSERT INTO lost (from_tick, to_tick, readings, why) VALUES (0, 1000000, 0, 'thinned')")
        copy.commit()
    source.close()
    copy.close()
    with Record(thin) as past, pytest.raises(TuningError, match="thinned out after a year; test again"):
        proposal(past, "tune-first")


def test_what_was_broken_off_or_never_was_proposes_nothing(record: Path) -> None:
    with Record(record) as past:
        with pytest.raises(TuningError, match="was broken off: stopped by Ines"):
            proposal(past, "tune-broken")
        with pytest.raises(NoSuchRun):
            proposal(past, "tune-never")
