"""A review as one self-contained page: no network, no framework, for screen, phone and paper.

The only module that needs jinja2. The page forbids itself every connection (its content security policy), and its one
script, named there by its hash, does nothing but let a finger or the arrow keys read values from the curves.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Sequence
from datetime import UTC, tzinfo
from importlib.resources import files

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup

from dryward.record.facts import Facts
from dryward.record.gather import gather
from dryward.record.moments import utc_seconds
from dryward.record.page_charts import (
    Chart,
    air_chart,
    damp_chart,
    duty_chart,
    energy_chart,
    hold_said,
    piece_chart,
    wet_chart,
)
from dryward.record.page_curves import Curves, curves
from dryward.record.page_draw import hour_ticks
from dryward.record.page_marks import marks
from dryward.record.page_words import (
    SIGNS,
    answers,
    count,
    humane,
    length,
    moment,
    number,
    short_moment,
    wear,
    zone_name,
)
from dryward.record.queries import Record
from dryward.record.review import Review, judge

MOST_ROWS = 400
"""Longer tables are cut to the newest rows, and say so: the page has to stay small enough to send by mail."""


NO_TEXT = dict.fromkeys({*range(32), *range(127, 160)} - {9, 10, 13})
"""Control characters: errors in HTML (from memory: WHATWG HTML, preprocessing the input stream), and somebody may paste them into a note."""


def page(record: Record, run_id: str, *, zone: tzinfo | None = UTC) -> str:
    """Return the review of a run as a whole HTML page; times in ``zone`` (None: that of this machine, summer time where it was). Raises NoSuchRun."""
    facts = gather(record, run_id)
    drawn = curves(record, facts)
    return _render(judge(facts), facts, drawn, zone)


def _render(review: Review, facts: Facts, drawn: Curves, zone: tzinfo | None) -> str:
    marked = marks(facts, drawn.grid)
    air = air_chart(facts, drawn, marked)
    others = [c for c in (f(drawn, marked) for f in (damp_chart, wet_chart, duty_chart, energy_chart)) if c]
    highest = max([p.target_loss_pct for p in review.pieces] + [p.loss_pct or 0.0 for p in review.pieces], default=0.0)
    pieces = [piece_chart(facts, drawn, p, n, highest) for n, p in enumerate(review.pieces)]
    text = {
        name: files("dryward.record").joinpath("templates", name).read_text()
        for name in ("page.html", "page.css", "page.js")
    }
    env = Environment(
        loader=DictLoader(text),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=lambda value: value.translate(NO_TEXT) if isinstance(value, str) else value,
    )
    env.filters.update(moment=lambda utc: moment(utc, zone), length=length, number=number)
    script = text["page.js"]
    return env.get_template("page.html").render(
        review=review,
        run=facts.run,
        sign=SIGNS[review.verdict],
        attention=[humane(line, zone) for line in review.attention],
        answers=answers(review, facts.run, zone=zone),
        air=air,
        held=hold_said(marked, drawn.grid.hours),
        others=others,
        piece_charts=pieces,
        hours=hour_ticks(drawn.grid.hours),
        wear=wear(facts.run.chamber, dict(review.operations)),
        told=_newest(list(enumerate(review.told, start=1))),
        weigh_ins=_newest(review.weigh_ins),
        most=MOST_ROWS,
        extremes={e.channel: e for e in review.extremes},
        zone=zone_name(review.started_utc, review.until_utc, zone),
        style=Markup(text["page.css"]),
        margin=_in_css(f"{SIGNS[review.verdict]} · {review.run_id}"),
        script=Markup(script),
        script_hash=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
        data=_data([air, *others, *pieces], facts, drawn, zone),
        count=count,
    )


def _data(charts: Sequence[Chart], facts: Facts, drawn: Curves, zone: tzinfo | None) -> Markup:
    """Return what the script reads, as JSON that cannot end the element it stands in."""
    value = {
        "hours": round(drawn.grid.hours, 4),
        "when": [short_moment(utc_seconds(facts.utc(tick)), zone) for tick in drawn.grid.ticks()],
        "charts": [
            {
                "name": chart.name,
                "keys": [
                    {
                        "label": k.label,
                        "unit": k.unit,
                        "places": k.places,
                        "values": [None if v is None else _short(v, k.places) for v in k.values],
                    }
                    for k in chart.keys
                ],
            }
            for chart in charts
        ],
    }
    return Markup(json.dumps(value, separators=(",", ":"), ensure_ascii=False).replace("<", "\\u003c"))


def _short(value: float, places: int) -> float | int:
    return round(value, places) if places else round(value)


def _in_css(text: str) -> Markup:
    """Return a text as a string of CSS: every character that is not plain is written by its number."""
    return Markup(
        '"' + "".join(c if (c.isalnum() and c.isascii()) or c in " -" else f"\\{ord(c):x} " for c in text) + '"'
    )


def _newest(rows: Sequence[object]) -> Sequence[object]:
    return rows[-MOST_ROWS:]
