"""Planned starts by the wall clock, on the real scheduler."""

from __future__ import annotations

import threading
import time as system_time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from datetime import time as clock_time
from time import time

import pytest

from dryward.core.commands import Event, Reply
from dryward.core.inputs import Request, Start
from dryward.record.moments import Mark, PlanSettled, StartPlanned
from dryward.service.jobs import Jobs, Planned, next_moment
from dryward.service.loop import Pending
from tests.core.bench_chamber import program
from tests.faults_live.stand import until


class House:
    """Stands in for the loop: answers at once, and keeps what it was given."""

    def __init__(self) -> None:
        self.posted: list[Request] = []
        self.marks: list[Mark] = []
        self.said: list[Event] = []
        self.answers = True
        self.accepts = True
        self.jobs = Jobs(post=self.post, mark=self.mark, name_run=lambda: "run-1", say=self.said.append)

    def post(self, request: Request) -> Pending:
        self.posted.append(request)
        pending = Pending(request)
        if self.answers:
            text = "begun" if self.accepts else "air-lost has tripped."
            pending.reply = Reply(request_id=request.request_id, accepted=self.accepts, text=text)
        pending.done.set()
        return pending

    def mark(self, mark: Mark) -> threading.Event:
        self.marks.append(mark)
        given = threading.Event()
        given.set()
        return given

    @property
    def settled(self) -> list[str]:
        return [m.outcome for m in self.marks if isinstance(m, PlanSettled)]


@pytest.fixture
def house() -> Iterator[House]:
    before = set(threading.enumerate())
    made = House()
    yield made
    made.jobs.close()
    until(
        lambda: set(threading.enumerate()) <= before | {threading.current_thread()},
        within_s=5.0,
        what="no thread of the scheduler is left",
    )


def waiting(late_s: float, plan_id: str = "p1") -> Planned:
    return Planned(plan_id=plan_id, program=program(), at_utc_s=time() - late_s, who="Ana")


def test_a_plan_is_on_record_before_it_is_acknowledged_and_starts_in_time(house: House) -> None:
    at_utc_s = time() + 1.5  # enough to look at it while it waits, on a busy machine too
    text = house.jobs.plan(program=program(), at_utc_s=at_utc_s, who="Ana")
    assert f"will start at {datetime.fromtimestamp(at_utc_s):%Y-%m-%d %H:%M}, local time" in text
    (plan,) = house.marks
    assert isinstance(plan, StartPlanned)
    assert [p["who"] for p in house.jobs.planned()] == ["Ana"]
    until(lambda: bool(house.settled), within_s=5.0, what="the start")
    assert time() >= at_utc_s
    (request,) = house.posted
    assert isinstance(request.ask, Start)
    assert (request.ask.run_id, request.who, request.origin, request.request_id) == (
        "run-1",
        "Ana",
        "scheduler",
        plan.plan_id,
    )
    assert house.settled == ["begun"]
    assert house.jobs.planned() == []
    assert house.said == []


def test_a_plan_found_on_record_that_is_a_little_late_starts_at_once(house: House) -> None:
    house.jobs.take_up(waiting(60.0))
    until(lambda: house.settled == ["begun"], within_s=5.0, what="the start")


def test_a_plan_that_is_very_late_is_missed_and_that_is_on_record(house: House) -> None:
    """Meat must not begin to dry at a time that nobody chose."""
    house.jobs.take_up(waiting(700.0))
    until(lambda: bool(house.settled), within_s=5.0, what="settled")
    assert house.settled == ["missed: it was noticed 12 min late"]
    assert house.posted == []
    until(lambda: bool(house.said), within_s=5.0, what="word to people")
    assert "did not take place: missed" in house.said[0].text


def test_people_are_told_of_a_planned_start_that_was_refused(house: House) -> None:
    """Whoever planned it for 4 in the morning sleeps: a line in the journal wakes nobody."""
    house.accepts = False
    house.jobs.take_up(waiting(1.0))
    until(lambda: bool(house.said), within_s=5.0, what="word to people")
    (event,) = house.said
    assert (event.kind, event.severity) == ("start-failed", "alarm")
    assert "did not take place: air-lost has tripped." in event.text
    assert house.settled == ["air-lost has tripped."]


def test_a_start_that_nobody_answered_stays_on_record_for_the_next_daemon(house: House) -> None:
    house.answers = False
    house.jobs.take_up(waiting(1.0))
    until(lambda: bool(house.posted), within_s=5.0, what="the request")
    assert house.settled == []


def test_dropped_plans_do_not_start(house: House) -> None:
    house.jobs.take_up(waiting(-1.5, "p1"))
    house.jobs.take_up(waiting(-900.0, "p2"))
    assert house.jobs.drop("Ben") == 2
    assert house.settled == ["dropped by Ben"] * 2
    assert house.jobs.planned() == []
    threading.Event().wait(1.8)
    assert house.posted == []


