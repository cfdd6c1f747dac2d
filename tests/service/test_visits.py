"""When to come back, in words and as a plan: by hand, on a scale, in quiet hours."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.inputs import Pull, Weigh
from dryward.core.state import State
from dryward.science.comeback import Visit
from dryward.service.foretell import Ahead, Outlook
from dryward.service.visits import clock_words, due, listed, quiet_spans, said, visits
from tests.core.bench_chamber import Bench, piece

H = 3600.0


@pytest.fixture(autouse=True)
def somewhere(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A place with summer time."""
    monkeypatch.setenv("TZ", "Europe/Lisbon")
    time.tzset()
    yield
    monkeypatch.undo()
    os.environ.setdefault("TZ", "UTC")
    time.tzset()


def local(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


def running(*names: str) -> Bench:
    bench = Bench.of()
    bench.begin(*(piece(n) for n in names), air_c=40.0)
    bench.turns(3, 40.0)
    return bench


def outlook(state: State, **finish_h: float) -> Outlook:
    """Finishes so many hours from now, give or take a tenth of that."""
    pieces = tuple(
        Ahead(
            piece=name, last_s=state.now, last_g=800.0, finish_s=state.now + h * H, lo_s=state.now + 0.9 * h * H,
            hi_s=state.now + 1.1 * h * H, late_s=1.5 * H,
        )
        for name, h in finish_h.items()
    )  # fmt: skip
    return Outlook(run_id=state.run.run_id, made_s=state.now, over_s=1e9, pieces=pieces)


def planned(state: State, found: Outlook | None) -> tuple[Visit, ...]:
    return visits(state, found, (), weigh_every_h=12.0)


def test_a_new_piece_weighed_by_hand_is_come_for_within_half_of_the_reminders_interval() -> None:
    state = running("a", "b").state
    (visit,) = planned(state, None)
    assert visit.weigh == ("a", "b")
    assert visit.at_s == state.run.started_s + 6 * H
    (often,) = visits(state, None, (), weigh_every_h=0.0)
    assert often.at_s == visit.at_s  # no reminder wanted is no reason to come never


def test_pieces_with_a_forecast_are_come_for_by_it_and_shared() -> None:
    state = running("a", "b").state
    first = planned(state, outlook(state, a=20.0, b=21.0))[0]
    assert first.weigh == ("a", "b")
    assert 15 * H < first.at_s - state.now < 21 * H


def test_a_piece_that_hangs_on_its_own_scale_is_not_weighed() -> None:
    state = running("a", "b").state
    hung = replace(state, pieces=(replace(state.pieces[0], hung=True), state.pieces[1]))
    found = planned(hung, outlook(hung, a=10.0, b=30.0))
    assert all("a" not in v.weigh for v in found)
    assert found[0].ready == ("a",)


def test_a_forecast_of_another_run_counts_for_nothing() -> None:
    state = running("a").state
    other = replace(outlook(state, a=5.0), run_id="before")
    assert planned(state, other) == planned(state, None)


def test_outside_of_a_run_nobody_has_to_come() -> None:
    assert planned(Bench.of().state, None) == ()


def test_what_is_done_or_out_by_now_is_left_out_of_the_sentence() -> None:
    bench = running("a", "b")
    found = planned(bench.state, outlook(bench.state, a=20.0, b=21.0))
    bench.turn(40.0, asks=[Pull(piece="a", weight_g=700.0), Weigh(piece="b", weight_g=900.0)])
    next_one = due(found, bench.state, local("2026-05-04 12:00"))
    assert next_one is not None
    assert next_one.weigh == ("b",)
    assert "a" not in next_one.text.split()
    assert set(next_one.planned) == {"a", "b"}
    bench.turn(40.0, asks=[Pull(piece="b", weight_g=700.0)])
    assert due(found, bench.state, 0.0) is None


@pytest.mark.parametrize(
    ("weigh", "ready", "hours", "text"),
    [
        (("2", "4"), ("4",), 6.667, "Weigh 2 and 4 at 18:40; 4 is probably ready; nothing needs you before."),
        (("2", "4"), (), 6.667, "Weigh 2 and 4 at 18:40, so that it is known more surely how far they are; nothing needs you before."),
        (("2",), (), 0.0, "Weigh 2 now, so that it is known more surely how far it is."),
        (("2",), ("1",), 20.0, "Weigh 2 tomorrow at 08:00 and take out 1; 1 is probably ready; nothing needs you before."),
        ((), ("1", "3"), 48.0, "Take out 1 and 3 on Wednesday at 12:00: probably ready then; nothing needs you before."),
        ((), ("1",), 0.01, "Take out 1 now: probably ready by now."),
    ],
)  # fmt: skip
def test_an_opening_is_a_clock_time_in_plain_words(
    weigh: tuple[str, ...], ready: tuple[str, ...], hours: float, text: str
) -> None:
    assert said(1000.0 + hours * H, weigh, ready, 1000.0, local("2026-05-04 12:00")) == text


def test_a_moment_far_off_has_its_date() -> None:
    assert clock_words(30 * 24 * H, local("2026-05-04 12:00")) == "on 2026-06-03 at 12:00"


def test_names_are_joined_as_people_do() -> None:
    assert [listed(names) for names in (["a"], ["a", "b"], ["a", "b", "c"])] == ["a", "a and b", "a, b and c"]


def test_quiet_hours_stand_on_the_chamber_clock_and_follow_summer_time() -> None:
    now, utc_s = 5000.0, local("2026-03-28 20:00")  # in the night an hour of the clock is left out
    spans = quiet_spans("22:00", "06:30", now, utc_s)
    tonight = next(s for s in spans if s[0] > now)
    assert [round((t - now) / H, 2) for t in tonight] == [2.0, 9.5]
    after = spans[spans.index(tonight) + 1]
    assert [round((t - now) / H, 2) for t in after] == [25.0, 33.5]
    assert quiet_spans("", "", now, utc_s) == []
    assert quiet_spans("12:00", "12:00", now, utc_s) == []


@given(st.floats(0.0, 86_400.0))
def test_a_moment_in_quiet_hours_lies_in_one_of_the_spans(after_s: float) -> None:
    utc_s = local("2026-05-04 00:00") + after_s
    inside = any(begin <= 0.0 < end for begin, end in quiet_spans("22:00", "06:30", 0.0, utc_s))
    clock = datetime.fromtimestamp(utc_s).time()
    assert inside == (clock.hour >= 22 or (clock.hour, clock.minute) < (6, 30))
