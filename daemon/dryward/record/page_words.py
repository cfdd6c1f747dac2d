"""What a review page says in words: times, lengths of time, and the four answers at its top."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from dryward.core.chamber import Chamber
from dryward.record.lines import Run
from dryward.record.review import Review

SIGNS = {
    "complete": "Complete",
    "complete-short": "Complete, but short",
    "stopped": "Stopped before its end",
    "aborted": "Aborted, not finished",
    "open": "No end yet",
}

_DOUBT = "Judge it by how long it was between 4.4 and 60 °C; when in doubt, throw it away."
DO_NOW = {
    "complete": ("Cool the pieces, keep them cold", "Take them out now; warm meat goes on drying and does not keep."),
    "complete-short": (
        "Decide about each short piece",
        "Dry it on or take it as it is; keep the others cold meanwhile.",
    ),
    "stopped": ("Look at the meat, weigh it", f"The program did not come to its end. {_DOUBT}"),
    "aborted": ("Find the cause, judge the meat", f"No heat before the cause is found. {_DOUBT}"),
    "open": ("Look whether it is still under way", f"'dryward status' tells. If it is not, it was cut off. {_DOUBT}"),
}
"""What to do now, by verdict: common practice, no source; 4.4 and 60 degC are the danger zone of the USDA."""

_ISO = re.compile(r"\d{4}-\d\d-\d\dT[\d:.]+Z")
_MANY_MINUTES = re.compile(r"\b(\d{3,}) min\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One question of a person in a hurry, the answer, and a line of figures. ``mood`` is good, look or bad."""

    question: str
    answer: str
    more: str
    mood: str


def answers(review: Review, run: Run, *, zone: tzinfo | None) -> tuple[Answer, ...]:
    """Return the four answers: is it done, was it ever too hot, out of band, what now."""
    return (_done(review, zone), _hot(review, run, zone), _outside(review), _now(review))


def _done(review: Review, zone: tzinfo | None) -> Answer:
    reached = sum(p.outcome == "reached" for p in review.pieces)
    more = f"{reached} of {count(len(review.pieces), 'piece')} reached the target."
    last = max((p.finished_utc for p in review.pieces if p.finished_utc), default=None)
    if last is not None:
        more += f" The last to do so: {moment(last, zone)}."
    word, mood = {
        "complete": ("Yes", "good"),
        "complete-short": ("Not all of it", "look"),
        "stopped": ("No, it was stopped", "look"),
        "aborted": ("No, it was aborted", "bad"),
    }.get(review.verdict, ("Not yet, or cut off", "look"))
    if review.verdict == "open":
        more += f" On record until {moment(review.until_utc, zone)}."
    return Answer(
        question="Is it done?", answer=word, more=more if review.pieces else "No pieces were loaded.", mood=mood
    )


def too_hot_above(run: Run) -> float:
    """Return the air temperature no sensor should have shown: the chamber's limit, or that over the hottest step, degC."""
    set_c = [s.air_c for s in run.program.steps if s.air_c is not None]
    limits = run.chamber.limits
    return min(limits.max_air_c, max(set_c) + limits.over_top_step_k) if set_c else limits.max_air_c


def _hot(review: Review, run: Run, zone: tzinfo | None) -> Answer:
    seen = [e for e in review.extremes if e.role in ("control-air", "limit-air")]
    if not seen:
        return Answer(
            question="Was it ever too hot?", answer="Not known", more="No air temperature was recorded.", mood="look"
        )
    top, limit = max(seen, key=lambda e: e.high), too_hot_above(run)
    more = f"Highest air {top.high:.1f} °C (sensor {top.channel}), {moment(top.high_utc, zone)}; the limit is {limit:g} °C."
    above = sum(s.above_min for s in review.steps)
    if top.high > limit:
        return Answer(question="Was it ever too hot?", answer="Yes, above its limit", more=more, mood="bad")
    if above >= 10.0:
        return Answer(
            question="Was it ever too hot?", answer=f"Above its band for {length(above)}", more=more, mood="look"
        )
    return Answer(question="Was it ever too hot?", answer="No", more=more, mood="good")


