"""The rows of the fault contract: what is done to the chamber, what must be noticed, how soon."""

from __future__ import annotations

from dataclasses import dataclass

from dryward.core.inputs import Notice
from dryward_hardware.twin.faults import Fault
from tests.faults.cell import Experiment
from tests.faults.rows_heat import (
    above_setpoint,
    dead_heater,
    disagreeing,
    failing,
    fallen_out_in_a_cool_step,
    falls_out_of_band,
    impossible,
    jumped,
    missing,
    never_there,
    over_limit,
    reversed_sensor,
    stuck,
    stuck_by_solid_state,
    swapped_sensors,
    welded,
)
from tests.faults.rows_run import (
    crash_loop,
    door_left_open,
    fan_stopped,
    heating_cap,
    keeper_lost,
    out_of_safe_band,
    outage,
    outage_after_trip,
    overrun,
    unaffected,
    worn_relay,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the matrix."""

    row: str
    what: str
    experiment: Experiment | None = None
    elsewhere: str = ""  # the tests that prove it with real processes


PROCESSES = "real processes: tests/faults_live/test_kills.py"
ROWS: tuple[Row, ...] = (
    Row(row="F1", what="main process dead", elsewhere=PROCESSES),
    Row(row="F2", what="main process hung", elsewhere=PROCESSES),
    Row(
        row="F3",
        what="kernel hung",
        elsewhere="'dryward check' sees that the watchdog is armed: tests/service/test_check_machine.py",
    ),
    Row(row="F4", what="reading silent", experiment=missing),
    Row(row="F4", what="reading fails", experiment=failing),
    Row(row="F4", what="reading never there", experiment=never_there),
    Row(row="F5", what="not a number", experiment=impossible(Fault(at_s=0.0, kind="sensor-nan"))),
    Row(
        row="F5",
        what="0.0 degC, 0.0 %RH",
        experiment=impossible(
            Fault(at_s=0.0, kind="sensor-value", value=0.0),
            Fault(at_s=0.0, kind="sensor-value", value=0.0, channel="humidity"),
        ),
    ),
    Row(row="F5", what="85.000 after power", experiment=impossible(Fault(at_s=0.0, kind="sensor-value", value=85.0))),
    Row(row="F5", what="outside the rating", experiment=impossible(Fault(at_s=0.0, kind="sensor-value", value=250.0))),
    Row(row="F5", what="jump of 25 K", experiment=jumped),
    Row(row="F6", what="stuck value", experiment=stuck),
    Row(row="F6", what="stuck, short cycles", experiment=stuck_by_solid_state),
    Row(row="F7", what="dead from the start", experiment=dead_heater(tuned=False, at_s=2)),
    Row(row="F7", what="dies, untuned", experiment=dead_heater(tuned=False)),
    Row(row="F7", what="dies, tuned", experiment=dead_heater(tuned=True)),
    Row(row="F8", what="fallen out, cool step", experiment=fallen_out_in_a_cool_step),
    Row(row="F9", what="falls out of band", experiment=falls_out_of_band),
    Row(row="F10", what="above its setpoint", experiment=above_setpoint),
    Row(row="F11", what="control air over limit", experiment=over_limit("air")),
    Row(row="F11", what="limit air over limit", experiment=over_limit("limit")),
    Row(row="F12", what="welded relay", experiment=welded(contactor=False)),
    Row(row="F12", what="welded, contactor", experiment=welded(contactor=True)),
    Row(row="F13", what="reversed sensor", experiment=reversed_sensor),
    Row(row="F13", what="swapped sensors", experiment=swapped_sensors),
    Row(row="F14", what="air sensors disagree", experiment=disagreeing),
    Row(row="F15", what="fan stopped", experiment=fan_stopped),
    Row(row="F16", what="away 1 min", experiment=outage(60.0, "running", "")),
    Row(row="F16", what="away 20 min", experiment=outage(1200.0, "restarting", "power-was-out")),
    Row(row="F16", what="away 2 h", experiment=outage(7200.0, "held", "held-after-outage")),
    Row(row="F16", what="away, clock unknown", experiment=outage(-1.0, "held", "held-after-outage")),
    Row(row="F16", what="away after a trip", experiment=outage_after_trip),
    Row(row="F17", what="step overrun", experiment=overrun),
    Row(row="F17", what="cap on heating", experiment=heating_cap),
    Row(row="F18", what="relay worn", experiment=worn_relay),
    Row(
        row="F19",
        what="wall clock jumps",
        experiment=unaffected(Notice("clock-stepped", -3600.0), "clock-stepped", 1.0),
    ),
    Row(
        row="F20",
        what="record fails",
        experiment=unaffected(Notice("record-failing", 0.0, "disk full"), "record-failing", 60.0),
    ),
    Row(
        row="F20",
        what="state lost",
        experiment=unaffected(Notice("state-lost", 0.0, "the record is damaged"), "state-lost", 60.0),
    ),
    Row(row="F21", what="broker lost", experiment=unaffected(Notice("broker-lost"), "broker-lost", 301.0)),
    Row(row="F22", what="door left open", experiment=door_left_open),
    Row(row="F22", what="out of safe band", experiment=out_of_safe_band),
    Row(row="F23", what="keeper died once", experiment=keeper_lost(1.0, "keeper-lost"), elsewhere=PROCESSES),
    Row(row="F23", what="keeper died thrice", experiment=keeper_lost(3.0, "keeper-dying"), elsewhere=PROCESSES),
    Row(row="F24", what="crash loop", experiment=crash_loop, elsewhere=PROCESSES),
)
