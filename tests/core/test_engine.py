"""The engine as a transcript: what goes in, what comes out."""

from __future__ import annotations

import pytest

from dryward.core.chamber import Limits
from dryward.core.inputs import Hold, Load, Notice, Pull, Reset, Resume, Start, Stop, Weigh
from dryward.core.program import Ends
from tests.core.bench_chamber import LIMIT, Bench, chamber, hot, piece, program


def test_an_idle_chamber_switches_nothing_on() -> None:
    bench = Bench.of()
    bench.turns(5, 22.0)
    assert bench.last.on == frozenset()
    assert bench.state.no_heat == "the run is idle"


def test_a_started_run_heats_with_fan_and_contactor() -> None:
    bench = Bench.of()
    bench.begin()
    assert {"heater", "fan", "contactor"} <= bench.last.on
    assert bench.state.no_heat == ""


def test_no_reading_no_heat() -> None:
    bench = Bench.of()
    bench.turn(asks=(Load(pieces=(piece(),)), Start(program=program(), run_id="r1")))
    assert bench.state.run.phase == "running"
    assert not bench.heating
    assert "no good reading from air" in bench.state.no_heat


def test_heat_goes_off_when_the_reading_is_older_than_ten_seconds_and_trips_after_sixty() -> None:
    """Fault contract F4."""
    bench = Bench.of()
    bench.begin()
    off_after = trip_after = 0
    for second in range(1, 80):
        bench.turn()
        if not bench.heating and not off_after:
            off_after = second
        if bench.state.run.phase != "running" and not trip_after:
            trip_after = second
    assert off_after == 11
    assert 60 <= trip_after <= 61
    assert bench.state.run.phase == "held"
    assert "tripped: air-lost" in bench.state.no_heat


def test_the_air_coming_back_before_a_minute_heats_again() -> None:
    bench = Bench.of()
    bench.begin()
    bench.turns(40, None)
    bench.turn(22.1)
    assert bench.heating


def test_hold_takes_the_heat_away_and_resume_brings_it_back_slowly() -> None:
    bench = Bench.of()
    bench.begin()
    assert bench.ask(Hold(reason="visitors"), 22.0).accepted
    assert not bench.heating
    bench.turns(2, 22.0)
    assert bench.state.run.phase == "held"
    assert bench.ask(Resume(), 22.0).accepted
    assert bench.state.run.phase == "restarting"
    bench.turns(60, 22.0)
    setpoint_c = bench.state.control.setpoint_c
    assert setpoint_c is not None
    assert setpoint_c < 30.0  # 60 K/h from 22 degC: not at once to 80


def test_stop_ends_the_run_and_says_who() -> None:
    bench = Bench.of()
    bench.begin()
    bench.ask(Stop(reason="enough"), 22.0, who="Ines")
    bench.turns(2, 22.0)
    assert bench.state.run.phase == "stopped"
    assert not bench.heating
    said = next(e for e in bench.said if e.kind == "run-stopped")
    assert "Ines" in said.text
    assert "enough" in said.text


def test_the_run_is_complete_when_every_piece_is_done_or_pulled() -> None:
    bench = Bench.of()
    bench.begin(piece("a"), piece("b", 800.0), with_program=program(hot(ends=Ends(own_target=True))))
    bench.turn(60.0, asks=(Weigh(piece="a", weight_g=650.0),))
    assert bench.kinds.count("piece-done") == 1
    assert bench.state.run.phase == "running"
    bench.turn(60.0, asks=(Pull(piece="b", weight_g=700.0),))
    assert bench.state.run.phase == "complete"
    bench.turn(60.0)
    assert not bench.heating


def test_a_severe_trip_aborts_the_run_and_opens_the_contactor() -> None:
    """Fault contract F11: two samples above the absolute limit."""
    bench = Bench.of(chamber(sensors=(*chamber().sensors, LIMIT)))
    bench.begin()
    for air_c in range(24, 80, 4):
        bench.turn(float(air_c), readings=(("limit", float(air_c)),))
    bench.turn(80.0, readings=(("limit", 88.5),))
    bench.turn(80.0, readings=(("limit", 88.6),))
    bench.turn(80.0, readings=(("limit", 88.7),))
    assert bench.state.run.phase in ("aborting", "aborted")
    assert not {"heater", "contactor"} & bench.last.on
    assert any(e.kind == "trip" and e.severity == "trip" for e in bench.said)


def test_commissioning_evaluates_and_never_heats() -> None:
    bench = Bench.of(chamber(limits=Limits(commissioning=True)))
    bench.begin()
    bench.turns(30, 22.0)
    assert not bench.heating
    assert "commissioning" in bench.state.no_heat


def test_the_shell_can_forbid_heat_and_allow_it_again() -> None:
    bench = Bench.of()
    bench.begin()
    bench.turn(22.0, notices=(Notice("heat-forbidden", 0.0, "outputs persist"),))
    assert not bench.heating
    assert bench.state.no_heat == "outputs persist"
    bench.turn(22.0, notices=(Notice("heat-allowed"),))
    bench.turns(60, 22.0)
    assert bench.heating


@pytest.mark.parametrize(
    ("away_s", "phase"),
    [
        (0.0, "running"),
        (299.0, "running"),
        (300.0, "restarting"),
        (3600.0, "restarting"),
        (3601.0, "holding"),
        (-1.0, "holding"),
    ],
)
def test_an_outage_is_taken_by_its_length(away_s: float, phase: str) -> None:
    """Fault contract F16: under 5 min go on, to an hour ramp back, longer or unknown hold and ask."""
    bench = Bench.of()
    bench.begin()
    bench.turns(5, 22.0)
    bench.turn(22.0, notices=(Notice("restarted", away_s),))
    assert bench.state.run.phase == phase
    if phase == "holding":
        bench.turns(2, 22.0)
        assert bench.state.run.phase == "held"
        assert "held-after-outage" in bench.kinds


def test_an_outage_never_wakes_a_held_run() -> None:
    bench = Bench.of()
    bench.begin()
    bench.ask(Hold(), 22.0)
    bench.turns(3, 22.0)
    bench.turn(22.0, notices=(Notice("restarted", 10.0),))
    assert bench.state.run.phase == "held"


def test_operations_and_time_on_are_counted() -> None:
    bench = Bench.of()
    bench.begin()
    bench.turns(9, 22.0)
    bench.ask(Hold(), 22.0)
    bench.turns(3, 22.0)
    heater = next(t for t in bench.state.tallies if t.name == "heater")
    assert heater.operations == 1
    assert heater.on_s == pytest.approx(10.0)


def test_the_heating_cap_ends_the_run() -> None:
    """Fault contract F17."""
    bench = Bench.of(chamber(limits=Limits(max_heating_h=0.01, response_s=3600.0, no_response_power_s=7200.0)))
    bench.begin()
    bench.turns(60, 22.0)
    assert bench.state.run.phase == "stopped"
    assert "cap on heating hours" in bench.state.run.why


def test_after_an_end_reset_makes_ready_for_the_next_batch() -> None:
    bench = Bench.of()
    bench.begin()
    bench.ask(Stop(), 22.0)
    bench.turns(2, 22.0)
    assert bench.ask(Reset(), 22.0).accepted
    assert bench.state.run.phase == "idle"
    assert bench.state.pieces == ()
