"""One tick as rows of the tables: what goes into which column, in the order of the INSERT statements."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import copysign
from typing import Any

from dryward.core.commands import Commands
from dryward.core.inputs import Inputs
from dryward.record.checkpoint import to_json
from dryward.record.moments import Mark, Stamp, utc_text

INSERT: dict[str, str] = {
    "reading": "INSERT INTO reading VALUES (?,?,?,?,?)",
    "weighing": "INSERT INTO weighing VALUES (?,?,?,?,?,?)",
    "request": "INSERT INTO request VALUES (?,?,?,?,?,?,?,?)",
    "reply": "INSERT INTO reply VALUES (?,?,?,?,?)",
    "notice": "INSERT INTO notice VALUES (?,?,?,?,?,?,?)",
    "event": "INSERT INTO event VALUES (?,?,?,?,?,?,?,?,?,?,?)",
    "figure": "INSERT INTO figure VALUES (?,?,?)",
    "skipped": "INSERT INTO skipped VALUES (?,?)",
}

SEQ_BITS = 12
"""reading_id = tick << SEQ_BITS | place in the tick: one number as the key of an append-only table packs its pages full."""


@dataclass(frozen=True, slots=True)
class Tick:
    """All that one tick leaves behind. ``skipped_from``: first of the ticks just before it that were never executed."""

    tick: int
    stamp: Stamp
    inputs: Inputs
    commands: Commands
    marks: tuple[Mark, ...] = ()
    figures: Mapping[str, float] | None = None
    skipped_from: int | None = None
    switched: bool = False  # an output changed in this tick

    def matters(self) -> bool:
        """Tell whether there is anything to write but that the tick was executed."""
        i, c = self.inputs, self.commands
        return bool(
            i.readings
            or i.weighings
            or i.requests
            or i.notices
            or c.events
            or c.replies
            or self.switched
            or self.marks
            or self.figures
            or self.skipped_from is not None
        )


def odd(value: float | None) -> tuple[float | None, str | None]:
    """Split a number into what a REAL column can hold and a word for what it cannot (NaN, minus zero)."""
    if value is None:
        return None, None
    if value != value:
        return None, "nan"
    if value == 0.0 and copysign(1.0, value) < 0.0:
        return 0.0, "-0"
    return value, None


def whole(value: float | None, word: str | None) -> float | None:
    """Put together again what ``odd`` split."""
    if not word:
        return value
    return float("nan") if word == "nan" else -0.0


def tidy(text: str) -> str:
    """Return ``text`` with half surrogates (which no UTF-8 file can hold) written out as escapes."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def rare_rows(item: Tick, out: dict[str, list[tuple[Any, ...]]]) -> None:
    """Append to ``out`` the rows of everything but readings and figures, which need channel numbers."""
    tick = item.tick
    utc = utc_text(item.stamp.utc_s)
    if item.skipped_from is not None:
        out["skipped"].append((item.skipped_from, tick - 1))
    for seq, w in enumerate(item.inputs.weighings):
        out["weighing"].append((tick, seq, tidy(w.piece), *odd(w.weight_g), w.sampled_s))
    for seq, q in enumerate(item.inputs.requests):
        out["request"].append(
            (tick, seq, utc, tidy(q.request_id), q.ask.verb, tidy(q.who), q.origin, tidy(to_json(q.ask)))
        )
    for seq, n in enumerate(item.inputs.notices):
        out["notice"].append((tick, seq, utc, n.kind, *odd(n.value), tidy(n.text)))
    for seq, p in enumerate(item.commands.replies):
        out["reply"].append((tick, seq, tidy(p.request_id), int(p.accepted), tidy(p.text)))
    for seq, e in enumerate(item.commands.events):
        words = (e.kind, tidy(e.subject), e.severity, tidy(e.text), tidy(e.meaning), tidy(e.advice))
        out["event"].append((tick, seq, utc, *words, *odd(e.value)))
