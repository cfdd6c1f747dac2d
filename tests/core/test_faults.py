"""The table of faults: whole, consistent, readable aloud."""

from __future__ import annotations

import re

import pytest

from dryward.core.alarms import Alarm
from dryward.core.fault import Fault
from dryward.core.faults import FAULTS

CONTRACT_ROWS = {f"F{n}" for n in range(1, 25)}
SHELL_ROWS = {"F1", "F2", "F3", "F5", "F19"}
"""Rows without an alarm of their own: the keeper and the system act on F1 to F3, F5 becomes F4, F19 is only noted."""
TRIPS = {
    "air-lost", "air-stuck", "no-heat-response", "no-heat-near-target", "below-band-long", "over-setpoint", "over-limit",
    "heat-while-off", "contactor-welded", "reversed", "fan-stopped", "keeper-dying", "crash-loop",
}  # fmt: skip
"""What the contract calls a trip."""


def said(fault: Fault) -> tuple[str, str, str]:
    """The three lines as a person gets them."""
    return Alarm(
        key=fault.key, subject="air", phase="active", since_s=0.0, value=12.34, detail="the card is full"
    ).say()


def test_every_row_of_the_contract_has_its_alarms() -> None:
    assert {f.row for f in FAULTS.values() if f.row} == CONTRACT_ROWS - SHELL_ROWS


def test_what_the_contract_calls_a_trip_latches_and_nothing_else() -> None:
    assert {k for k, f in FAULTS.items() if f.trips} == TRIPS


def test_only_too_much_heat_ends_a_run() -> None:
    assert {k for k, f in FAULTS.items() if f.effect == "abort"} == {"over-limit", "heat-while-off"}


def test_a_trip_is_raised_without_delay_but_for_a_contact_that_needs_time_to_move() -> None:
    assert {k for k, f in FAULTS.items() if f.trips and f.on_s > 0.0} == {"contactor-welded"}


@pytest.mark.parametrize("fault", FAULTS.values(), ids=lambda f: f.key)
def test_three_lines_are_filled_in_and_each_is_whole_sentences(fault: Fault) -> None:
    for line in said(fault):
        assert line
        assert "{" not in line
        assert line[0].isupper() or line.startswith(("dryward", "air"))
        assert line.endswith((".", "?"))
        assert "  " not in line


@pytest.mark.parametrize("fault", FAULTS.values(), ids=lambda f: f.key)
def test_three_lines_are_short_enough_for_two_in_the_morning(fault: Fault) -> None:
    happened, meaning, advice = said(fault)
    assert len(happened) <= 120
    assert len(meaning) <= 160
    assert len(advice) <= 230
    for sentence in re.split(r"(?<=[.?!]) ", " ".join((happened, meaning, advice))):
        assert len(sentence.split()) <= 24, sentence


@pytest.mark.parametrize("fault", [f for f in FAULTS.values() if f.effect == "trip"], ids=lambda f: f.key)
def test_a_trip_says_what_becomes_of_the_heat_and_how_to_go_on(fault: Fault) -> None:
    _, meaning, advice = said(fault)
    assert "heat" in (fault.happened + meaning).lower()
    assert "'dryward ack', 'dryward reset', 'dryward resume'" in advice


@pytest.mark.parametrize("fault", [f for f in FAULTS.values() if f.effect == "abort"], ids=lambda f: f.key)
def test_too_much_heat_names_the_plug(fault: Fault) -> None:
    assert "PULL THE PLUG" in said(fault)[2]


@pytest.mark.parametrize("fault", FAULTS.values(), ids=lambda f: f.key)
def test_no_jargon(fault: Fault) -> None:
    text = " ".join(said(fault)).lower()
    for word in (
        "plausible",
        "debounce",
        "latched",
        "duty",
        "pwm",
        "exception",
        "timeout",
        "none",
        "null",
        "setpoint + ",
    ):
        assert word not in text
