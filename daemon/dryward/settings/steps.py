"""What must hold inside a step and from one step to the next, so that a program can end and does what it says."""

from __future__ import annotations

from collections.abc import Mapping

from dryward.core.program import Ends, Step
from dryward.settings.mistakes import NOTHING, Findings

CONDITIONS = ("dwell_h", "loss_pct", "own_target", "core_c")


def conditions(ends: Ends) -> tuple[str, ...]:
    """Name the conditions of a step besides its cap."""
    return tuple(c for c in CONDITIONS if getattr(ends, c) not in (None, False))


def is_certain(ends: Ends, condition: str) -> bool:
    """Tell whether a step cannot end before this condition holds, its cap aside."""
    held = conditions(ends)
    return condition in held and (ends.when == "all" or len(held) == 1)


def least_h(ends: Ends) -> float:
    """Return the shortest time a step can take, in hours."""
    dwell = ends.dwell_h if is_certain(ends, "dwell_h") else None
    if dwell is None and not conditions(ends):
        dwell = ends.cap_h
    return min(dwell or 0.0, ends.cap_h or dwell or 0.0)


def check_step(step: Step, place: str, found: Findings) -> None:
    """Note what contradicts itself inside one step."""
    _check_ends(step, place, found)
    if step.watch_only:
        for key in ("air_c", "ramp_k_per_h", "rh_pct"):
            if getattr(step, key) is not None:
                found.add(
                    f"{place}.{key}",
                    getattr(step, key),
                    limit="nothing to hold in a watch-only step",
                    cure="Take this line out, or take out watch_only = true.",
                )
    elif step.air_c is None:
        found.add(
            f"{place}.air_c",
            NOTHING,
            limit="needed in a step that is not watch-only",
            cure="Add a line air_c = ..., or write watch_only = true.",
        )
    _check_band(step, place, ("safe_air_low_c", "safe_air_high_c", "air_c"), found)
    _check_band(step, place, ("safe_rh_low_pct", "safe_rh_high_pct", "rh_pct"), found)
    _check_band(step, place, ("rh_follow_low_pct", "rh_follow_high_pct", "rh_pct"), found)
    for key in ("rh_follow_low_pct", "rh_follow_high_pct"):
        if getattr(step, key) is not None and step.rh_pct is None:
            found.add(
                f"{place}.{key}",
                getattr(step, key),
                limit="only where a humidity is held",
                cure="Add a line rh_pct = ... to begin from, or take this line out.",
            )
    for key in ("rh_pct", "safe_rh_low_pct", "safe_rh_high_pct", "rh_follow_low_pct", "rh_follow_high_pct"):
        value = getattr(step, key)
        if value is not None and 0.0 < value <= 1.0:
            found.add(
                f"{place}.{key}",
                value,
                limit="per cent, above 1",
                cure=f"{value:g} looks like a fraction: write {value * 100:g}.",
            )


def _check_ends(step: Step, place: str, found: Findings) -> None:
    ends = step.ends
    if found.spoils(f"{place}.ends"):
        return
    if not conditions(ends) and ends.cap_h is None:
        found.add(
            f"{place}.ends",
            NOTHING,
            limit="at least one of dwell_h, loss_pct, own_target, core_c, cap_h; else the step can never end",
            cure="Say when the step is over: dwell_h = ... for a time, own_target = true for the weight.",
        )
    if ends.own_target and ends.loss_pct is not None:
        found.add(
            f"{place}.ends.loss_pct",
            ends.loss_pct,
            limit="only one of loss_pct and own_target",
            cure="Take loss_pct out to go by each piece's own target, or take own_target out.",
        )
    if ends.dwell_h is not None and ends.cap_h is not None and ends.dwell_h > ends.cap_h:
        found.add(
            f"{place}.ends.dwell_h",
            ends.dwell_h,
            limit=f"at most cap_h = {ends.cap_h:g}; else the dwell is never reached",
            cure="Raise cap_h to half as much again as dwell_h, or shorten the dwell.",
        )
    if ends.core_c is not None and step.air_c is not None and ends.core_c >= step.air_c:
        found.add(
            f"{place}.ends.core_c",
            ends.core_c,
            limit=f"below air_c = {step.air_c:g}; a core never gets hotter than the air",
            cure="Lower core_c or raise air_c.",
        )


def _check_band(step: Step, place: str, keys: tuple[str, str, str], found: Findings) -> None:
    low, high, held = (None if found.spoils(f"{place}.{key}") else getattr(step, key) for key in keys)
    if low is not None and high is not None and low >= high:
        found.add(
            f"{place}.{keys[1]}", high, limit=f"above {keys[0]} = {low:g}", cure="Swap the two, or leave one out."
        )
    elif held is not None and ((low is not None and held <= low) or (high is not None and held >= high)):
        span = " and ".join(
            f"{word} {value:g}" for word, value in (("above", low), ("below", high)) if value is not None
        )
        found.add(
            f"{place}.{keys[2]}",
            held,
            limit=f"inside the step's own safe band: {span}",
            cure="Move the setpoint or widen the safe band; else the alarm never ends.",
        )


def check_order(steps: Mapping[str, Step], cap_h: float | None, found: Findings) -> None:
    """Note steps that can never have a turn. ``steps`` by place, in order; ``cap_h`` the program's cap."""
    earlier_loss: tuple[str, Ends] | None = None
    finished_by: str | None = None
    for place, step in steps.items():
        ends = step.ends
        if found.spoils(f"{place}.ends"):
            continue
        if finished_by:
            found.add(
                place,
                None,
                limit=f"no step after {finished_by}, which ends only when every piece has reached its own target",
                cure="Then the run is over. Use loss_pct for the earlier step, or take this one out.",
            )
        if (
            earlier_loss
            and ends.loss_pct is not None
            and ends.loss_pct <= (earlier_loss[1].loss_pct or 0.0)
            and _reached_before(earlier_loss[1], ends)
        ):
            found.add(
                f"{place}.ends.loss_pct",
                ends.loss_pct,
                limit=f"above {earlier_loss[1].loss_pct:g}, the loss that ends {earlier_loss[0]}",
                cure="Else this step is over as soon as it begins: raise the loss, or swap the steps.",
            )
        if is_certain(ends, "loss_pct"):
            earlier_loss = (place, ends)
        if is_certain(ends, "own_target") and ends.pieces == "all" and ends.cap_h is None:
            finished_by = place
    least = sum(least_h(step.ends) for place, step in steps.items() if not found.spoils(f"{place}.ends"))
    if cap_h is not None and least >= cap_h:
        found.add(
            "cap_h",
            cap_h,
            limit=f"above {least:g} h, the time the steps take at the least",
            cure="Raise cap_h to about twice the time you expect, or shorten the dwells.",
        )


def _reached_before(earlier: Ends, later: Ends) -> bool:
    """Tell whether the earlier loss condition implies the later one (at the same loss)."""
    return earlier.pieces == "all" or later.pieces == "any"
