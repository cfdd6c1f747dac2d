"""A program file -> Program: each step read by itself, then what must hold between its options and between the steps."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from dryward.core.program import AtEnd, Program, Step
from dryward.settings.mistakes import NOTHING, Findings
from dryward.settings.options import options
from dryward.settings.shape import Table, build, build_list
from dryward.settings.steps import check_order, check_step
from dryward.settings.text import read_toml


def read_program(path: Path) -> Program:
    """Read a program file; raise SettingsError with all its mistakes at once."""
    return judge_program(read_toml(path), where=str(path))


def judge_program(raw: Table, *, where: str) -> Program:
    """Make a program of the tables of its file, or of a request; raise SettingsError with all mistakes at once."""
    found = Findings(where)
    program = build(Program, _without_parts(raw), place="", found=found)
    steps = build_list(Step, raw, "steps", found=found)
    at_end = build(AtEnd, raw.get("at_end", {}), place="at_end", found=found)
    for place, step in steps.items():
        check_step(step, place, found)
    check_order(steps, program.cap_h if program else None, found)
    if at_end is not None:
        _check_end(at_end, found)
    most = options(Program)["steps"].high or 0.0
    if len(steps) > most:
        found.add(
            "steps",
            list(steps),
            limit=f"at most {most:g} steps",
            cure=f"These are {len(steps)}: join some, or split the program in two.",
        )
    found.stop_if_any(raw)
    assert program is not None
    assert at_end is not None
    return replace(program, steps=tuple(steps.values()), at_end=at_end)


def _without_parts(raw: Table) -> Table:
    """Put a placeholder where the steps were, so that the rest of the program can be judged by itself."""
    rest = {k: v for k, v in raw.items() if k not in ("steps", "at_end")}
    return rest | {"steps": [{"name": "placeholder", "ends": {}}]}


def _check_end(at_end: AtEnd, found: Findings) -> None:
    if at_end.action == "keep-warm" and at_end.air_c is None:
        found.add(
            "at_end.air_c",
            NOTHING,
            limit='needed with action = "keep-warm"',
            cure="Add a line air_c = ...; food is out of the danger zone above 60 degC.",
        )
    if at_end.action == "off" and at_end.air_c is not None:
        found.add(
            "at_end.air_c",
            at_end.air_c,
            limit='only with action = "keep-warm"',
            cure='Take it out, or write action = "keep-warm".',
        )
