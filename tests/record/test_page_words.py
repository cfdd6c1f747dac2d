"""Times and lengths as people say them; the four answers."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import UTC, timedelta, timezone
from pathlib import Path

import pytest

from dryward.core.program import AtEnd
from dryward.record.gather import gather
from dryward.record.page_words import (
    answers,
    humane,
    length,
    moment,
    number,
    short_moment,
    spread,
    too_hot_above,
    wear,
    zone_name,
)
from dryward.record.queries import Record
from dryward.record.review import judge
from tests.record.batch import write_batch
from tests.record.scene import CHAMBER


def test_words() -> None:
    assert [length(m) for m in (0.4, 99.0, 185.0, 4320.0)] == ["0 min", "99 min", "3 h 05", "3 d 00 h"]
    assert moment("2025-10-09T08:53:20.000Z", UTC) == "Thu 9 Oct 8:53"
    assert short_moment(1_760_000_000.0, timezone(timedelta(hours=2))) == "9 Oct 10:53"
    assert zone_name("2025-10-09T08:53:20.000Z", "2025-10-12T08:53:20.000Z", UTC) == "UTC, 2025"
    assert zone_name("2025-12-30T08:53:20.000Z", "2026-01-02T08:53:20.000Z", UTC) == "UTC, 2025 to 2026"
    assert humane("Trip at 2025-10-09T08:53:20.000Z: 9097 min", UTC) == "Trip at Thu 9 Oct 8:53: 6 d 07 h"
    assert (number(-0.04, 1), number(-0.3), number(-1.0, 1)) == ("0.0", "0", "-1.0")
    assert (number(None), number(1.25, 1), spread([], [], "K")) == ("–", "1.2", "nothing recorded")
    assert wear(CHAMBER, {"heater": 1000})[0][2] == "1.0 % of 100000"


def test_without_a_zone_named_times_are_those_of_the_clock_on_the_wall(monkeypatch: pytest.MonkeyPatch) -> None:
    """29 March 2026, 01:00 UTC: Central Europe went to summer time (IANA time zone database), whatever month it is now."""
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    try:
        began, until = "2026-03-28T20:00:00.000Z", "2026-03-29T08:00:00.000Z"
        assert (moment(began, None), moment(until, None)) == ("Sat 28 Mar 21:00", "Sun 29 Mar 10:00")
        assert zone_name(began, until, None) == "CET, then CEST, 2026"
        assert zone_name(began, began, None) == "CET, 2026"
    finally:
        monkeypatch.undo()
        time.tzset()


@pytest.mark.parametrize(
    ("end", "done", "hot"),
    [
        ("complete", "Not all of it", "No"),
        ("aborted", "No, it was aborted", "Yes, above its limit"),
        ("", "Not yet, or cut off", "No"),
        ("stopped", "No, it was stopped", "No"),
    ],
)
def test_the_answers_follow_the_record(tmp_path: Path, end: str, done: str, hot: str) -> None:
    """Limit: the lower of the chamber's 90 degC and the hottest step, 60, plus 8 K."""
    write_batch(tmp_path / "r.db", end=end, hot=hot != "No")
    with Record(tmp_path / "r.db") as record:
        facts = gather(record, "r1")
    assert too_hot_above(facts.run) == 68.0
    found = answers(judge(facts), facts.run, zone=UTC)
    assert (found[0].answer, found[1].answer) == (done, hot)
    assert (found[3].mood == "bad") == (end == "aborted")


def test_keeping_warm_after_the_last_step_is_no_step_that_missed_its_band(tmp_path: Path) -> None:
    write_batch(tmp_path / "r.db")
    with Record(tmp_path / "r.db") as record:
        facts = gather(record, "r1")
    keep = replace(facts.run.program, at_end=AtEnd(air_c=60.0))
    warm = facts.steps[-1]._replace(step_no=2, name="keep-warm")
    found = judge(replace(facts, run=replace(facts.run, program=keep), steps=(*facts.steps, warm)))
    assert "never" not in answers(found, facts.run, zone=UTC)[2].answer
    assert not any("keep-warm" in line for line in found.attention)


def test_without_an_air_reading_nothing_is_claimed(tmp_path: Path) -> None:
    write_batch(tmp_path / "r.db")
    with Record(tmp_path / "r.db") as record:
        facts = gather(record, "r1")
    assert answers(judge(replace(facts, extremes={})), facts.run, zone=UTC)[1].answer == "Not known"
