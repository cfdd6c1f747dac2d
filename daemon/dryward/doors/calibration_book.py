"""The calibrations of a chamber: a file of JSON lines beside the record, only ever added to, readable by any tool.

Three kinds of line: a ``point`` (one comparison), a ``result`` (what followed from the points before it), a ``dropped``
(the points before it count no more). A walk that was broken off goes on from its points.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Literal

from dryward.science.calibration import OLD_DAYS, Point

Kind = Literal["scale", "thermometer", "humidity"]
GOES_ON_H = 24.0  # points older than this belong to another day, another temperature
DAY_S = 86_400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line. ``name`` is the sensor's or scale's, ``values`` what a result found, ``note`` how a reference was had."""

    line: Literal["point", "result", "dropped"]
    utc: str
    who: str
    kind: Kind
    name: str
    device: str
    calibration: str = ""
    reference: float | None = None
    shown: float | None = None
    spread: float | None = None
    note: str = ""
    values: Mapping[str, Any] = field(default_factory=dict)

    @property
    def at(self) -> datetime:
        return datetime.fromisoformat(self.utc)


class Book:
    """The file of one chamber. ``unreadable`` counts the lines that are none."""

    def __init__(self, record: Path) -> None:
        self.path = self.path_of(record)
        self.unreadable = 0
        self.entries: list[Entry] = []
        if self.path.exists():
            for line in self.path.read_text(encoding="utf-8").splitlines():
                try:
                    entry = Entry(**json.loads(line))
                    entry.at.timestamp()
                except (ValueError, TypeError):
                    self.unreadable += 1
                else:
                    self.entries.append(entry)

    @staticmethod
    def path_of(record: Path) -> Path:
        """Return where the book of a record's chamber lies."""
        return record.with_name(f"{record.stem}.calibrations.jsonl")

    def add(self, entry: Entry) -> None:
        """Add a line and see it safely on the disk. Raises OSError."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with self.path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(asdict(entry), ensure_ascii=False) + "\n")
            file.flush()
            os.fsync(file.fileno())
        self.entries.append(entry)

    def open_points(self, kind: Kind, name: str, now: datetime) -> list[Entry]:
        """Return the points of a walk that has not come to a result and is not of another day."""
        points: list[Entry] = []
        for entry in self.of(kind, name):
            points = [*points, entry] if entry.line == "point" else []
        oldest = now - timedelta(hours=GOES_ON_H)
        return [entry for entry in points if entry.at >= oldest]

    def of(self, kind: Kind, name: str) -> list[Entry]:
        """Return all lines about one sensor or scale, oldest first."""
        return [entry for entry in self.entries if (entry.kind, entry.name) == (kind, name)]

    def results(self) -> list[Entry]:
        """Return every result, oldest first."""
        return [entry for entry in self.entries if entry.line == "result"]

    def latest(self, at: datetime) -> list[Entry]:
        """Return the newest result that each sensor and scale had at that moment."""
        return list({(entry.kind, entry.name): entry for entry in self.results() if entry.at <= at}.values())

    def found(self, calibration: str) -> Entry | None:
        """Return the result of that name."""
        return next((entry for entry in self.results() if entry.calibration == calibration), None)

    def new_name(self, name: str, now: datetime) -> str:
        """Return a name for a new calibration that none has yet."""
        plain = f"{name}-{now:%Y%m%d}"
        taken = {entry.calibration for entry in self.entries}
        return next(c for c in (plain, *(f"{plain}-{n}" for n in range(2, 10_000))) if c not in taken)

    def old(self, at: datetime) -> list[tuple[str, str, str]]:
        """Return name, words and cure for each calibration that was older at that moment than it should be."""
        found = []
        for entry in self.latest(at):
            days, most = (at - entry.at).total_seconds() / DAY_S, OLD_DAYS[entry.kind]
            if days > most:
                text = f"calibration {entry.calibration} of {entry.name}: {days:.0f} days old, {most:.0f} is as old as it should get"
                found.append((entry.name, text, f"Do it again with 'dryward calibrate {entry.kind} {entry.name}'."))
        return found


def points_of(entries: Sequence[Entry]) -> list[Point]:
    """Return the comparisons in these lines."""
    return [Point(e.reference, e.shown) for e in entries if e.reference is not None and e.shown is not None]


def utc_now() -> datetime:
    return datetime.now(UTC)
