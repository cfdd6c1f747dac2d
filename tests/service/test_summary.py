"""The daily summary: of a run worth speaking of, from the record, with what the daemon foretells."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from dryward.core.layout import lay_out
from dryward.core.phases import ACTIVE, ENDED
from dryward.core.state import State, first_state
from dryward.record.lines import NoSuchRun
from dryward.service.summary import summary, worth_a_summary
from tests.record.batch import write_batch
from tests.record.scene import CHAMBER

NOW = 200_000.0


def state(phase: str, *, ended_h: float | None = None) -> State:
    fresh = first_state(lay_out(CHAMBER), NOW)
    ended_s = None if ended_h is None else NOW - 3600.0 * ended_h
    return replace(fresh, now=NOW, run=replace(fresh.run, phase=phase, run_id="r1", ended_s=ended_s))  # type: ignore[arg-type]


def test_a_run_under_way_or_just_ended_is_worth_it() -> None:
    told = {p for p in ACTIVE | ENDED if worth_a_summary(state(p, ended_h=3.0))}
    assert told == ACTIVE | ENDED
    assert not worth_a_summary(state("complete", ended_h=25.0))
    assert not worth_a_summary(state("idle"))


def test_it_is_news_that_ends_with_what_to_do(tmp_path: Path) -> None:
    write_batch(tmp_path / "r.db", end="")
    told = summary(tmp_path / "r.db", "r1", {"pieces": [], "come_back": [{"text": "Come back at 7."}]})
    assert (told.kind, told.severity, told.subject) == ("daily-summary", "notice", "r1")
    assert "run r1" in told.text
    assert "loin-a: 36.0 of 35 % lost" in told.text
    assert "TRIP: The fan stands." in told.text
    assert told.advice == "Next: Look at the fan."  # what stands is graver than the next visit
    assert "Next" not in told.text


def test_a_daemon_that_foretells_nothing_is_summed_up_too(tmp_path: Path) -> None:
    write_batch(tmp_path / "r.db", end="")
    assert summary(tmp_path / "r.db", "r1", {}).advice.startswith("Next: ")
    with pytest.raises(NoSuchRun):
        summary(tmp_path / "r.db", "nope", {})
