"""References and words of the three walks."""

from __future__ import annotations

from typing import Any

import pytest

from dryward.core.chamber import Scale as ScaleSettings
from dryward.core.chamber import Sensor
from dryward.doors.calibration_results import Humidity, Scale, Thermometer, number
from dryward.doors.measuring import Subject
from dryward.science.calibration import Point
from dryward.science.figures import BadFigures
from dryward.settings.sources import Device

AIR = Sensor(name="air", role="control-air", device="top", reads="temperature")
SUBJECT = Subject(name="air", device="top", kind="hwmon", reads="temperature")


def scale(reads: str = "counts", **options: Any) -> Scale:
    subject = Subject(name="hook-1", device="cell-1", kind="hx711", reads=reads, is_sensor=False)
    return Scale(
        subject,
        ScaleSettings(name="hook-1", device="cell-1", reads=reads, max_g=5000.0),
        Device(name="cell-1", kind="hx711", options=options),
    )


@pytest.mark.parametrize(("text", "value"), [("500", 500.0), (" 0.5 ", 0.5), ("0,5", 0.5), ("-3", -3.0)])
def test_a_figure_is_read_with_point_or_comma(text: str, value: float) -> None:
    assert number(text, "a figure") == value


@pytest.mark.parametrize("text", ["", "x", "nan", "inf", "-inf", "1.2.3"])
def test_what_is_no_figure_is_refused(text: str) -> None:
    with pytest.raises(BadFigures, match="no figure; type the weight"):
        number(text, "the weight")


def test_ice_and_boiling_water_are_known_references() -> None:
    task = Thermometer(SUBJECT, AIR, 101_325.0, None)
    assert task.reference("Ice") == (0.0, "ice water")
    celsius, note = task.reference("boiling")
    assert celsius == pytest.approx(99.97, abs=0.01), "steam tables at 101325 Pa"
    assert "101325 Pa" in note


def test_a_jar_is_given_as_salt_and_temperature() -> None:
    task = Humidity(SUBJECT, AIR, None)
    assert task.reference("KCl@30") == (83.6, "KCl at 30 degC (OIML R 121)")
    assert task.reference("50.5") == (50.5, "another sensor")
    with pytest.raises(BadFigures, match="between 0 and 100"):
        task.reference("150")


def test_a_scale_that_was_calibrated_before_is_told_the_change() -> None:
    text = (
        scale(g_per_count=0.01, calibration="old-one")
        .result([Point(0.0, 0.0), Point(1000.0, 98_000.0)], "new-one")
        .text
    )
    assert "A count weighs +2.04 % more than under old-one" in text
    assert 'calibration = "new-one"' in text
    assert "not known: weigh a third load" in text
    assert "not known: weigh one load twice" in text


def test_a_correction_far_from_every_point_is_called_a_guess() -> None:
    """Ice water says nothing of 80 degC, and two points 1.3 K apart turn a tenth of a kelvin into six."""
    for points in ([Point(0.0, 0.4)], [Point(0.0, 0.4), Point(1.2, 1.7)]):
        assert "NO POINT LIES NEAR 80.0 degC" in Thermometer(SUBJECT, AIR, 101_325.0, 80.0).result(points, "x").text
    between = [Point(0.0, 0.4), Point(99.97, 101.5)]
    assert "NO POINT" not in Thermometer(SUBJECT, AIR, 101_325.0, 80.0).result(between, "x").text
    assert "NO POINT" not in Thermometer(SUBJECT, AIR, 101_325.0, None).result(between[:1], "x").text


def test_two_points_say_nothing_of_the_error_of_a_reading() -> None:
    """Any line goes through two points: a tolerance of 0.01 g out of them would be made up."""
    found = scale().result([Point(0.0, 0.0), Point(1000.0, 98_000.0)], "new-one")
    assert "+-" not in found.text + found.short
    assert "may be off is not known" in found.text
    assert (found.values["tolerance_g"], found.values["interval_g"]) == (None, None)
    again = scale().result([Point(0.0, 0.0), Point(1000.0, 98_000.0), Point(1000.0, 98_100.0)], "new-one")
    assert "+-" in again.text


def test_a_scale_that_tells_grams_gets_its_errors_and_nothing_to_put_into_the_file() -> None:
    text = scale("weight").result([Point(0.0, 0.0), Point(1000.0, 1003.0), Point(2000.0, 2000.0)], "c").text
    assert "g_per_count" not in text
    assert "tells grams, not counts" in text


def test_a_large_correction_and_a_changing_error_are_pointed_out() -> None:
    result = Thermometer(SUBJECT, AIR, 101_325.0, None).result([Point(0.0, 3.9), Point(90.0, 90.5)], "c")
    assert "More than 2 degC is a lot" in result.text
    assert "give with --at the value" in result.text
    assert "# in place of" not in result.text
