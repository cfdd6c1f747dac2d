"""Who is told what, and when: quiet hours, what cannot wait, what is said again, and when it stops."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.commands import Event, Severity
from dryward.core.inputs import Ack, Hold, Notice, Pull, Resume, Stop, Weigh
from dryward.doors.alerts_rules import Rules, Told, quiet_until, with_again
from dryward.service.visits import Due
from dryward.settings import AlertSettings
from tests.core.bench_chamber import Bench, piece

NOON = datetime(2026, 5, 4, 12, 0)
NIGHT = datetime(2026, 5, 4, 23, 30)
QUIET = AlertSettings(quiet_from="22:00", quiet_to="06:30")


def event(severity: Severity, kind: str = "x") -> Event:
    return Event(kind=kind, severity=severity, text="text", meaning="meaning", advice="advice")


def tripped(**more: float) -> tuple[Bench, Rules]:
    bench = Bench.of()
    bench.begin(air_c=40.0)
    bench.turn(40.0, notices=[Notice("keeper-lost", 3.0, "died")])
    return bench, Rules(replace(AlertSettings(), **more))  # type: ignore[arg-type]


def looked(rules: Rules, bench: Bench, minutes: float) -> list[Told]:
    return rules.look(bench.state, NOON, bench.state.now + minutes * 60.0)


@pytest.mark.parametrize(
    ("least", "told"),
    [
        ("notice", ["notice", "warning", "alarm", "trip"]),
        ("warning", ["warning", "alarm", "trip"]),
        ("alarm", ["alarm", "trip"]),
    ],
)
def test_only_what_is_grave_enough_is_told_and_log_lines_never(least: Severity, told: list[str]) -> None:
    rules = Rules(replace(AlertSettings(), least=least))  # type: ignore[arg-type]
    every: list[Event] = [event(s) for s in ("log", "notice", "warning", "alarm", "trip")]
    assert [t.event.severity for t in rules.heard(every, NOON, 0.0)] == told


def test_in_quiet_hours_news_waits_till_morning_and_what_cannot_wait_calls_everybody() -> None:
    told = {
        t.event.severity: t
        for t in Rules(QUIET).heard([event("notice"), event("warning"), event("alarm"), event("trip")], NIGHT, 0.0)
    }
    morning = datetime(2026, 5, 5, 6, 30).timestamp()
    assert told["notice"].due_utc_s == told["warning"].due_utc_s == morning
    assert told["notice"].reach == {"people"}
    for grave in ("alarm", "trip"):
        assert told[grave].due_utc_s == 0.0  # type: ignore[index]
        assert told[grave].reach == {"people", "urgent"}  # type: ignore[index]


def test_by_day_everything_comes_at_once_to_the_first_list() -> None:
    for one in Rules(QUIET).heard([event("notice"), event("trip")], NOON, 0.0):
        assert (one.due_utc_s, one.reach) == (0.0, {"people"})


@pytest.mark.parametrize(
    ("clock", "begin", "end", "until"),
    [
        ("23:00", "22:00", "06:30", "2026-05-05 06:30"),
        ("06:29", "22:00", "06:30", "2026-05-04 06:30"),
        ("06:30", "22:00", "06:30", None),
        ("21:59", "22:00", "06:30", None),
        ("22:00", "22:00", "06:30", "2026-05-05 06:30"),
        ("13:00", "12:00", "14:00", "2026-05-04 14:00"),
        ("15:00", "12:00", "14:00", None),
        ("12:00", "12:00", "12:00", None),
        ("12:00", "", "", None),
    ],
)
def test_quiet_hours_may_cross_midnight(clock: str, begin: str, end: str, until: str | None) -> None:
    found = quiet_until(datetime.fromisoformat(f"2026-05-04 {clock}"), begin, end)
    assert found == (None if until is None else datetime.fromisoformat(until))


@given(st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 31)), st.times(), st.times())
def test_quiet_hours_end_within_a_day_and_are_then_over(moment: datetime, begin: object, end: object) -> None:
    words = f"{begin:%H:%M}", f"{end:%H:%M}"
    until = quiet_until(moment, *words)
    if until is not None:
        assert timedelta(0) < until - moment <= timedelta(days=1)
        assert quiet_until(until, *words) is None


def test_quiet_hours_that_end_in_the_hour_that_comes_twice_end_with_the_one_they_are_asked_in(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    time.tzset()
    try:
        for fold in (0, 1):
            moment = datetime(2026, 10, 25, 2, 15, fold=fold)
            until = quiet_until(moment, "22:00", "02:30")
            assert until is not None
            assert until.timestamp() - moment.timestamp() == 900.0
    finally:
        monkeypatch.undo()
        time.tzset()


def test_a_trip_is_said_again_until_somebody_acknowledges_it() -> None:
    bench, rules = tripped(repeat_min=10.0, urgent_after_min=1000.0)
    said = [minute for minute in range(60) if looked(rules, bench, minute)]
    assert said == [10, 20, 30, 40, 50]
    bench.ask(Ack(alarm="all"), 40.0, who="Ines")
    assert looked(rules, bench, 75.0) == []


def test_what_is_said_again_says_for_how_long_nobody_has_heard_it() -> None:
    bench, rules = tripped(repeat_min=10.0)
    (told,) = looked(rules, bench, 10.0)
    assert with_again(told).text.startswith(
        "10 min ago, and nobody has acknowledged it: The part of dryward that holds the switches died 3 times"
    )
    assert told.event.severity == "trip"
    assert told.event.advice


def test_nothing_is_said_again_when_the_owner_does_not_want_it() -> None:
    bench, rules = tripped(repeat_min=0.0, urgent_after_min=1000.0)
    assert [minute for minute in range(0, 600, 10) if looked(rules, bench, minute)] == []


def test_what_nobody_hears_goes_to_the_second_list_too() -> None:
    bench, rules = tripped(repeat_min=10.0, urgent_after_min=15.0)
    reached = {minute: told[0].reach for minute in range(40) if (told := looked(rules, bench, minute))}
    assert reached == {10: {"people"}, 15: {"urgent"}, 20: {"people", "urgent"}, 30: {"people", "urgent"}}


def test_an_alarm_that_is_no_trip_is_raised_once_and_not_repeated() -> None:
    bench = Bench.of()
    bench.begin(air_c=40.0)
    bench.turn(40.0, notices=[Notice("record-failing", 0.0, "disk full")])
    bench.turns(3, 40.0)
    assert [a.key for a in bench.state.alarms if a.phase == "active"] == ["record-failing"]
    rules = Rules(AlertSettings(repeat_min=10.0, urgent_after_min=15.0))
    reached = {minute: told[0].reach for minute in range(60) if (told := looked(rules, bench, minute))}
    assert reached == {15: {"urgent"}}


def test_after_a_restart_a_trip_nobody_has_heard_is_said_at_once() -> None:
    """At least once: what was said before the restart is not known."""
    bench, _ = tripped()
    fresh = Rules(AlertSettings(repeat_min=10.0, urgent_after_min=1000.0))
    assert len(looked(fresh, bench, 25.0)) == 1
    assert looked(fresh, bench, 26.0) == []


def test_one_cause_is_told_at_most_twice_however_it_flaps() -> None:
    """The engine tells one warning and one trip a cause; here with a reading that goes and comes."""
    bench = Bench.of()
    bench.begin(air_c=40.0)
    rules = Rules(AlertSettings(repeat_min=0.0, urgent_after_min=1000.0))
    told: list[Event] = []
    for _ in range(6):
        for air_c in [None] * 45 + [40.0] * 5:
            bench.turn(air_c)
            told += [t.event for t in rules.heard(bench.last.events, NOON, bench.now)]
    about_air = [e for e in told if e.subject.startswith("air-")]
    assert 1 <= len(about_air) <= 2, [e.text for e in about_air]


def test_a_run_held_after_an_outage_is_said_again_until_somebody_decides() -> None:
    bench = Bench.of()
    bench.begin(air_c=40.0)
    rules = Rules(AlertSettings(repeat_min=10.0, urgent_after_min=15.0))
    bench.turn(40.0, notices=[Notice("restarted", 5 * 3600.0)])
    (first,) = [t for t in rules.heard(bench.last.events, NOON, bench.now) if t.event.kind == "held-after-outage"]
    assert "dryward resume" in first.event.advice
    bench.turns(2, 40.0)
    told = [(minute, t) for minute in range(22) for t in looked(rules, bench, float(minute))]
    assert {t.event.kind for _, t in told} == {"held-after-outage"}
    assert [(minute, t.reach) for minute, t in told] == [
        (10, {"people"}),
        (15, {"urgent"}),
        (20, {"people", "urgent"}),
    ]  # and not with every look in between
    bench.ask(Resume(), 40.0)
    assert looked(rules, bench, 60.0) == []
    bench.ask(Hold(), 40.0)
    assert looked(rules, bench, 90.0) == []  # held by somebody is not held by an outage


def test_after_a_restart_a_run_that_is_still_held_after_an_outage_is_said_again() -> None:
    bench = Bench.of()
    bench.begin(air_c=40.0)
    bench.turn(40.0, notices=[Notice("restarted", 5 * 3600.0)])
    bench.turns(2, 40.0)
    fresh = Rules(AlertSettings(repeat_min=10.0, urgent_after_min=15.0))
    told = [(minute, t) for minute in range(60, 82) for t in looked(fresh, bench, float(minute))]
    assert [minute for minute, _ in told] == [70, 75, 80]
    assert told[0][1].event.kind == "held-after-outage"
    assert "dryward was started again while the run is held: power was out for 5.0 h" in with_again(told[0][1]).text
    assert "dryward resume" in told[0][1].event.advice
    bench.ask(Resume(), 40.0)
    bench.ask(Hold(), 40.0)
    assert [t for minute in (90, 120) for t in looked(Rules(AlertSettings()), bench, float(minute))] == []


def test_a_piece_weighed_by_hand_is_asked_for_when_its_weight_is_old() -> None:
    bench = Bench.of()
    bench.begin(piece("a"), piece("b"), air_c=40.0)
    bench.turn(40.0, asks=[Weigh(piece="b", weight_g=900.0)])
    rules = Rules(AlertSettings(weigh_every_h=6.0, quiet_from="22:00", quiet_to="06:30"))
    asked = {minute: told[0].event for minute in range(0, 60 * 15, 5) if (told := looked(rules, bench, minute))}
    assert list(asked) == [360, 720]
    assert asked[360].text == "Weigh a, b: no weight for 6 hours."
    assert "dryward weigh a GRAMS; dryward weigh b GRAMS" in asked[360].advice
    (at_night,) = Rules(replace(QUIET, weigh_every_h=6.0)).look(bench.state, NIGHT, bench.now + 7 * 3600.0)
    assert at_night.due_utc_s == datetime(2026, 5, 5, 6, 30).timestamp()


def test_weighing_or_taking_it_out_or_the_end_of_the_run_ends_the_asking() -> None:
    bench = Bench.of()
    bench.begin(piece("a"), piece("b"), air_c=40.0)
    rules = Rules(AlertSettings(weigh_every_h=6.0))
    bench.turn(40.0, asks=[Weigh(piece="a", weight_g=900.0), Pull(piece="b", weight_g=900.0)])
    (told,) = looked(rules, bench, 6 * 60 + 1.0)
    assert told.event.subject == "a"
    bench.turn(40.0, asks=[Stop()])
    bench.turns(3, 40.0)
    assert looked(rules, bench, 13 * 60.0) == []
    assert Rules(AlertSettings(weigh_every_h=0.0)).look(bench.state, NOON, bench.now + 1e6) == []


def opening(*weigh: str, at_s: float) -> Due:
    return Due(at_s, weigh, (), "Weigh them now.", weigh)


def test_a_planned_opening_is_asked_for_in_its_time_and_not_before() -> None:
    bench = Bench.of()
    bench.begin(piece("a"), piece("b"), air_c=40.0)
    rules = Rules(AlertSettings(weigh_every_h=6.0))
    due = opening("a", "b", at_s=bench.now + 8 * 3600.0)
    # The planned opening stands in for the reminder by age: at seven hours nothing is asked.
    assert rules.look(bench.state, NOON, bench.now + 7 * 3600.0, due) == []
    (told,) = rules.look(bench.state, NOON, bench.now + 8 * 3600.0, due)
    assert (told.event.kind, told.event.severity, told.event.text) == ("weigh-in-due", "notice", "Weigh them now.")
    assert "dryward weigh a GRAMS; dryward weigh b GRAMS" in told.event.advice
    assert rules.look(bench.state, NOON, bench.now + 9 * 3600.0, due) == []
    assert len(rules.look(bench.state, NOON, bench.now + 14 * 3600.0, due)) == 1  # nobody came


def test_after_a_weigh_in_the_next_opening_is_asked_for_anew() -> None:
    bench = Bench.of()
    bench.begin(piece("a"), air_c=40.0)
    rules = Rules(AlertSettings(weigh_every_h=6.0))
    assert len(rules.look(bench.state, NOON, bench.now, opening("a", at_s=bench.now))) == 1
    bench.turn(40.0, asks=[Weigh(piece="a", weight_g=900.0)])
    assert len(rules.look(bench.state, NOON, bench.now, opening("a", at_s=bench.now))) == 1


def test_a_piece_without_a_planned_opening_is_reminded_of_by_its_age() -> None:
    bench = Bench.of()
    bench.begin(piece("a"), piece("b"), air_c=40.0)
    rules = Rules(AlertSettings(weigh_every_h=6.0))
    (told,) = rules.look(bench.state, NOON, bench.now + 7 * 3600.0, opening("a", at_s=bench.now + 8 * 3600.0))
    assert told.event.subject == "b"


def test_who_wants_no_reminder_gets_none_of_either_kind() -> None:
    bench = Bench.of()
    bench.begin(piece("a"), air_c=40.0)
    assert Rules(AlertSettings(weigh_every_h=0.0)).look(bench.state, NOON, bench.now, opening("a", at_s=0.0)) == []


def test_an_opening_that_falls_into_quiet_hours_all_the_same_waits_till_morning() -> None:
    bench = Bench.of()
    bench.begin(piece("a"), air_c=40.0)
    (told,) = Rules(QUIET).look(bench.state, NIGHT, bench.now, opening("a", at_s=bench.now))
    assert told.due_utc_s == datetime(2026, 5, 5, 6, 30).timestamp()
