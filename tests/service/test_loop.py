"""One tick: read, decide, act, remember; and what others may post to it (F19, F20, F23)."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import pytest

from dryward.core.commands import Commands
from dryward.core.inputs import Ask, Inputs, Load, Notice, Request, Start, Weigh
from dryward.core.layout import lay_out
from dryward.core.state import State, first_state
from dryward.record.moments import Mark, RunBegan, Stamp, StartPlanned
from dryward.record.writer import Health
from dryward.service.clock import Clock
from dryward.service.loop import Loop, Pending
from dryward_hardware.ports import Batch, PieceWeight, Sample
from tests.core.bench_chamber import chamber, piece, program
from tests.faults_live.stand import until


class Source:
    """Gives one good reading of the air a poll, unless told otherwise."""

    def __init__(self) -> None:
        self.batch: Batch | None = None
        self.closed = False

    def poll(self, now_s: float) -> Batch:
        return self.batch or Batch((Sample("top/temperature", 21.5, now_s), Sample("other/value", 1.0, now_s)))

    def close(self) -> None:
        self.closed = True
        raise OSError("a device that will not close")


class Hands:
    def __init__(self, log: list[str]) -> None:
        self.log = log
        self.on: frozenset[str] = frozenset()
        self.notices: tuple[Notice, ...] = ()

    def want(self, on: frozenset[str], now: float) -> tuple[Notice, ...]:
        self.on = on
        told, self.notices = self.notices, ()
        return told

    def actual(self) -> frozenset[str]:
        return self.on

    def close(self) -> None:
        self.log.append("outputs safe")


@dataclass
class Writer:
    """Keeps what the record is given, and is as well as a test says."""

    log: list[str]
    puts: list[tuple[int, Inputs, Commands, State, tuple[Mark, ...], dict[str, float] | None]] = field(
        default_factory=list
    )
    ok: bool = True
    lives: bool = True

    def put(
        self,
        tick: int,
        stamp: Stamp,
        inputs: Inputs,
        commands: Commands,
        state: State,
        *,
        marks: tuple[Mark, ...] = (),
        figures: Any = None,
    ) -> None:
        self.puts.append((tick, inputs, commands, state, marks, figures))

    def health(self) -> Health:
        return Health(ok=self.ok, why="" if self.ok else "the disk is full")

    def alive(self) -> bool:
        return self.lives

    def close(self) -> bool:
        self.log.append("record closed")
        return True


class Steps:
    """A clock that a test turns by hand."""

    period_s = 1.0
    late_s = 0.0

    def __init__(self) -> None:
        self.step_s: float | None = None

    def next_tick(self) -> int | None:
        return None

    def stop(self) -> None:
        """Nothing runs by itself."""

    def stamp(self) -> Stamp:
        return Stamp(utc_s=1.7e9)

    def wall_step_s(self) -> float | None:
        step_s, self.step_s = self.step_s, None
        return step_s


class House:
    """A loop with everything round it in the test's hands."""

    def __init__(
        self, notices: tuple[Notice, ...] = (), after: Callable[[int, Inputs, Commands, State], None] | None = None
    ) -> None:
        self.log: list[str] = []
        self.source, self.hands, self.writer, self.clock = Source(), Hands(self.log), Writer(self.log), Steps()
        self.layout = lay_out(chamber())
        self.tick = 0
        self.loop = Loop(
            layout=self.layout,
            state=first_state(self.layout),
            clock=self.clock,
            source=self.source,
            channels={"top/temperature": "air"},
            hands=self.hands,
            writer=self.writer,  # type: ignore[arg-type]
            notices=notices,
            after_turn=after,
        )

    def turn(self, count: int = 1) -> Inputs:
        """Turn; return what the engine was told in the last tick."""
        for _ in range(count):
            self.tick += 1
            self.loop.turn(self.tick)
        return self.writer.puts[-1][1]

    def ask(self, *asks: Ask) -> list[Pending]:
        return [self.loop.post(Request(request_id=f"q{self.tick}-{n}", ask=a, who="Ana")) for n, a in enumerate(asks)]

    def told(self, kind: str) -> list[Notice]:
        return [n for _, inputs, *_ in self.writer.puts for n in inputs.notices if n.kind == kind]


@pytest.fixture
def house() -> House:
    return House()


def test_only_readings_of_known_channels_reach_the_engine_under_their_sensors_name(house: House) -> None:
    assert [(r.channel, r.value, r.sampled_s) for r in house.turn().readings] == [("air", 21.5, 1.0)]


def test_weights_of_a_recording_reach_the_engine(house: House) -> None:
    house.source.batch = Batch(weights=(PieceWeight("a", 700.0, 1.0),), finished=True)
    assert [(w.piece, w.weight_g) for w in house.turn().weighings] == [("a", 700.0)]
    assert house.loop.finished


def test_requests_are_answered_with_the_tick_that_took_them(house: House) -> None:
    load, start, weigh = house.ask(
        Load(pieces=(piece(),)), Start(program=program(), run_id="r1"), Weigh(piece="b", weight_g=1.0)
    )
    assert not load.done.is_set()
    house.turn()
    assert all(p.done.is_set() for p in (load, start, weigh))
    assert [p.reply.accepted for p in (load, start, weigh) if p.reply] == [True, True, False]
    assert house.loop.view.state.run.phase == "running"
    assert house.hands.on == house.loop.view.on
    assert isinstance(house.writer.puts[-1][4][0], RunBegan)


