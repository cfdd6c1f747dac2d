"""The likely slip behind a wrong value is named with the line to write instead."""

from __future__ import annotations

from datetime import date

import pytest

from dryward.core.chamber import Chamber, Output
from dryward.core.program import Ends, Piece, Step
from dryward.settings.options import options
from dryward.settings.slips import slip
from dryward.settings.tables import ServiceSettings


@pytest.mark.parametrize(
    ("cls", "key", "value", "told"),
    [
        (Step, "air_c", 176, "176 looks like degF: write 80."),  # 176 degF is 80 degC by definition of the scale
        (Step, "air_c", 158.0, "158 looks like degF: write 70."),
        (Step, "air_c", 900, ""),
        (Step, "air_c", "70,5 C", "Take the quotes away: air_c = 70.5."),
        (Step, "air_c", "warm", "Write a plain number, without unit or quotes."),
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
        (Piece, "salt_pct", 25, "25 looks like a figure per 1000: write 2.5."),
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
