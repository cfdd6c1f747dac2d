"""How facts are told."""

from __future__ import annotations

import pytest

from dryward.science.clocks import COLD_C
from dryward.science.wording import KEEP_COLD, WHO_DECIDES, Statement, duration


def test_a_statement_shows_what_it_stands_on() -> None:
    assert str(Statement("estimate", "It is so.")) == "[estimate] It is so."


@pytest.mark.parametrize(
    ("seconds", "said"), [(0.0, "0 min"), (59 * 60.0, "59 min"), (3599.0, "1 h 0 min"), (18_720.0, "5 h 12 min")]
)
def test_durations_are_said_in_hours_and_minutes(seconds: float, said: str) -> None:
    assert duration(seconds) == said


def test_cautions_name_the_cold_and_who_decides() -> None:
    """USDA: storage at or below 40 degF, 4.4 degC."""
    assert f"at or below {COLD_C} degC" in KEEP_COLD
    assert "Local food codes and licensed practice decide" in WHO_DECIDES
    assert "laboratory water activity decides" in WHO_DECIDES
