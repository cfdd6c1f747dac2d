"""``dryward tune`` on the running service: start, watch, read, accept, and hold by it; and what is refused on the way."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from dryward.service.serve import Daemon
from dryward.settings import read_settings
from tests.doors.conftest import Command, turning
from tests.faults_live.stand import until

PERIOD_S = 2.0
SPEED = 120.0


@pytest.fixture
def daemon(chamber_file: Path) -> Iterator[Daemon]:
    """A daemon on the simulated dryer, a hundred and twenty times as fast as real time, with a relay that wears."""
    text = chamber_file.read_text()
    assert "rated_operations = 0" in text
    text = text.replace("rated_operations = 0", "rated_operations = 100000").replace("cycle_s = 4\n", "cycle_s = 40\n")
    text = text.replace("period_s = 1.0\n", f"period_s = {PERIOD_S:g}\n")
    chamber_file.write_text(text)
    served = Daemon(read_settings(chamber_file), speed=SPEED)
    with turning(served):
        yield served


def test_from_the_first_swing_to_a_run_held_by_it(daemon: Daemon, command: Command) -> None:
    status = lambda: json.loads(command("status", "--json").output)  # noqa: E731
    until(lambda: status()["air"]["quality"] == "fresh", within_s=20.0, what="a reading")
    begun = command("tune", "start", "--at", "65")
    assert begun.exit_code == 0, begun.output
    assert "A relay test around 65 degC has begun" in begun.output
    assert status()["tuning"]["test"]["setpoint_c"] == 65.0
    assert status()["next"].startswith("Leave the door shut")
    until(lambda: status()["tuning"]["test"] is None, within_s=120.0, what="the end of the test", pace_s=0.2)
    shown = command("tune", "show")
    assert shown.exit_code == 0, shown.output
    for words in (
        "Trust: ",
        "Proposed (SIMC PI)",
        "calm",
        "Expect the air to swing",
        "operations a day",
        "years",
        "tuned_on",
    ):
        assert words in shown.output
    found = json.loads(command("tune", "show", "--json").output)
    # About the dryer of the bench (107 K, 466 s). At this speed a busy machine leaves out ticks and blurs the swing:
    # how exact it is without that is proved in tests/service/test_tuned.py.
    assert found["plant"]["gain_k"] == pytest.approx(107.0, rel=0.5)
    assert found["plant"]["time_constant_s"] == pytest.approx(466.0, rel=0.6)
    assert status()["tuning"]["accepted"] is None
    accepted = command("tune", "accept", "--pace", "tight")
    assert accepted.exit_code == 0, accepted.output
    assert "Used from now on, tight" in accepted.output
    assert status()["tuning"]["accepted"] == {"on": found["day"], "pace": "tight", "cycle_s": found["cycle_s"]}
    replayed = command("replay", found["run_id"])
    assert replayed.exit_code == 0, replayed.output
    assert command("tune", "forget").exit_code == 0
    assert status()["tuning"]["accepted"] is None


def test_what_has_not_been_done_cannot_be_shown_or_used(chamber_file: Path, daemon: Daemon, command: Command) -> None:
    for verb in ("show", "accept"):
        said = command("tune", verb)
        assert said.exit_code == 1
        assert "no relay test on record" in said.output
    refused = command("tune", "start", "--at", "25")
    assert refused.exit_code == 1
    assert "too near the room" in refused.output


def test_a_test_broken_off_proposes_nothing(daemon: Daemon, command: Command) -> None:
    status = lambda: json.loads(command("status", "--json").output)  # noqa: E731
    until(lambda: status()["air"]["quality"] == "fresh", within_s=20.0, what="a reading")
    assert command("tune", "start", "--at", "65").exit_code == 0
    assert command("stop").exit_code == 0
    until(lambda: status()["tuning"]["test"] is None, within_s=20.0, what="the end of the test")
    said = command("tune", "accept")
    assert said.exit_code == 1
    assert "the relay test was broken off: stopped by" in said.output