def test_arming_again_starts_nothing_twice(house: House) -> None:
    """After a step of the wall clock (F19), however often it steps."""
    house.jobs.take_up(waiting(-0.5))
    for _ in range(20):
        house.jobs.rearm()
    until(lambda: bool(house.settled), within_s=5.0, what="the start")
    house.jobs.rearm()
    threading.Event().wait(0.3)
    assert len(house.posted) == 1


def test_arming_again_does_not_wait_for_the_scheduler(house: House) -> None:
    house.jobs.take_up(waiting(-900.0))
    with house.jobs._scheduler._jobstores_lock:  # as if the scheduler were busy for long
        house.jobs.rearm()
    assert len(house.jobs.planned()) == 1


@pytest.mark.parametrize("at_utc_s", [float("nan"), float("inf"), 1e18])
def test_a_time_that_no_calendar_has_is_not_planned(house: House, at_utc_s: float) -> None:
    with pytest.raises((ValueError, OverflowError, OSError)):
        house.jobs.plan(program=program(), at_utc_s=at_utc_s, who="Ana")
    assert house.marks == []


def test_a_job_that_fails_is_told(house: House, caplog: pytest.LogCaptureFixture) -> None:
    house.jobs._scheduler.add_job(lambda: 1 / 0, id="broken")
    until(lambda: "broken" in caplog.text and "division" in caplog.text, within_s=5.0, what="a line in the journal")


def test_the_night_is_armed_and_armed_again_when_the_clock_steps(house: House) -> None:
    done: list[str] = []
    house.jobs.every_night(lambda: done.append("cared"))
    (job,) = [j for j in house.jobs._scheduler.get_jobs() if j.id == "night"]
    job.func()
    assert done == ["cared"]
    house.jobs._rearm()
    assert [j.id for j in house.jobs._scheduler.get_jobs()].count("night") == 1


def test_an_end_at_the_very_moment_of_a_start_is_clean() -> None:
    """pytest makes an error of what a thread raises; without care one end in four meets it."""
    for _ in range(30):
        made = House()
        made.jobs.take_up(waiting(1.0))
        until(lambda made=made: bool(made.settled), within_s=5.0, what="the start")  # type: ignore[misc]
        made.jobs.close()


def test_the_day_comes_at_its_local_time_and_is_armed_for_the_next(house: House) -> None:
    done: list[str] = []
    due = datetime.now() + timedelta(seconds=2.0)
    house.jobs.every_day(due.time().isoformat(), lambda: done.append("summed up"))
    until(lambda: bool(done), within_s=5.0, what="the summary")
    assert datetime.now() >= due
    until(lambda: bool(house.jobs._scheduler.get_jobs()), within_s=5.0, what="armed again")
    (job,) = house.jobs._scheduler.get_jobs()
    assert job.next_run_time.timestamp() == pytest.approx((due + timedelta(days=1)).timestamp(), abs=3700.0)


def test_a_day_is_summed_up_once_however_often_its_clock_steps(house: House) -> None:
    done: list[str] = []
    house.jobs.every_day("07:00", lambda: done.append("summed up"))
    for _ in range(3):
        house.jobs._day()
        house.jobs._rearm()
    assert done == ["summed up"]
    assert [j.id for j in house.jobs._scheduler.get_jobs()] == ["day"]


@pytest.mark.parametrize(
    ("now", "then"), [("06:59", "2026-03-01T07:00"), ("07:00", "2026-03-02T07:00"), ("23:00", "2026-03-02T07:00")]
)
def test_the_next_moment_lies_ahead(now: str, then: str) -> None:
    moment = datetime.fromisoformat(f"2026-03-01T{now}")
    assert next_moment(clock_time(7, 0), moment) == datetime.fromisoformat(then)


def test_in_the_hour_that_comes_twice_the_next_moment_lies_ahead_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """Summer time ends on 2026-10-25 at 03:00 (02:30 UTC+2 is over, 02:30 UTC+1 not). A moment past is carried out at
    once and armed again at once: the summary's thread once turned without end until the second 02:30."""
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    system_time.tzset()
    try:
        now = datetime(2026, 10, 25, 2, 15, fold=1)
        then = next_moment(clock_time(2, 30), now).astimezone(UTC)
        assert then - now.astimezone(UTC) == timedelta(minutes=15)
        first = next_moment(clock_time(2, 30), now.replace(fold=0)).astimezone(UTC)
        assert first == then - timedelta(hours=1)
        assert next_moment(clock_time(2, 30), datetime(2026, 10, 25, 2, 30)).day == 26
    finally:
        monkeypatch.undo()
        system_time.tzset()
