"""Keeps the forecast of every piece and the plan of openings up to date, beside the loop and never in it.

A thread looks at the newest state every few seconds. After a weigh-in, a step or a piece taken out, and every quarter of an
hour, it has a child process work out the forecast (``foretell``). Nothing here decides: the engine is told what is wrong
with a curve by a notice, which is on record like any other input.
"""

from __future__ import annotations

import logging
import os
import pickle
import subprocess
import sys
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from time import monotonic
from types import MappingProxyType
from typing import Any

from dryward.core.curves import Curves, told
from dryward.core.inputs import Notice
from dryward.core.layout import Layout
from dryward.core.phases import ACTIVE
from dryward.core.state import State
from dryward.science.comeback import Visit
from dryward.service.foretell import LONGEST_S, Outlook, Question, channel
from dryward.service.loop import View
from dryward.service.visits import Due, due, quiet_spans, visits
from dryward.settings import AlertSettings

log = logging.getLogger("dryward")
EVERY_S = 900.0  # of the chamber's clock
LOOK_S = 2.0
SETTLES_S = 10.0  # weigh-ins come in rows: wait until no more come
REST = (
    20.0  # a forecast is followed by so many times its own length without one, so that it takes 5 % of a core at most
)
AFTER_FAILURE_S = 60.0
NO_FIGURES: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Prospect:
    """What is known of the time to come: the forecasts and the openings planned from them."""

    outlook: Outlook | None = None
    visits: tuple[Visit, ...] = ()

    def due(self, state: State, utc_s: float) -> Due | None:
        """Return the next opening."""
        return due(self.visits, state, utc_s)


class Forecaster:
    """One chamber's forecaster. ``tell`` hands the loop a notice; ``show`` gives it figures to record; ``flush`` makes the record whole."""

    def __init__(
        self,
        layout: Layout,
        record: Path,
        alerts: AlertSettings,
        *,
        view: Callable[[], View],
        flush: Callable[[], object],
        tell: Callable[[Notice], None],
        show: Callable[[Mapping[str, float]], None],
        settles_s: float = SETTLES_S,
    ) -> None:
        self.prospect = Prospect()
        self._layout, self._record, self._alerts = layout, record, alerts
        self._view, self._flush, self._tell, self._show = view, flush, tell, show
        self._settles_s = settles_s
        self._mark: tuple[object, ...] = ()
        self._changed_s = self._rests_until_s = monotonic()
        self._asked_of: tuple[object, ...] = ()
        self._curves: Curves = ()
        self._child: subprocess.Popen[bytes] | None = None
        self._lock = threading.Lock()
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="forecast", daemon=True)

    def start(self) -> None:
        """Begin. Returns at once."""
        self._thread.start()

    def close(self) -> None:
        """End, and the child with it."""
        self._closing.set()
        with self._lock:
            if self._child is not None:
                self._child.kill()
        if self._thread.ident is not None:
            self._thread.join(10.0)

    # ---- the thread

    def _run(self) -> None:
        while not self._closing.wait(LOOK_S):
            try:
                self.look()
            except Exception:  # a forecast is a comfort: whatever happens to it, drying goes on
                self._rests_until_s = monotonic() + AFTER_FAILURE_S
                log.exception("forecast")

    def look(self) -> None:
        """Look at the newest state once: forecast when it is time to, and plan anew when something has changed."""
        view = self._view()
        state = view.state
        if state.run.phase not in ACTIVE:
            if self.prospect != Prospect():
                self.prospect = Prospect()
                self._show(NO_FIGURES)
            self._curves = ()
            return
        mark = mark_of(state)
        if mark != self._mark:
            self._mark, self._changed_s = mark, monotonic()
            self._plan(self.prospect.outlook, view)
        if self._is_due(state):
            self._asked_of = self._mark
            began_s = monotonic()
            outlook = self._ask(question(self._layout, self._record, state, self.prospect.outlook))
            self._rests_until_s = monotonic() + (AFTER_FAILURE_S if outlook is None else REST * (monotonic() - began_s))
            if outlook is not None:
                self._take(outlook, view)
        elif self.prospect.visits and self.prospect.visits[0].at_s < state.now - EVERY_S:
            self._plan(self.prospect.outlook, view)

    def _is_due(self, state: State) -> bool:
        now_s = monotonic()
        known = self.prospect.outlook
        if self._mark != self._asked_of:
            return now_s - self._changed_s >= self._settles_s
        old = known is None or known.run_id != state.run.run_id or state.now - known.made_s >= EVERY_S
        return old and now_s >= self._rests_until_s

    def _take(self, outlook: Outlook, view: View) -> None:
        self._plan(outlook, view)
        self._show(figures(outlook))
        if outlook.curves != self._curves:
            self._curves = outlook.curves
            self._tell(told(outlook.curves))

    def _plan(self, outlook: Outlook | None, view: View) -> None:
        quiet = quiet_spans(self._alerts.quiet_from, self._alerts.quiet_to, view.state.now, view.stamp.utc_s)
        self.prospect = Prospect(outlook, visits(view.state, outlook, quiet, weigh_every_h=self._alerts.weigh_every_h))

    def _ask(self, asked: Question) -> Outlook | None:
        """Have it worked out by a child; None when that failed, which is logged."""
        self._flush()
        with self._lock:
            if self._closing.is_set():
                return None
            child = self._child = start_child()
        try:
            answered, complaint = child.communicate(pickle.dumps(asked), timeout=2.0 * LONGEST_S)
        except subprocess.TimeoutExpired:
            child.kill()
            answered, complaint = child.communicate()
        finally:
            with self._lock:
                self._child = None
        if child.returncode != 0:
            if not self._closing.is_set():
                last = complaint.decode(errors="replace").strip().rpartition("\n")[2]
                log.warning("the forecast could not be made (%s): %s", child.returncode, last)
            return None
        outlook: Outlook = pickle.loads(answered)
        return outlook


