"""Housekeeping by the wall clock: planned starts, the nightly care of the record, the daily summary. The control tick never runs here.

Jobs live in UTC and are armed again when the wall clock steps, because the scheduler's own waiting would not notice.
A start that is due while the clock jumps far past it is not made up for: meat would start to dry at a time nobody chose.
"""

from __future__ import annotations

import logging
import time
import uuid
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from datetime import time as clock_time
from threading import Event, Lock, Thread
from typing import Any

from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MISSED, JobExecutionEvent
from apscheduler.jobstores.base import JobLookupError
from apscheduler.schedulers.background import BackgroundScheduler

from dryward.core.commands import Event as Said
from dryward.core.inputs import Request, Start
from dryward.core.program import Program
from dryward.record.moments import Mark, PlanSettled, StartPlanned, utc_text
from dryward.service.loop import Pending

log = logging.getLogger("dryward")
ANSWER_S = 30.0
NIGHT_H, NIGHT_MIN = 2, 41  # UTC; no round hour, when other programs of the machine have their turn
LATEST_S = 600.0
"""A planned start later than this is missed, not made up for."""
MEANING = "This program has not begun: meat that was to be dried by it waits as warm as its chamber is."
ADVICE = "Keep raw meat cold. Look at 'dryward status', then 'dryward start' or plan it again."


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A start somebody wants later."""

    plan_id: str
    program: Program
    at_utc_s: float
    who: str


class Jobs:
    """``post`` hands a request to the loop; ``mark`` puts a mark on record with the next tick and tells when it has; ``say`` tells people."""

    def __init__(
        self,
        *,
        post: Callable[[Request], Pending],
        mark: Callable[[Mark], Event],
        name_run: Callable[[], str],
        say: Callable[[Said], None] = lambda event: None,
    ) -> None:
        self._say = say
        self._post = post
        self._mark = mark
        self._name_run = name_run
        self._plans: dict[str, Planned] = {}
        self._nightly: Callable[[], None] | None = None
        self._daily: tuple[clock_time, Callable[[], None]] | None = None
        self._done_on: date | None = None
        self._lock = Lock()
        self._scheduler = BackgroundScheduler(
            timezone=UTC, job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None}
        )
        self._scheduler.add_listener(_complain, EVENT_JOB_ERROR | EVENT_JOB_MISSED)
        self._scheduler.start()

    def every_night(self, work: Callable[[], None]) -> None:
        """Do ``work`` each night at a quiet minute, in the scheduler's thread; what it raises is logged."""
        self._nightly = work
        self._arm_night()

    def _arm_night(self) -> None:
        if self._nightly is not None:
            self._scheduler.add_job(
                self._nightly, "cron", hour=NIGHT_H, minute=NIGHT_MIN, id="night", replace_existing=True
            )

    def every_day(self, at: str, work: Callable[[], None]) -> None:
        """Do ``work`` each day at a local time such as ``07:00``, once a day whatever the clock does; what it raises is logged."""
        self._daily = (clock_time.fromisoformat(at), work)
        self._arm_day()

    def _arm_day(self) -> None:
        if self._daily is not None:
            when = next_moment(self._daily[0], datetime.now())
            self._scheduler.add_job(self._day, "date", run_date=when.astimezone(UTC), id="day", replace_existing=True)

    def _day(self) -> None:
        self._arm_day()
        today = datetime.now().date()
        if self._daily is not None and self._done_on != today:
            self._done_on = today
            self._daily[1]()

    def plan(self, *, program: Program, at_utc_s: float, who: str) -> str:
        """Plan a start, wait until the record has been told, and say so. Raises ValueError, OverflowError or OSError for a time that no calendar has."""
        utc_text(at_utc_s)  # as the record will write it: what has no such time is refused here
        when = local_text(at_utc_s)
        plan = Planned(plan_id=str(uuid.uuid4()), program=program, at_utc_s=at_utc_s, who=who)
        self._mark(StartPlanned(plan_id=plan.plan_id, program=program, at_utc_s=at_utc_s, who=who)).wait(ANSWER_S)
        self.take_up(plan)
        return f"Program {program.name} will start at {when}, local time. 'dryward stop' drops it."

    def take_up(self, plan: Planned) -> None:
        """Arm a plan: a new one, or one found on record after a restart."""
        with self._lock:
            self._plans[plan.plan_id] = plan
        self._arm(plan)

    def planned(self) -> list[dict[str, Any]]:
        """Return what is planned, for the status."""
        with self._lock:
            plans = sorted(self._plans.values(), key=lambda p: p.at_utc_s)
        return [{"program": p.program.name, "at_utc": utc_text(p.at_utc_s), "who": p.who} for p in plans]

    def drop(self, who: str) -> int:
        """Drop every plan; return how many there were."""
        with self._lock:
            dropped = list(self._plans.values())
            self._plans.clear()
        for plan in dropped:
            self._mark(PlanSettled(plan_id=plan.plan_id, outcome=f"dropped by {who}"))
            with suppress(JobLookupError):  # it may be firing at this moment
                self._scheduler.remove_job(plan.plan_id)
        return len(dropped)

    def rearm(self) -> None:
        """Arm every job again: the wall clock has stepped (F19). Returns at once; the loop must not wait for a scheduler."""
        Thread(target=self._rearm, name="rearm", daemon=True).start()

    def _rearm(self) -> None:
        with self._lock:
            plans = list(self._plans.values())
        for plan in plans:
            self._arm(plan)
        self._arm_night()
        self._arm_day()

    def close(self) -> None:
        """End without waiting for work under way. Jobs go first: a due one would trip over a scheduler that is half shut."""
        self._scheduler.pause()
        self._scheduler.remove_all_jobs()
        self._scheduler.shutdown(wait=False)

    def _arm(self, plan: Planned) -> None:
        when = datetime.fromtimestamp(plan.at_utc_s, UTC)
        self._scheduler.add_job(
            self._fire, "date", run_date=when, args=[plan.plan_id], id=plan.plan_id, replace_existing=True
        )

    def _fire(self, plan_id: str) -> None:
        with self._lock:
            plan = self._plans.pop(plan_id, None)
        if plan is None:
            return
        late_s = time.time() - plan.at_utc_s
        if late_s > LATEST_S:
            self._fail(plan, f"missed: it was noticed {late_s / 60.0:.0f} min late")
            return
        ask = Start(program=plan.program, run_id=self._name_run())
        pending = self._post(Request(request_id=plan_id, ask=ask, who=plan.who, origin="scheduler"))
        pending.done.wait(ANSWER_S)
        if pending.reply is not None and not pending.reply.accepted:
            self._fail(plan, pending.reply.text)
        elif pending.reply is not None:
            self._settle(plan, pending.reply.text)
        # Else dryward is ending: the plan is still on record, and the next one takes it up.

    def _fail(self, plan: Planned, why: str) -> None:
        """Tell people that a start did not come: whoever planned it sleeps or is away, and trusts in it."""
        self._settle(plan, why)
        text = f"The start of {plan.program.name} planned for {local_text(plan.at_utc_s)} did not take place: {why}"
        event = Said(
            kind="start-failed", subject=plan.program.name, severity="alarm", text=text, meaning=MEANING, advice=ADVICE
        )
        log.error("%s %s %s", text, MEANING, ADVICE)
        self._say(event)

    def _settle(self, plan: Planned, outcome: str) -> None:
        log.info("the start of %s planned for %s: %s", plan.program.name, utc_text(plan.at_utc_s), outcome)
        self._mark(PlanSettled(plan_id=plan.plan_id, outcome=outcome))


def local_text(at_utc_s: float) -> str:
    """Return a moment by the local clock, as people write it for ``start --at``: '2026-03-01 06:30'."""
    return f"{datetime.fromtimestamp(at_utc_s):%Y-%m-%d %H:%M}"


def next_moment(at: clock_time, now: datetime) -> datetime:
    """Return the next moment after ``now`` at which a local clock shows ``at``; both without a zone.

    In the hour that comes twice when summer time ends, ``now.fold`` says which of the two it is (PEP 495).
    """
    today = datetime.combine(now.date(), at.replace(fold=now.fold))
    return today if today > now else today + timedelta(days=1)


def _complain(event: JobExecutionEvent) -> None:
    """A job that failed or was not carried out must not go unseen."""
    log.error("job %s: %s", event.job_id, event.exception or "missed")
