"""A run as rows for other programs: CSV files with units in their headers, or JSON Lines. All times are UTC.

``rows`` streams (table, row) pairs; both formats are written from it. Anonymous rows have numbers for the names of
people, pieces, sensors, steps and the chamber, no sentences (people's own words may be in them) and no notes; their clock
begins at 2000-01-01.
"""

from __future__ import annotations

import csv
import json
import re
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from itertools import chain
from pathlib import Path
from typing import Any

from dryward.record.facts import wall_s
from dryward.record.lines import Run
from dryward.record.moments import ScaleCalibration, utc_text
from dryward.record.names import unit_of
from dryward.record.queries import Record

Row = dict[str, Any]
EPOCH_S = 946_684_800.0  # 2000-01-01T00:00:00Z, the begin of every anonymous run
COUNTED = "{} [counts]"
LIVELY = "=+-@\t\r"
"""A text that begins so would be run as a formula by a spreadsheet; in CSV it gets an apostrophe in front."""


def rows(record: Record, run_id: str, *, anonymous: bool = False) -> Iterator[tuple[str, Row]]:
    """Yield every row of a run: run, step, piece, scale_calibration, reading, span, figure, weigh_in, output, event, note. Raises NoSuchRun."""
    run, anchors = record.run(run_id), record.anchors(run_id)
    shift_s = EPOCH_S - wall_s(anchors, run, run.start_tick) if anonymous else 0.0
    hide = _Hiding(record, run) if anonymous else None

    def when(tick: float | None) -> Row:
        if tick is None:
            return {"utc": None, "run_s": None}
        utc = utc_text(wall_s(anchors, run, tick) + shift_s)
        return {"utc": utc, "run_s": round((tick - run.start_tick) * run.period_s, 3)}

    for table, row in chain(_told(record, run, when), _measured(record, run, when)):
        if hide is None:
            yield table, row
        elif table != "note":
            yield table, hide(row)


@contextmanager
def whole_or_none() -> Iterator[list[Path]]:
    """Hand out a list of the files that are begun; should they not come to their end they are deleted: half a run looks like a whole one."""
    begun: list[Path] = []
    try:
        yield begun
    except BaseException:
        for file in begun:
            file.unlink(missing_ok=True)
        raise


def write_lines(record: Record, run_id: str, file: Path, *, anonymous: bool = False) -> int:
    """Write JSON Lines, one object a row with its table under ``table``; return how many."""
    count = 0
    with whole_or_none() as begun, file.open("w", encoding="utf-8") as out:
        begun.append(file)
        for table, row in rows(record, run_id, anonymous=anonymous):
            out.write(json.dumps({"table": table, **row}, ensure_ascii=False, separators=(",", ":")) + "\n")
            count += 1
    return count


def write_csv(record: Record, run_id: str, folder: Path, *, anonymous: bool = False) -> dict[str, int]:
    """Write one CSV file a table into ``folder`` (RFC 4180); return the rows of each. Raises FileExistsError for a file that is there."""
    counts: dict[str, int] = {}
    writers: dict[str, csv.DictWriter[str]] = {}
    readings = columns_of(record, run_id, anonymous=anonymous)
    folder.mkdir(parents=True, exist_ok=True)
    with whole_or_none() as begun, ExitStack() as files:
        for table, row in rows(record, run_id, anonymous=anonymous):
            if table not in writers:
                path = folder / f"{table}.csv"
                out = files.enter_context(path.open("x", encoding="utf-8", newline=""))
                begun.append(path)
                heads = readings if table == "reading" else list(row)
                writers[table] = csv.DictWriter(out, heads, restval="")
                writers[table].writeheader()
            writers[table].writerow({key: _cell(value) for key, value in row.items() if value is not None})
            counts[table] = counts.get(table, 0) + 1
    return counts


def columns_of(record: Record, run_id: str, *, anonymous: bool = False) -> list[str]:
    """Return the columns of table ``reading``: not every row has all of them. Raises NoSuchRun."""
    run = record.run(run_id)
    hide = _Hiding(record, run) if anonymous else None
    columns = [*_columns(run).values(), *_counted(record, run)]
    return ["utc", "run_s", *(c if hide is None else hide.text(c) for c in columns)]