def _outside(review: Review) -> Answer:
    below, above = sum(s.below_min for s in review.steps), sum(s.above_min for s in review.steps)
    inside = sum(s.inside_min for s in review.steps)
    never = [s.name for s in review.steps if s.never_reached]
    unsafe = sum(s.unsafe_air_min + s.unsafe_rh_min for s in review.steps)
    more = f"{length(below)} below, {length(above)} above, {length(inside)} inside."
    if unsafe >= 1.0:
        more += f" Outside safe limits: {length(unsafe)}."
    if never:
        return Answer(question="How long out of band?", answer=f"{never[0]} never reached it", more=more, mood="look")
    share = (below + above) / max(1.0, below + above + inside)
    return Answer(
        question="How long out of band?",
        answer=length(below + above) if below + above >= 0.5 else "Not at all",
        more=more,
        mood="look" if share > 0.01 or unsafe >= 1.0 else "good",
    )


def _now(review: Review) -> Answer:
    mood = {"complete": "look" if review.attention else "good", "aborted": "bad"}.get(review.verdict, "look")
    answer, more = DO_NOW[review.verdict]
    return Answer(question="What do I do now?", answer=answer, more=more, mood=mood)


# ---- words


def moment(utc: str, zone: tzinfo | None) -> str:
    """Return a wall time for people: ``Thu 26 Nov 14:05``."""
    return (
        datetime.fromisoformat(utc.replace("Z", "+00:00"))
        .astimezone(zone)
        .strftime("%a %d %b %H:%M")
        .replace(" 0", " ")
    )


def humane(text: str, zone: tzinfo | None) -> str:
    """Return a sentence with its times and long lengths of time as people say them."""
    said = _ISO.sub(lambda found: moment(found[0], zone), text)
    return _MANY_MINUTES.sub(lambda found: length(float(found[1])), said)


def zone_name(began_utc: str, until_utc: str, zone: tzinfo | None) -> str:
    """Return the name of the zone times are given in, and the year; both names where the clocks were changed on the way."""
    ends = [datetime.fromisoformat(utc.replace("Z", "+00:00")).astimezone(zone) for utc in (began_utc, until_utc)]
    names = dict.fromkeys(at.tzname() or "local time" for at in ends)
    return f"{', then '.join(names)}, {' to '.join(dict.fromkeys(str(at.year) for at in ends))}"


def short_moment(utc_s: float, zone: tzinfo | None) -> str:
    """Return a wall time for reading values along a curve: ``26 Nov 14:05``."""
    return datetime.fromtimestamp(utc_s, UTC).astimezone(zone).strftime("%-d %b %H:%M")


def length(minutes: float) -> str:
    """Return a length of time: ``12 min``, ``3 h 05``, ``4 d 02 h``."""
    whole = round(minutes)
    if whole < 100:
        return f"{whole} min"
    if whole < 72 * 60:
        return f"{whole // 60} h {whole % 60:02d}"
    return f"{whole // 1440} d {whole % 1440 // 60:02d} h"


def count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"


def number(value: float | None, places: int = 0) -> str:
    """Return a number, or a dash where there is none."""
    return "–" if value is None else f"{round(value, places) + 0.0:.{places}f}"  # no minus zero


def spread(low: Sequence[float | None], high: Sequence[float | None], unit: str, places: int = 1) -> str:
    """Return ``from .. to ..`` of a curve, for those who do not see it."""
    lows, highs = [v for v in low if v is not None], [v for v in high if v is not None]
    return f"{min(lows):.{places}f} to {max(highs):.{places}f} {unit}" if lows and highs else "nothing recorded"


def wear(chamber: Chamber, operations: dict[str, int]) -> list[tuple[str, int, str]]:
    """Return (output, operations, share of what its relay is rated for) of a run."""
    rated = {o.name: o.rated_operations for o in chamber.outputs}
    found = []
    for name, times in operations.items():
        of = next((r for output, r in rated.items() if output == name), 0)
        found.append((name, times, f"{100.0 * times / of:.1f} % of {of}" if of else "does not wear"))
    return found