def mark_of(state: State) -> tuple[object, ...]:
    """Return what a new forecast is made for when it changes: run, step, and what people have weighed or taken out."""
    run = state.run
    return run.run_id, run.step_index, tuple([(p.piece.name, p.status, p.hand_s) for p in state.pieces])


def question(layout: Layout, record: Path, state: State, known: Outlook | None) -> Question:
    """Return what is to be asked in a state; what an earlier answer of this run has learnt is given along."""
    learnt = known is not None and known.run_id == state.run.run_id
    chamber = layout.chamber
    return Question(
        record=record,
        run=state.run,
        pieces=state.pieces,
        period_s=chamber.period_s,
        now=state.now,
        air=channel(chamber, "control-air"),
        humidity=channel(chamber, "humidity"),
        past=known.past if learnt and known is not None else None,
        learnt=learnt,
    )


def figures(outlook: Outlook) -> dict[str, float]:
    """Return what is recorded of a forecast: ``finish_s:PIECE`` with its interval, s on the chamber clock; 0 for never."""
    found: dict[str, float] = {}
    for one in outlook.pieces:
        if one.finish_s is not None:
            for name, value in (("finish_s", one.finish_s), ("finish_lo_s", one.lo_s), ("finish_hi_s", one.hi_s)):
                found[f"{name}:{one.piece}"] = round(value) if isfinite(value) else 0.0
    return found


def start_child() -> subprocess.Popen[bytes]:
    """Start the process that works out one forecast; it finds its packages where this one does."""
    kept = {name: value for name, value in os.environ.items() if name in ("PATH", "LANG", "PYTHONDONTWRITEBYTECODE")}
    paths = os.pathsep.join(os.path.abspath(place) for place in sys.path if place)
    return subprocess.Popen(
        # Not -m: what is pickled must have its module's own name.
        [sys.executable, "-P", "-c", "from dryward.service.foretell import main; main()"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**kept, "PYTHONPATH": paths},
        start_new_session=True,
    )


def forecast_of(prospect: Prospect, piece: str) -> dict[str, Any]:
    """Return what a snapshot says of a piece's finish; times in s on the chamber clock."""
    one = None if prospect.outlook is None else prospect.outlook.of(piece)
    known = one is not None and one.finish_s is not None
    times = {} if one is None else {"finish_s": one.finish_s, "finish_lo_s": one.lo_s, "finish_hi_s": one.hi_s}
    return {
        name: value if known and (value := times.get(name)) is not None and isfinite(value) else None
        for name in ("finish_s", "finish_lo_s", "finish_hi_s")
    } | {
        "finish_never": known and one is not None and one.finish_s is not None and not isfinite(one.finish_s),
        "forecast_s": None if prospect.outlook is None or not known else prospect.outlook.made_s,
        "forecast_why": "" if one is None else one.why,
    }
