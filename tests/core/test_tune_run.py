"""The relay test in the engine: guarded like a run, ended by whatever disturbs it, forgotten by nobody."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dryward.core.chamber import Plant
from dryward.core.inputs import Adopt, Ask, Hold, Load, Notice, Pull, Start, Stop, Tune
from dryward.core.program import Ends, Program, Step
from dryward.core.state import State, adopt
from dryward.core.tune_run import fitted, outlives
from dryward.record.checkpoint import from_json, to_json
from dryward_hardware.twin.faults import Fault
from dryward_hardware.twin.plants import PLANTS, Body
from tests.faults.stand import PIECES, Fit, Model, Stand, with_limits

TUNE = Tune(setpoint_c=60.0, run_id="tune-1")
PLANT = Plant(gain_k=120.0, time_constant_s=800.0, dead_time_s=20.0, lag_s=10.0, tuned_on="2026-05-01")
SECOND_SWING_S = 600


def resting(model: Model = "small-fan-box", *faults: Fault, fit: Fit | None = None) -> Stand:
    """A chamber that has been cold for a while, with its readings in."""
    stand = Stand(model, pieces=(), faults=faults, fit=fit or Fit(tuned=False))
    stand.ticks(5)
    return stand


def asked(stand: Stand, ask: Ask) -> tuple[bool, str]:
    """Ask for something; return whether it was accepted, and the answer."""
    stand.ask(ask)
    stand.tick()
    (reply,) = stand.last.replies
    return reply.accepted, reply.text


def under_way(*faults: Fault, seconds: int = SECOND_SWING_S) -> Stand:
    """A test that has gone on for so long."""
    stand = resting("small-fan-box", *faults)
    accepted, why = asked(stand, TUNE)
    assert accepted, why
    stand.ticks(seconds)
    return stand


def ended(stand: Stand, *, within_s: int) -> str:
    """Tick until the test is over; return what people were told. No heat follows."""
    for _ in range(within_s):
        stand.tick()
        if stand.state.test is None:
            break
    assert stand.state.test is None
    assert stand.state.run.phase == "idle"
    stand.ticks(30)
    assert not stand.heating
    return next(e.text for e in reversed(stand.events) if e.kind in ("tune-done", "tune-refused"))


@pytest.mark.parametrize("model", ["small-fan-box", "slow-box", "overpowered", "dryer"])
def test_every_chamber_is_swung_to_the_end_without_a_trip(model: Model) -> None:
    stand = resting(model)
    assert asked(stand, replace(TUNE, setpoint_c=80.0))[0]
    assert "is over after" in ended(stand, within_s=3 * 3600)
    assert not [e for e in stand.events if e.kind == "trip"]


def test_the_lower_half_of_a_wide_slow_swing_is_no_fall_out_of_the_band(monkeypatch: pytest.MonkeyPatch) -> None:
    """The step of an empty chamber stands 6 K above the setpoint; F9 judges from the setpoint, where the swing belongs."""
    monkeypatch.setitem(PLANTS, "slow-box", Body(rise_k=128.0, time_constant_s=2400.0, dead_s=130.0, lag_s=0.0))
    stand = resting("slow-box")
    assert asked(stand, replace(TUNE, setpoint_c=40.0))[0]
    assert "is over after" in ended(stand, within_s=4 * 3600)
    assert not [e for e in stand.events if e.kind in ("alarm", "trip")]


def test_a_second_test_lower_down_waits_until_the_air_is_there() -> None:
    """Begun on air that the first has left hot, it would be out at once by the gravest trip, F11."""
    stand = resting()
    assert asked(stand, TUNE)[0]
    ended(stand, within_s=3 * 3600)
    lower = replace(TUNE, setpoint_c=45.0, run_id="tune-2")
    accepted, why = asked(stand, lower)
    assert not accepted
    assert "still at 6" in why
    stand.ticks(1800)
    assert asked(stand, lower)[0]
    assert "is over after" in ended(stand, within_s=3 * 3600)
    assert not [e for e in stand.events if e.kind == "trip"]


@pytest.mark.parametrize("ask", [Stop(), Hold()])
def test_a_test_broken_off_ends_where_the_record_sees_it(ask: Ask) -> None:
    """The phase that ends a run stands for a tick, or its run stays open on record for ever."""
    stand = under_way()
    stand.ask(ask)
    phases = []
    while stand.state.test is not None:
        stand.tick()
        phases.append(stand.state.run.phase)
    assert phases[-2:] == ["stopped", "idle"]


def test_the_swing_asks_for_heat_and_the_guard_may_take_it() -> None:
    """A whole test under a guard that never gives heat: the relay asks, the heater stays off, the test is broken off."""
    stand = Stand("small-fan-box", pieces=(), limits=with_limits(commissioning=True))
    stand.ticks(5)
    accepted, why = asked(stand, TUNE)
    assert not accepted
    assert "commissioned" in why
    stand = under_way(seconds=60)
    stand.tell(Notice("heat-forbidden", 0.0, "outputs outlive their process"))
    stand.tick()
    assert stand.state.test is not None
    assert stand.state.test.heater_on
    assert "heater" not in stand.last.on


def test_an_open_door_refuses_and_breaks_off() -> None:
    stand = resting("small-fan-box", Fault(kind="door-open", at_s=0.0, until_s=60.0))
    accepted, why = asked(stand, TUNE)
    assert not accepted
    assert "the door is open" in why
    stand = under_way(Fault(kind="door-open", at_s=650.0, until_s=710.0))
    assert "the door was opened" in ended(stand, within_s=200)


def test_a_batch_that_was_all_taken_out_does_not_end_the_test() -> None:
    stand = resting()
    assert asked(stand, Load(pieces=PIECES))[0]
    for one in PIECES:
        assert asked(stand, Pull(piece=one.name, weight_g=one.green_g))[0]
    assert asked(stand, TUNE)[0]
    stand.ticks(60)
    assert stand.state.test is not None
    assert stand.state.run.phase == "running"


def test_meat_inside_needs_the_owners_word() -> None:
    stand = resting()
    assert asked(stand, Load(pieces=PIECES))[0]
    accepted, why = asked(stand, TUNE)
    assert not accepted
    assert "meat is loaded" in why
    assert asked(stand, replace(TUNE, meat_may_stay=True))[0]
    stand.ask(Stop())
    assert "broken off" in ended(stand, within_s=10)
    assert [p.piece.name for p in stand.state.pieces] == [p.name for p in PIECES]


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (Fault(kind="heater-dead", at_s=0.0), "no-heat-response"),
        (Fault(kind="sensor-silent", channel="air", at_s=600.0), "the air reading was lost"),
        (Fault(kind="sensor-frozen", channel="air", at_s=500.0), "took longer than 2 h"),
        (Fault(kind="sensor-frozen", channel="air", at_s=535.0), "tripped: over-limit"),
    ],
    ids=["no answer", "reading lost", "frozen while cooling", "frozen while heating"],
)
def test_an_answer_that_cannot_be_believed_ends_it(fault: Fault, words: str) -> None:
    assert words in ended(under_way(fault, seconds=100), within_s=8000)


@pytest.mark.parametrize("ask", [Hold(), Stop()], ids=["hold", "stop"])
def test_hold_and_stop_end_it(ask: Ask) -> None:
    stand = under_way()
    assert asked(stand, ask)[0]
    assert "broken off" in ended(stand, within_s=10)


def test_a_trip_ends_it_and_stays() -> None:
    stand = under_way(Fault(kind="fan-stopped", at_s=650.0))
    assert "tripped: fan-stopped" in ended(stand, within_s=300)
    assert stand.raised("fan-stopped")
    assert not asked(stand, TUNE)[0]


@pytest.mark.parametrize("away_s", [1.0, 1200.0, 7200.0, -1.0])
def test_after_a_restart_it_is_over_whatever_the_outage(away_s: float) -> None:
    stand = under_way()
    stand.state = adopt(stand.layout, from_json(State, to_json(stand.state)))
    stand.tell(Notice("restarted", away_s))
    for _ in range(5):
        stand.tick()
        assert "heater" not in stand.last.on
    assert "started again in the middle" in ended(stand, within_s=5)


def test_a_run_in_hand_and_a_run_not_put_away_refuse_it() -> None:
    stand = Stand("small-fan-box")
    stand.begin(Program(name="p", cap_h=10.0, steps=(Step(name="s", air_c=60.0, ends=Ends(dwell_h=5.0)),)))
    assert "needs the chamber for itself" in asked(stand, TUNE)[1]
    asked(stand, Stop())
    stand.ticks(10)
    assert "'dryward reset'" in asked(stand, TUNE)[1]


def test_no_run_starts_into_a_test() -> None:
    stand = under_way(seconds=10)
    program = Program(name="p", cap_h=10.0, steps=(Step(name="s", air_c=60.0, ends=Ends(dwell_h=5.0)),))
    assert not asked(stand, Start(program=program, run_id="r"))[0]
    assert not asked(stand, Adopt(plant=PLANT))[0]


def test_accepted_figures_are_used_until_forgotten_and_outlive_a_restart() -> None:
    stand = resting()
    accepted, why = asked(stand, Adopt(plant=PLANT, cycle_s=60.0, pace="tight"))
    assert accepted
    assert "tuned on 2026-05-01" in why
    tuned = stand.state.tuned
    assert tuned is not None
    control = fitted(stand.layout, tuned).chamber.control
    assert (control.plant, control.cycle_s, control.pace) == (PLANT, 60.0, "tight")
    again = adopt(stand.layout, from_json(State, to_json(stand.state)))
    assert again.tuned == tuned
    assert asked(stand, Adopt())[0]
    assert stand.state.tuned is None


def test_the_heat_is_held_by_what_was_accepted() -> None:
    """The loop cuts its cycles as accepted, not as the chamber file has them."""
    stand = resting()
    assert asked(stand, Adopt(plant=PLANT, cycle_s=100.0))[0]
    stand.pieces = PIECES
    stand.begin(Program(name="p", cap_h=10.0, steps=(Step(name="s", air_c=60.0, ends=Ends(dwell_h=5.0)),)))
    stand.ticks(2400)
    assert stand.state.control.heat.phase == "hold"
    assert stand.state.control.heat.cycle.length_s >= 100.0


@pytest.mark.parametrize(("written", "stays"), [("2026-04-30", True), ("2026-05-01", False), ("2026-06-01", False)])
def test_a_newer_tuning_in_the_chamber_file_wins(written: str, stays: bool) -> None:
    stand = resting()
    assert asked(stand, Adopt(plant=PLANT))[0]
    control = replace(stand.layout.chamber.control, plant=replace(PLANT, tuned_on=written))
    layout = replace(stand.layout, chamber=replace(stand.layout.chamber, control=control))
    assert (outlives(layout, stand.state.tuned) is not None) is stays


@pytest.mark.parametrize(("written", "told"), [("2026-04-30", False), ("2026-05-01", True), ("2026-06-01", True)])
def test_who_accepts_what_the_next_start_will_drop_is_told(written: str, told: bool) -> None:
    stand = resting()
    control = replace(stand.layout.chamber.control, plant=replace(PLANT, tuned_on=written))
    stand.layout = replace(stand.layout, chamber=replace(stand.layout.chamber, control=control))
    accepted, text = asked(stand, Adopt(plant=PLANT))
    assert accepted
    assert (f"tuned on {written}, and from the next start on those are used" in text) is told