def test_a_request_from_another_thread_is_taken_by_the_next_tick(house: House) -> None:
    def post() -> None:
        house.ask(Load(pieces=(piece(),)))

    thread = threading.Thread(target=post)
    thread.start()
    thread.join()
    assert len(house.turn().requests) == 1


def test_ticks_that_were_skipped_are_told(house: House) -> None:
    house.turn()
    house.tick = 7
    house.turn()
    assert house.told("skipped-ticks") == [Notice("skipped-ticks", 6.0)]


def test_a_step_of_the_wall_clock_is_told(house: House) -> None:
    house.clock.step_s = -3600.0
    house.turn(2)
    assert house.told("clock-stepped") == [Notice("clock-stepped", -3600.0)]


def test_what_is_known_at_the_start_and_what_others_tell_arrives_once() -> None:
    house = House(notices=(Notice("restarted", 12.0),))
    house.loop.tell(Notice("broker-lost"))
    assert [n.kind for n in house.turn().notices] == ["restarted", "broker-lost"]
    assert house.turn().notices == ()


def test_what_the_outputs_have_to_tell_reaches_the_next_tick(house: House) -> None:
    house.hands.notices = (Notice("keeper-lost", 1.0, "died"),)
    house.turn()
    assert house.turn().notices == (Notice("keeper-lost", 1.0, "died"),)


def test_a_record_that_fails_is_told_within_a_minute_and_so_is_its_return(house: House) -> None:
    house.turn(10)
    house.writer.ok = False
    house.turn(20)
    assert house.told("record-failing") == [Notice("record-failing", 0.0, "the disk is full")]
    house.writer.ok = True
    house.turn(20)
    assert house.told("record-well") == [Notice("record-well")]


def test_a_writer_that_has_ended_is_a_record_that_fails(house: House) -> None:
    house.writer.lives = False
    house.turn(20)
    assert [n.text for n in house.told("record-failing")] == ["the thread that writes it has ended"]


def test_a_record_that_was_damaged_at_the_start_is_well_again_when_it_is_written() -> None:
    house = House(notices=(Notice("record-failing", 0.0, "set aside"),))
    house.turn(20)
    assert house.told("record-well") == [Notice("record-well")]


def test_marks_are_put_on_record_at_once_and_tell_when_they_are(house: House) -> None:
    given = house.loop.mark(StartPlanned(plan_id="p", program=program(), at_utc_s=1.0, who="Ana"))
    assert not given.is_set()
    house.turn()
    assert given.is_set()
    *_, commands, _, marks, _ = house.writer.puts[-1]
    assert [type(m) for m in marks] == [StartPlanned]
    assert commands.keep
    house.turn()
    assert house.writer.puts[-1][4] == ()


def test_figures_are_kept_once_a_minute(house: House) -> None:
    house.turn(180)
    with_figures = [tick for tick, *_, figures in house.writer.puts if figures is not None]
    assert with_figures == [60, 120, 180]
    assert house.writer.puts[59][5] is not None
    assert house.writer.puts[59][5]["heater_duty_pct"] == 0.0


def test_others_see_the_state_of_the_last_tick(house: House) -> None:
    assert house.loop.view.tick == -1
    house.turn(3)
    assert (house.loop.view.tick, house.loop.view.state.now) == (3, 3.0)


def test_what_follows_a_tick_is_called_with_it() -> None:
    seen: list[tuple[int, float]] = []
    house = House(after=lambda tick, inputs, commands, state: seen.append((tick, state.now)))
    house.turn(2)
    assert seen == [(1, 1.0), (2, 2.0)]


def test_events_for_people_are_in_the_journal(house: House, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    house.ask(Load(pieces=(piece(),)), Start(program=program(), run_id="r1"))
    house.turn()
    house.hands.notices = (Notice("keeper-lost", 3.0, "died"),)
    house.turn(2)
    assert [r.levelname for r in caplog.records if "times in ten minutes" in r.getMessage()] == ["CRITICAL"]


def test_closing_makes_the_outputs_safe_first_and_reaches_everything(house: House) -> None:
    (waiting,) = house.ask(Load(pieces=(piece(),)))
    with pytest.raises(OSError, match="will not close"):
        house.loop.close()
    assert house.log == ["outputs safe", "record closed"]
    assert house.source.closed
    assert waiting.done.is_set()
    assert waiting.reply is None


def test_it_turns_until_its_clock_is_stopped() -> None:
    house = House()
    house.loop.clock = clock = Clock(first_tick=5, period_s=0.5, speed=50.0)
    fed: list[int] = []
    thread = threading.Thread(target=house.loop.run, args=(lambda: fed.append(house.loop.view.tick),))
    thread.start()
    until(lambda: len(fed) >= 5, within_s=5.0, what="five turns")
    clock.stop()
    thread.join(timeout=5.0)
    assert not thread.is_alive()
    assert fed[0] == 5
    assert fed == [tick for tick, *_ in house.writer.puts]  # fed only after a whole turn
    clock.close()
