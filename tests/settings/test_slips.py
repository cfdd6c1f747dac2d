"""The likely slip behind a wrong value is named with the line to write instead."""

from __future__ import annotations

from datetime import date

import pytest

from dryward.core.chamber import Chamber, Output
from dryward.core.program import Ends, Piece, Step
from dryward.settings.options import options
from dryward.settings.slips import mind_the_unit, slip, unit_of
from dryward.settings.tables import ServiceSettings


@pytest.mark.parametrize(
    ("cls", "key", "value", "told"),
    [
        (Step, "air_c", 176, "176 looks like degF: write 80."),  # 176 degF is 80 degC by definition of the scale
        (Step, "air_c", 158.0, "158 looks like degF: write 70."),
        (Step, "air_c", 900, ""),
        (Step, "air_c", "70,5 C", "Take the quotes away: air_c = 70.5."),
        (Step, "air_c", "warm", "Write a plain number in degC, without unit or quotes."),
        (Step, "air_c", "158 F", "Write a plain number in degC, without unit or quotes."),
        (Step, "air_c", "70 °C", "Take the quotes away: air_c = 70."),
        (Ends, "cap_h", "7 days", "Write a plain number in hours, without unit or quotes."),
        (Ends, "cap_h", "20h", "Take the quotes away: cap_h = 20."),
        (Piece, "green_g", "2 lb", "Write a plain number in g, without unit or quotes."),
        (Piece, "green_g", "1.2 kg", "Write a plain number in g, without unit or quotes."),
        (Output, "gpio", "17", "Take the quotes away: gpio = 17."),
        (Output, "gpio", "GPIO17", "Write a plain number, without unit or quotes."),
        (Step, "ramp_k_per_h", "5 K/h", "Take the quotes away: ramp_k_per_h = 5."),
        (Step, "air_c", True, "Write a number."),
        (Step, "watch_only", "false", "Take the quotes away: watch_only = false."),
        (Step, "watch_only", "no", "Write true or false."),
        (Step, "name", "First Day!", 'Write it as "first-day".'),
        (
            Step,
            "name",
            "###",
            "A name is 1 to 32 lower-case letters, digits and hyphens, beginning with a letter or a digit.",
        ),
        (Step, "name", 5, 'Put it in quotes: name = "5".'),
        (Step, "vent", "opened", "Did you mean 'open'?"),
        (Ends, "loss_pct", 0.35, "0.35 looks like a fraction: write 35."),
        (Ends, "loss_pct", -5, ""),
        (Piece, "target_loss_pct", 588, ""),  # the target weight in g; never 58.8 %
        (Piece, "salt_pct", 25, "25 looks like g per kg: write 2.5."),
        (Chamber, "pressure_pa", 1013, "1013 looks like hPa: write 101300."),
        (Output, "gpio", 17.5, "Write a whole number."),
        (Output, "gpio", 17.0, "Write it without a decimal point: 17."),
        (Output, "gpio", float("nan"), "Write a whole number."),
        (Output, "gpio", [17], ""),
        (Output, "gpio", date(2031, 5, 4), ""),
        (ServiceSettings, "socket", 5, 'Put it in quotes: socket = "5".'),
    ],
)
def test_the_slip_is_named(cls: type, key: str, value: object, told: str) -> None:
    assert slip(options(cls)[key], value) == told


def test_an_option_in_another_unit_is_named_with_its_own() -> None:
    assert mind_the_unit("dwell_d", options(Ends)) == " Its unit is hours."
    assert mind_the_unit("target_g", options(Piece)) == " Its unit is %."
    assert mind_the_unit("dwel_h", options(Ends)) == ""  # misspelt, and in the right unit
    assert mind_the_unit("vnt", options(Step)) == ""
    assert mind_the_unit("zzz", options(Step)) == ""


def test_every_option_with_a_number_of_something_names_its_unit() -> None:
    assert [unit_of(k) for k in ("ramp_k_per_h", "heartbeat_min", "puff_s", "gpio")] == [
        "K per hour",
        "minutes",
        "seconds",
        "",
    ]
