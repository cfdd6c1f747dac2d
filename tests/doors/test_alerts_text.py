"""A message reads well aloud to a tired person: what happened, what it means, what to do, when."""

from __future__ import annotations

from datetime import datetime

import pytest

from dryward.core.alarms import Alarm
from dryward.core.commands import Event
from dryward.core.faults import FAULTS
from dryward.doors.alerts_text import LONGEST, body, title

MOMENT = datetime(2026, 5, 4, 2, 5)


def test_a_message_says_what_happened_what_it_means_what_to_do_and_when() -> None:
    event = Event(kind="trip", severity="trip", text="It is hot.", meaning="The meat cools.", advice="Go there.")
    assert title("shed", "trip") == "shed: TRIP"
    assert body(event, MOMENT, "shed-1") == "It is hot.\nThe meat cools.\nGo there.\n(Mon 04 May, 02:05, run shed-1)"
    assert body(event, MOMENT, "").endswith("(Mon 04 May, 02:05)")


def test_a_long_one_is_cut_and_still_says_when() -> None:
    text = body(Event(kind="x", text="x" * 9000), MOMENT, "shed-1")
    assert len(text) < LONGEST + 60
    assert text.endswith("(Mon 04 May, 02:05, run shed-1)")


@pytest.mark.parametrize("key", sorted(FAULTS))
def test_every_alarm_has_three_sentences_that_fit_a_message(key: str) -> None:
    happened, meaning, advice = Alarm(key=key, subject="x", phase="active", since_s=0.0, value=1.0, detail="y").say()
    text = body(Event(kind="alarm", text=happened, meaning=meaning, advice=advice), MOMENT, "shed-20260504-020500")
    assert "..." not in text
    assert all((happened, meaning, advice))
    assert "{" not in text