def _told(record: Record, run: Run, when: Callable[[float | None], Row]) -> Iterator[tuple[str, Row]]:
    """Yield what is said in words and names."""
    end = when(run.end_tick)
    yield "run", {
        **when(run.start_tick), "run": run.run_id, "program": run.program.name, "chamber": run.chamber.name, "period_s": run.period_s,
        "end_utc": end["utc"], "end_run_s": end["run_s"], "end": run.end_state or "no end recorded", "end_reason": run.end_reason,
    }  # fmt: skip
    for s in record.steps(run.run_id):
        program = run.program.steps[s.step_no] if s.step_no < len(run.program.steps) else None
        yield "step", {
            **when(s.began_tick), "step": s.name, "end_run_s": when(s.ended_tick)["run_s"], "end_reason": s.end_reason,
            "air_degC": program.air_c if program else run.program.at_end.air_c, "band_K": program.band_k if program else None, "rh_pct": program.rh_pct if program else None,
        }  # fmt: skip
    for p in record.pieces(run.run_id):
        crossed = p.reached_tick if p.crossed_s is None else p.crossed_s / run.period_s
        yield "piece", {
            "piece": p.name, "cut": p.cut, "green_g": p.green_g, "target_loss_pct": p.target_loss_pct, "target_g": p.target_g, "last_g": p.final_g,
            "reached_utc": when(crossed)["utc"], "reached_run_s": when(crossed)["run_s"], "out_run_s": when(p.out_tick)["run_s"],
        }  # fmt: skip
    for tick, c in record.scale_calibrations(run.run_id):
        yield "scale_calibration", {
            **when(tick), "scale": c.scale, "calibration": c.calibration, "zero_count": c.zero_count, "g_per_count": c.g_per_count,
        }  # fmt: skip
    for w in record.weighings(run.run_id):
        yield "weigh_in", {**when(w.tick), "piece": w.piece, "weight_g": w.weight_g, "who": w.who, "how": w.via}
    for tick, output, on in record.output_changes(run.run_id):
        yield "output", {**when(tick), "output": output, "on": int(on)}
    for e in record.events(run.run_id):
        v = e.event
        yield (
            "event",
            {
                **when(e.tick),
                "severity": v.severity,
                "kind": v.kind,
                "subject": v.subject,
                "text": v.text,
                "meaning": v.meaning,
                "advice": v.advice,
                "value": v.value,
            },
        )
    for n in record.notes(run.run_id):
        yield "note", {"utc": n.utc, "piece": n.piece, "who": n.who, "text": n.text, "photo": n.photo, "tags": n.tags}


def _measured(record: Record, run: Run, when: Callable[[float | None], Row]) -> Iterator[tuple[str, Row]]:
    """Yield readings as the devices gave them, before any offset, a weight with its raw count; a failed one is left out.

    Then the spans, which outlive them.
    """
    columns = _columns(run)
    coming = deque(record.scale_calibrations(run.run_id))
    cells: dict[str, ScaleCalibration] = {}
    for tick, inputs in record.inputs(run.run_id):
        while coming and coming[0][0] <= tick:
            cell = coming.popleft()[1]
            cells[cell.scale] = cell
        values: Row = {}
        for r in inputs.readings:
            if r.value is not None:
                values[columns.get(r.channel, r.channel)] = r.value
                if r.channel in cells:
                    values[COUNTED.format(r.channel)] = cells[r.channel].counts(r.value)
        if values:
            yield "reading", {**when(tick), **values}
    for f in record.figures(run.run_id):
        yield "figure", {**when(f.tick), "figure": f.name, "value": f.value}
    for name, unit in _channels(run):
        for s in record.spans(run.run_id, name):
            yield "span", {
                **when(s.from_tick), "seconds": s.ticks * run.period_s, "channel": name, "unit": unit,
                "low": s.low, "mean": s.mean, "high": s.high, "good": s.n, "failed": s.failed,
            }  # fmt: skip


def _channels(run: Run) -> list[tuple[str, str]]:
    found = [(s.name, unit_of(s.role).replace("%", "pct")) for s in run.chamber.sensors]
    return found + [(s.name, "g") for s in run.chamber.scales]


def _columns(run: Run) -> dict[str, str]:
    """Return the heading of each channel, with its unit."""
    return {name: name if unit in ("", "1") else f"{name} [{unit}]" for name, unit in _channels(run)}


def _counted(record: Record, run: Run) -> list[str]:
    """Return the headings of the raw counts."""
    return list(dict.fromkeys(COUNTED.format(c.scale) for _, c in record.scale_calibrations(run.run_id)))


def _cell(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and value[:1] in LIVELY and value else value


class _Hiding:
    """Puts numbers in the place of names, and leaves out every text in which people's own words may be."""

    FREE = frozenset({"cut", "calibration", "text", "meaning", "advice", "end_reason"})

    def __init__(self, record: Record, run: Run) -> None:
        who = {w.who for w in record.weighings(run.run_id) if w.via != "weighing"}
        who |= {e.event.subject for e in record.events(run.run_id) if e.event.kind.startswith("asked-")}
        names = {run.run_id: "run", run.program.name: "program", run.chamber.name: "chamber"}
        for word, group in (
            ("person", sorted(who - {""})),
            ("scale", [s.name for s in run.chamber.scales]),
            ("step", [s.name for s in run.program.steps]),
            ("piece", [p.name for p in record.pieces(run.run_id)]),
        ):
            names |= {name: f"{word}-{n}" for n, name in enumerate(group, start=1)}
        names |= {s.name: f"{s.role}-{n}" for n, s in enumerate(run.chamber.sensors, start=1)}
        self._names = names
        longest_first = "|".join(re.escape(name) for name in sorted(names, key=len, reverse=True))
        self._pattern = re.compile(rf"(?<![\w-])(?:{longest_first})(?![\w-])")

    def text(self, said: str) -> str:
        """Return a field or a heading with every name in it replaced."""
        return self._pattern.sub(lambda found: self._names[found[0]], said)

    def __call__(self, row: Row) -> Row:
        return {
            self.text(key): "" if key in self.FREE else self.text(value) if isinstance(value, str) else value
            for key, value in row.items()
        }
