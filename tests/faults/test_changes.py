"""A heater that weakens and a fan that slows are named by the whole engine before anything trips; a healthy run hears nothing."""

from __future__ import annotations

import pytest

from dryward.core.inputs import Stop
from dryward.core.program import Ends, Program, Step
from dryward_hardware.twin.faults import Fault
from tests.faults.stand import Fit, Stand

HELD = Program(name="held", cap_h=300.0, steps=(Step(name="warm", air_c=60.0, ends=Ends(dwell_h=100.0)),))
KEYS = {"heater-changed", "air-slower"}
FROM_S = 6 * 3600


def told(*faults: Fault, hours: float) -> tuple[Stand, list[str]]:
    """Run the simulated dryer with meat in it, tuned, until it says something of its heater or the hours are over."""
    stand = Stand("dryer", fit=Fit(tuned=True), faults=faults, start_c=55.0)
    stand.begin(HELD)
    while stand.seconds < hours * 3600 and not any(stand.raised(key) for key in KEYS):
        stand.tick()
    return stand, [e.subject for e in stand.events if e.kind in ("alarm", "trip")]


@pytest.mark.parametrize(
    ("fault", "key", "words"),
    [
        (Fault(kind="heater-weak", value=0.6, at_s=FROM_S), "heater-changed", "Look at the element"),
        (Fault(kind="fan-slow", value=0.5, at_s=FROM_S), "air-slower", "Look at the fan first"),
    ],
    ids=["heater at 60 %", "fan at half speed"],
)
def test_what_fails_is_named_in_a_running_run(fault: Fault, key: str, words: str) -> None:
    stand, alarms = told(fault, hours=12.0)
    assert stand.seconds > FROM_S
    assert alarms == [key]
    event = next(e for e in stand.events if e.subject == key)
    assert event.severity == "warning"
    assert event.text
    assert event.meaning
    assert words in event.advice
    stand.ask(Stop())
    stand.ticks(60)
    assert [a.phase for a in stand.state.alarms if a.key == key] == ["cleared"]  # without heat nothing is known of it


def test_a_healthy_run_hears_nothing_of_it() -> None:
    _, alarms = told(hours=12.0)
    assert alarms == []
