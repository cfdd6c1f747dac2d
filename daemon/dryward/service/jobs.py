"""Housekeeping by the wall clock: planned starts. The control tick never runs here.

Jobs live in UTC and are armed again when the wall clock steps, because the scheduler's own waiting would not notice.
A start that is due while the clock jumps far past it is not made up for: meat would start to dry at a time nobody chose.
"""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from threading import Lock
from typing import Any

from apscheduler.schedulers.background import BackgroundScheduler

from dryward.core.inputs import Request, Start
from dryward.core.program import Program
from dryward.record.moments import Mark, PlanSettled, StartPlanned, utc_text
from dryward.service.loop import Pending

LATEST_S = 600.0
"""A planned start later than this is missed, not made up for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A start somebody wants later."""

    plan_id: str
    program: Program
    at_utc_s: float
    who: str


class Jobs:
    """``post`` hands a request to the loop; ``mark`` puts a mark on record with the next tick."""

    def __init__(
        self, *, post: Callable[[Request], Pending], mark: Callable[[Mark], None], name_run: Callable[[], str]
    ) -> None:
        self._post = post
        self._mark = mark
        self._name_run = name_run
        self._plans: dict[str, Planned] = {}
        self._lock = Lock()
        self._scheduler = BackgroundScheduler(
            timezone=UTC, job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None}
        )
        self._scheduler.start()

    def plan(self, *, program: Program, at_utc_s: float, who: str) -> str:
        """Plan a start and say so."""
        plan = Planned(plan_id=str(uuid.uuid4()), program=program, at_utc_s=at_utc_s, who=who)
        self._mark(StartPlanned(plan_id=plan.plan_id, program=program, at_utc_s=at_utc_s, who=who))
        self.take_up(plan)
        return f"Program {program.name} will start at {utc_text(at_utc_s)}. 'dryward stop' drops it."

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
        self._scheduler.remove_all_jobs()
        return len(dropped)

    def rearm(self) -> None:
        """Arm every job again: the wall clock has stepped (F19)."""
        self._scheduler.remove_all_jobs()
        with self._lock:
            plans = list(self._plans.values())
        for plan in plans:
            self._arm(plan)

    def close(self) -> None:
        self._scheduler.shutdown(wait=False)

    def _arm(self, plan: Planned) -> None:
        when = datetime.fromtimestamp(plan.at_utc_s, UTC)
        self._scheduler.add_job(self._fire, "date", run_date=when, args=[plan.plan_id], id=plan.plan_id, replace_existing=True)

    def _fire(self, plan_id: str) -> None:
        with self._lock:
            plan = self._plans.pop(plan_id, None)
        if plan is None:
            return
        late_s = time.time() - plan.at_utc_s
        if late_s > LATEST_S:
            self._mark(PlanSettled(plan_id=plan_id, outcome=f"missed: it was noticed {late_s / 60.0:.0f} min late"))
            return
        ask = Start(program=plan.program, run_id=self._name_run())
        pending = self._post(Request(request_id=plan_id, ask=ask, who=plan.who, origin="scheduler"))
        pending.done.wait(30.0)
        outcome = "no answer" if pending.reply is None else pending.reply.text
        self._mark(PlanSettled(plan_id=plan_id, outcome=outcome))
