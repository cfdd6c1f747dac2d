"""What the service tells the record beside inputs and commands: when it is, which session, what became of a run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime

from dryward.core.chamber import Chamber
from dryward.core.program import Piece, Program


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """The shell's clocks at one tick: POSIX seconds, CLOCK_BOOTTIME, and whether the wall clock is known to be right."""

    utc_s: float
    boottime_s: float = 0.0
    synchronised: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class RunBegan:
    """A run was started in this tick, and with it its first step. ``state_before`` is the engine's state before the tick, so that it can be replayed."""

    run_id: str
    program: Program
    pieces: tuple[Piece, ...]
    state_before: object | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StepBegan:
    """Step ``step_no`` (the second is 1) of the program began in this tick; the step before it ended."""

    run_id: str
    step_no: int
    name: str
    why: str = ""  # what ended the step before


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceReached:
    """A piece has reached its target. ``crossed_s`` (chamber clock) is when it crossed, which may be before this tick."""

    run_id: str
    piece: str
    weight_g: float
    crossed_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceNotReached:
    """A piece that was called done weighs more than its target after all: what was noted of its finish is taken back."""

    run_id: str
    piece: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceOut:
    """A piece was taken out."""

    run_id: str
    piece: str
    weight_g: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunEnded:
    """A run is over. ``last_g``: the last known weight of each piece that was still in."""

    run_id: str
    end_state: str
    end_reason: str
    last_g: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class StartPlanned:
    """Somebody wants a program started later."""

    plan_id: str
    program: Program
    at_utc_s: float
    who: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSettled:
    """A planned start was carried out, refused or cancelled: ``outcome`` says which and why."""

    plan_id: str
    outcome: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteWritten:
    """Somebody wrote something about a run or one of its pieces, perhaps long after it. ``photo`` is a file's name."""

    run_id: str
    text: str
    who: str
    piece: str = ""
    photo: str = ""
    tags: tuple[str, ...] = ()


Mark = (
    RunBegan
    | StepBegan
    | PieceReached
    | PieceNotReached
    | PieceOut
    | RunEnded
    | StartPlanned
    | PlanSettled
    | NoteWritten
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleCalibration:
    """What a count of a scale's load cell weighs, as the chamber file says: (counts - zero) x g per count.

    ``calibration`` is its name in the book of calibrations, empty where the file names none.
    """

    scale: str
    calibration: str
    zero_count: float
    g_per_count: float

    def counts(self, weight_g: float) -> int:
        """Return the raw count that was weighed so, exactly: it was a whole number of 24 bits."""
        return round(weight_g / self.g_per_count + self.zero_count)


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One start of the daemon. ``start_state``: the state it went on with, None when it began afresh.

    ``live_run``: the run that state is in the middle of and the tick it began in, so that a new file (after a damaged
    one) knows it too.
    """

    chamber: Chamber
    first_tick: int
    stamp: Stamp
    boot_id: str = ""
    version: str = ""
    start_state: object | None = None
    live_run: tuple[int, RunBegan] | None = None
    scale_calibrations: tuple[ScaleCalibration, ...] = ()


def utc_text(utc_s: float) -> str:
    """POSIX seconds as RFC 3339 text in UTC, with milliseconds."""
    return datetime.fromtimestamp(utc_s, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def utc_seconds(text: str) -> float:
    """RFC 3339 text as POSIX seconds."""
    return datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()
