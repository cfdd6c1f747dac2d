"""What the record answers with: one typed line per row."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from dryward.core.chamber import Chamber
from dryward.core.commands import Event
from dryward.core.program import Piece, Program


class NoSuchRun(LookupError):
    """The record knows no run of that name."""


class RunLine(NamedTuple):
    """One run in a list. ``end_state`` empty: no end was recorded."""

    run_id: str
    program_name: str
    start_tick: int
    start_utc: str
    end_tick: int | None
    end_utc: str | None
    end_state: str
    end_reason: str
    pieces: int
    reached: int
    green_g: float | None
    final_g: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One run in full. ``last_tick`` is its end, or the last tick that is known of it; ``start_state`` is JSON."""

    run_id: str
    program: Program
    pieces: tuple[Piece, ...]
    chamber: Chamber
    period_s: float
    start_tick: int
    start_utc: str
    end_tick: int | None
    end_utc: str | None
    end_state: str
    end_reason: str
    last_tick: int
    start_state: str | None


class PieceLine(NamedTuple):
    name: str
    green_g: float
    target_loss_pct: float
    target_g: float
    scale: str | None
    cut: str
    final_g: float | None
    reached_tick: int | None
    reached_utc: str | None
    crossed_s: float | None
    out_tick: int | None
    out_utc: str | None


class StepLine(NamedTuple):
    step_no: int
    name: str
    began_tick: int
    began_utc: str
    ended_tick: int | None
    ended_utc: str | None
    end_reason: str


class ReadingLine(NamedTuple):
    tick: int
    sampled_s: float
    value: float | None
    fault: str


class FigureLine(NamedTuple):
    tick: int
    name: str
    value: float


class SpanLine(NamedTuple):
    """Low, mean and high of one channel over ``ticks`` ticks; None where no reading was good."""

    from_tick: int
    ticks: int
    n: int
    failed: int
    low: float | None
    mean: float | None
    high: float | None


class EventLine(NamedTuple):
    tick: int
    utc: str
    event: Event


class WeighInLine(NamedTuple):
    tick: int
    piece: str
    weight_g: float
    who: str
    via: str  # weigh, pull, or weighing (played from a recording)


class NoteLine(NamedTuple):
    """What somebody wrote about a run or one of its pieces. ``tags`` are separated by spaces."""

    run_id: str
    piece: str
    utc: str
    who: str
    text: str
    photo: str
    tags: str


class Plan(NamedTuple):
    plan_id: str
    program: Program
    at_utc: str
    who: str
    outcome: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Checkpoint:
    """The newest engine state in the record, JSON, and what the clocks said when it was taken."""

    tick: int
    state: str
    boot_id: str
    boottime_s: float
    utc_s: float
    synchronised: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Part of a run in one session: the engine went from ``start_state`` (JSON; None: a fresh one) through these ticks."""

    chamber: Chamber
    version: str
    period_s: float
    first_tick: int
    last_tick: int
    start_state: str | None
