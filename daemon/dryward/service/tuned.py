"""What a relay test on record shows: the engine is stepped through it again for its readings, then the swing is judged.

Nothing of this runs in the daemon: a person asks for it, in a process of his own, as often as he likes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from dryward.core.chamber import Chamber, Control
from dryward.core.tune_run import NAME, fitted
from dryward.core.tuning import RelayTest
from dryward.core.tuning_advice import Advice, advise
from dryward.core.tuning_fit import Found, TuningError, identify
from dryward.record.queries import Record
from dryward.service.replay import stepped


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A finished test. ``day`` (YYYY-MM-DD, UTC) is when it began, ``loaded`` whether meat was in it."""

    run_id: str
    day: str
    chamber: Chamber
    test: RelayTest
    found: Found
    advice: Advice
    loaded: bool


def newest(record: Record) -> str | None:
    """Return the name of the newest relay test on record, None when there is none."""
    for line in record.runs():
        if line.run_id.startswith("tune-"):
            return line.run_id
    return None


def proposal(record: Record, run_id: str, *, pace: str | None = None) -> Proposal:
    """Return what test ``run_id`` proposes, calm or tight (None: as the chamber file has it).

    Raises NoSuchRun, and TuningError when the run is no relay test, was broken off, shows no plant or has been thinned out.
    """
    day = record.run(run_id).start_utc[:10]
    if record.thinned(run_id):
        raise TuningError("its single readings were thinned out after a year; test again with 'dryward tune start'")
    chamber: Chamber | None = None
    last: RelayTest | None = None
    loaded = False
    times: list[float] = []
    readings: list[float] = []
    for now in stepped(record, run_id):
        test = now.state.test
        if test is None or now.layout.air is None:
            continue
        layout = now.layout if now.state.tuned is None else fitted(now.layout, now.state.tuned)
        chamber, last = layout.chamber, test
        loaded = any(p.status != "pulled" for p in now.state.pieces)
        sensor = now.state.sensors[now.layout.air]
        taken = sensor.sampled_s - test.began_s
        if sensor.good is not None and test.outcome != "refused" and (not times or taken > times[-1]):
            times.append(taken)
            readings.append(sensor.good)
    if chamber is None or last is None:
        raise TuningError(
            f"{run_id} is no relay test ({NAME}); 'dryward runs' lists them: their names begin with tune-"
        )
    test = replace(last, times_s=tuple(times), readings_c=tuple(readings))
    found = identify(test)
    control: Control = chamber.control if pace is None else replace(chamber.control, pace=pace)  # type: ignore[arg-type]
    chamber = replace(chamber, control=control)
    advice = advise(chamber, test, found)
    return Proposal(run_id=run_id, day=day, chamber=chamber, test=test, found=found, advice=advice, loaded=loaded)
