"""The review in the terminal: verdict first, at most 80 columns, whatever the names."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta, timezone

from dryward.record.band import Sample
from dryward.record.facts import Extreme
from dryward.record.lines import WeighInLine
from dryward.record.moments import ScaleCalibration
from dryward.record.review import PlotPoint, judge
from dryward.record.review_text import as_text, plot
from tests.record.scene import PROGRAM, event
from tests.record.test_review import DONE, OUT, RUN, SHORT, EventLine, facts

AIR = [Sample(tick, 300, 40.0 + tick / 400.0, 41.0 + tick / 400.0, 42.0 + tick / 400.0) for tick in range(0, 7300, 300)]


def full(**more: object) -> str:
    told = (
        EventLine(
            300,
            "2025-10-09T08:58:20.000Z",
            event("The fan stands still and " + "really " * 20, severity="trip", advice="Look."),
        ),
    )
    changes = {
        "pieces": (DONE, SHORT, OUT),
        "samples": {"air": AIR},
        "extremes": {"air": (Extreme(40.0, 100), Extreme(59.9, 7200))},
        "events": told,
    }
    return as_text(judge(facts(**{**changes, **more})))  # type: ignore[arg-type]


def test_the_verdict_is_the_first_line() -> None:
    assert full().splitlines()[0] == "COMPLETE, BUT SHORT: 1 of 3 pieces reached their target."
    aborted = full(run=replace(RUN, end_state="aborted", end_reason="tripped: fan"))
    assert aborted.splitlines()[:2] == [
        "ABORTED, NOT FINISHED: 1 of 3 pieces reached their target.",
        "Why it ended: tripped: fan.",
    ]


def test_no_line_is_longer_than_80_columns_even_with_the_longest_names() -> None:
    long_name = DONE._replace(name="n" * 32)
    text = full(pieces=(long_name, OUT._replace(name="m" * 32)))
    assert max(map(len, text.splitlines())) <= 80
    weighed = full(weigh_ins=(WeighInLine(4000, "n" * 32, 700.5, "w" * 32, "weigh"),))
    assert max(map(len, weighed.splitlines())) <= 80
    assert "09 Oct 10:00" in weighed
    assert "n" * 5 in text


def test_green_target_final_loss_and_finish_stand_in_one_line_per_piece() -> None:
    line = next(line for line in full().splitlines() if line.startswith("loin-a"))
    assert line.split() == ["loin-a", "1000", "650", "648", "35.2", "35", "09", "Oct", "10:32"]


def test_times_are_told_in_the_wanted_zone() -> None:
    text = as_text(judge(facts()), zone=timezone(timedelta(hours=2), "CEST"))
    assert "09 Oct 10:55 to 09 Oct 12:55 (2 h 00), times in CEST, 2025" in text
    told = (EventLine(300, "2025-10-09T08:58:20.000Z", event("The fan stands.", severity="trip")),)
    tripped = as_text(judge(facts(events=told)), zone=timezone(timedelta(hours=2), "CEST"))
    assert "! Trip at Thu 9 Oct 10:58: The fan stands." in tripped


def test_the_caution_is_always_there() -> None:
    assert "Lost weight alone does not make meat safe" in " ".join(full().split())


def test_the_plot_puts_high_values_high_and_the_setpoint_where_it_belongs() -> None:
    points = [PlotPoint(hours=i + 0.5, low=20.0 + i, mean=20.0 + i, high=20.0 + i, setpoint=40.0) for i in range(20)]
    lines = plot(points, rows=5).splitlines()
    assert lines[0].startswith("  40.0 |" + "-" * 18)
    assert lines[4].startswith("  20.0 |ooo")
    assert [line.count("o") for line in lines[:5]] == [2, 5, 5, 5, 3]


def test_a_flat_curve_is_not_blown_up() -> None:
    points = [PlotPoint(hours=i + 0.5, low=12.0, mean=12.0, high=12.1, setpoint=None) for i in range(10)]
    lines = plot(points, rows=5).splitlines()
    assert (lines[0][:6].strip(), lines[4][:6].strip()) == ("14.1", "10.1")


def test_a_run_without_any_reading_has_a_review_too() -> None:
    text = as_text(judge(facts(pieces=(), setpoints=((1, 50.0),))))
    assert text.startswith("COMPLETE: the program came to its end.")


def test_energy_water_and_switchings_stand_in_one_sentence() -> None:
    """2.4 kWh for the 352 g of loin-a is 6.8 kWh per kg."""
    text = as_text(judge(facts(totals={"energy_kwh": 2.4, "fan_operations": 1.0, "heater_operations": 42.0})))
    assert "energy 2.40 kWh; water lost 352 g; 6.8 kWh per kg of water; fan switched once;" in " ".join(text.split())
    assert "heater switched 42 times" in " ".join(text.split())
    heavier = as_text(judge(facts(pieces=(DONE._replace(final_g=1000.4),), totals={"energy_kwh": 2.4})))
    assert "per kg" not in heavier
    assert "-0" not in heavier


def test_a_step_without_a_band_did_not_miss_it() -> None:
    watched = replace(RUN, program=replace(PROGRAM, steps=(replace(PROGRAM.steps[0], air_c=None, watch_only=True),)))
    assert "never" not in full(run=watched)
    assert "never" in full(samples={})


def test_the_calibrations_of_the_scales_are_named_each_once() -> None:
    def cell(scale: str, calibration: str) -> ScaleCalibration:
        return ScaleCalibration(scale=scale, calibration=calibration, zero_count=0.0, g_per_count=1.0)

    scales = [(0, cell("hook-1", "a")), (0, cell("hook-2", "")), (50, cell("hook-1", "a")), (90, cell("hook-1", "b"))]
    text = full(scales=scales)
    assert "Calibrations: hook-1 by a, then b; hook-2 by one without a name." in text
    assert "Calibrations" not in full()
