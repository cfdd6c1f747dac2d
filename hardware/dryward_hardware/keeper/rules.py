"""What the keeper allows an output to do. Pure: no clock, no pins, no files.

"On" is a lease. The main process says again and again which outputs it wants; each time the lease runs for a few
seconds more. Without a running lease every output goes to its safe state at once, whatever the guards say.

While the lease runs, an output follows what is wanted, except:

- an output stays off until ``min_off_s`` have passed since it went off (a compressor must not restart against pressure),
- an output stays on until ``min_on_s`` have passed since it went on; never the heater or the contactor, because only
  the main process knows whether it switches them off for comfort or for safety,
- no heat without its fan being wanted and on, none with its contactor open, none while the cooler is on,
- the heartbeat output changes with every renewal of the lease and with nothing else.

When it is not known when an output went off, it is taken to have gone off this very moment.

Times are seconds on one clock that never steps; the program uses CLOCK_BOOTTIME, a simulation its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

from dryward_hardware.lines import LineSpec

HEAT = frozenset({"heater", "contactor"})
SAFE_WHEN_ON = frozenset({"fan", "lamp", "buzzer"})
HEARTBEAT = "heartbeat"
OFF = (False, "")


@dataclass(frozen=True, slots=True)
class Standing:
    """How an output stands, and since when."""

    on: bool
    since_s: float


@dataclass(frozen=True, slots=True)
class Change:
    """An output to be switched. ``why`` is one word for the trace."""

    output: str
    on: bool
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Keeping:
    """All that the rules remember. ``lapse`` says why there is no lease, once it has ended."""

    standings: Mapping[str, Standing]
    wanted: frozenset[str] = frozenset()
    lease_ends_s: float = -inf
    lapse: str = "start"
    beat: bool = False

    @property
    def on(self) -> frozenset[str]:
        """Names of the outputs that are on."""
        return frozenset(name for name, standing in self.standings.items() if standing.on)


def objections(lines: Sequence[LineSpec]) -> list[str]:
    """Return every reason why these lines cannot be kept, each with its cure; empty when they can."""
    found = []
    for line in lines:
        if line.safe_on and line.name not in SAFE_WHEN_ON:
            may = ", ".join(sorted(SAFE_WHEN_ON))
            found.append(f"output {line.name} has safe_on = true; only {may} may be safe when on: set it to false")
        if not (line.name and line.name.isprintable() and " " not in line.name):
            found.append(f"output name {line.name!r} is empty or has a space: name it with letters, digits and hyphens")
    for name in _repeated(line.name for line in lines):
        found.append(f"output {name} is listed more than once: keep one")
    for gpio in _repeated(line.gpio for line in lines if line.gpio is not None):
        users = ", ".join(line.name for line in lines if line.gpio == gpio)
        found.append(f"gpio {gpio} is used by {users}: give each output a line of its own")
    return found


def _repeated(items: Iterable[str | int]) -> list[str | int]:
    seen = list(items)
    return sorted({item for item in seen if seen.count(item) > 1}, key=str)


def begin(
    lines: Sequence[LineSpec], remembered: Mapping[str, Standing], now_s: float
) -> tuple[Keeping, tuple[Change, ...]]:
    """Start with every output in its safe state; return the changes that bring the lines there.

    ``remembered`` are the standings an earlier keeper left behind in this boot. An output that was not already in its
    safe state, or is not remembered, has changed now.
    """
    standings = {}
    for line in lines:
        before = remembered.get(line.name)
        if before is not None and before.on == line.safe_on:
            standings[line.name] = Standing(line.safe_on, min(before.since_s, now_s))
        else:
            standings[line.name] = Standing(line.safe_on, now_s)
    changes = (Change(line.name, line.safe_on, "start") for line in lines)
    return Keeping(standings=standings), tuple(sorted(changes, key=_switching_order))


def renew(keeping: Keeping, wanted: frozenset[str], *, lease_ends_s: float) -> Keeping:
    """Take note of what is wanted and until when that holds. Names without a line are ignored."""
    return replace(keeping, wanted=wanted, lease_ends_s=lease_ends_s, lapse="lease", beat=not keeping.beat)


def extend(keeping: Keeping, *, lease_ends_s: float) -> Keeping:
    """Renew with what was wanted before."""
    return Keeping(
        standings=keeping.standings,
        wanted=keeping.wanted,
        lease_ends_s=lease_ends_s,
        lapse="lease",
        beat=not keeping.beat,
    )


def lapse(keeping: Keeping, why: str) -> Keeping:
    """End the lease now. ``why`` is one word for the trace."""
    return replace(keeping, lease_ends_s=-inf, lapse=why)


def decide(lines: Sequence[LineSpec], keeping: Keeping, now_s: float) -> tuple[Keeping, tuple[Change, ...]]:
    """Return the changes due now, in the order to switch them: off before on, heat first off and last on."""
    if now_s < keeping.lease_ends_s:
        goals = _leased(lines, keeping, now_s)
    else:
        goals = {line.name: (line.safe_on, keeping.lapse) for line in lines}
    due = (Change(name, on, why) for name, (on, why) in goals.items() if on != keeping.standings[name].on)
    changes = tuple(sorted(due, key=_switching_order))
    standings = {**keeping.standings, **{change.output: Standing(change.on, now_s) for change in changes}}
    return replace(keeping, standings=standings), changes


def _leased(lines: Sequence[LineSpec], keeping: Keeping, now_s: float) -> dict[str, tuple[bool, str]]:
    goals = {line.name: _guarded(line, keeping, now_s) for line in lines}
    if HEARTBEAT in goals:
        goals[HEARTBEAT] = (keeping.beat, "renewed")
    if goals.get("heater", OFF)[0] and (bar := _bar(goals, keeping.wanted)):
        goals["heater"] = (False, bar)
    return goals


def _guarded(line: LineSpec, keeping: Keeping, now_s: float) -> tuple[bool, str]:
    standing = keeping.standings[line.name]
    want = line.name in keeping.wanted
    if want:
        least_s = line.min_off_s
    else:
        least_s = 0.0 if line.name in HEAT else line.min_on_s
    if want != standing.on and now_s - standing.since_s < least_s:
        return standing.on, ""  # not yet
    return want, "wanted" if want else "unwanted"


def _bar(goals: Mapping[str, tuple[bool, str]], wanted: frozenset[str]) -> str:
    """Name what forbids heat, or nothing. A fan that merely runs out its minimum time is no permission to heat."""
    for helper, why in (("fan", "no-fan"), ("contactor", "contactor-open")):
        if helper in goals and not (helper in wanted and goals[helper][0]):
            return why
    return "cooler-on" if goals.get("cooler", OFF)[0] else ""


def _switching_order(change: Change) -> tuple[bool, bool]:
    # A contactor must not open or close under the heater's current: that is what wears its contacts.
    heater = change.output == "heater"
    return (change.on, heater == change.on)
