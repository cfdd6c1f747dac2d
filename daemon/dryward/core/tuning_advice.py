"""What a tuned chamber can expect: the controller's figures, the ripple, the wear of the relay, how far to trust the fit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, sqrt
from typing import Literal

from dryward.core.chamber import Chamber, Control, Plant
from dryward.core.heat_state import loop_figures
from dryward.core.tuning import RelayTest
from dryward.core.tuning_fit import Found

RIPPLE_K = 1.2  # swing of the air that is worth no more wear
RELAY_SHORTEST_S, RELAY_LONGEST_S = 40.0, 120.0  # a mechanical relay: at most 90 operations an hour
SOLID_STATE_S = 10.0  # solid-state relay: no wear, but a share needs some ticks to be told
GOOD, FAIR = 0.05, 0.15  # unexplained part of the swing
CHANGED = 0.25  # against the last tuning: more than two tests of a healthy chamber differ
STEADY, RESTLESS = 0.15, 0.40  # change of the swing's period from one to the next

Quality = Literal["good", "fair", "poor"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """A proposal for ``[control]`` with what it will do at the tested setpoint. ``relay_years`` None: it does not wear."""

    plant: Plant
    quality: Quality
    remarks: tuple[str, ...]
    kc_per_k: float
    ti_s: float
    cycle_s: float
    duty: float
    ripple_k: float
    operations_per_day: float
    relay_years: float | None


def advise(chamber: Chamber, test: RelayTest, found: Found) -> Advice:
    """Return what to write into the chamber's settings after a relay test, and what to expect of it."""
    plant = found.plant
    duty = min(max((test.setpoint_c - test.room_c) / plant.gain_k, 0.0), 1.0)
    heater = next(output for output in chamber.outputs if output.name == "heater")
    cycle_s = best_cycle_s(chamber, plant, duty=duty, wears=heater.rated_operations > 0)
    control: Control = replace(chamber.control, plant=plant, cycle_s=cycle_s)
    kc, ti_s = loop_figures(control, plant)
    quality, remarks = judge(found, duty=duty)
    remarks += changes(chamber.control.plant, plant)
    operations = 86_400.0 / cycle_s if 0.0 < duty < 1.0 else 0.0
    return Advice(
        plant=plant, quality=quality, remarks=remarks, kc_per_k=kc, ti_s=ti_s, cycle_s=cycle_s, duty=duty,
        ripple_k=ripple_k(plant, cycle_s=cycle_s, duty=duty), operations_per_day=operations,
        relay_years=heater.rated_operations / operations / 365.25 if heater.rated_operations and operations else None,
    )  # fmt: skip


def ripple_k(plant: Plant, *, cycle_s: float, duty: float) -> float:
    """Return the peak-to-peak swing of the air that time-proportioning cannot go below, K.

    For cycles well below the time constant: ``(T_full - T_room) P d (1 - d) / tau``. The reading swings less.
    """
    return plant.gain_k * cycle_s * duty * (1.0 - duty) / plant.time_constant_s


def best_cycle_s(chamber: Chamber, plant: Plant, *, duty: float, wears: bool) -> float:
    """Return the longest cycle whose ripple is still small, within what the relay likes, in whole ticks."""
    if not wears:
        wish_s = max(SOLID_STATE_S, 4.0 * chamber.period_s)
    else:
        small_s = RIPPLE_K / max(ripple_k(plant, cycle_s=1.0, duty=duty), 1e-9)
        wish_s = min(
            max(small_s, RELAY_SHORTEST_S),
            RELAY_LONGEST_S,
            max(plant.delay_s, plant.time_constant_s / 20.0, RELAY_SHORTEST_S),
        )
    return ceil(wish_s / chamber.period_s - 1e-6) * chamber.period_s


def changes(old: Plant | None, new: Plant) -> tuple[str, ...]:
    """Return what has changed since the last tuning, in words, where it is more than a test's own error."""
    if old is None:
        return ()
    remarks = []
    strength = new.gain_k / new.time_constant_s * old.time_constant_s / old.gain_k
    if not 1.0 - CHANGED < strength < 1.0 + CHANGED:
        remarks.append(
            f"at full power the air now moves {100.0 * strength:.0f} % as fast as at the last tuning; "
            + (
                "look at the element, its terminals and the fan"
                if strength < 1.0
                else "was something taken out, the element changed?"
            )
        )
    if new.delay_s > (1.0 + CHANGED) * old.delay_s + 5.0:
        remarks.append(
            f"heat reaches the sensor after {new.delay_s:.0f} s, at the last tuning after {old.delay_s:.0f} s; look at the fan, filters and the sensor's place"
        )
    return tuple(remarks)


def judge(found: Found, *, duty: float) -> tuple[Quality, tuple[str, ...]]:
    """Return how far the figures can be trusted, and why not further."""
    plant = found.plant
    remarks = []
    unexplained_k = sqrt(max(found.misfit_k**2 - found.noise_k**2, 0.0))
    part = unexplained_k / max(found.swing_k, 1e-9)
    worst = 0 if part <= GOOD else 1 if part <= FAIR else 2
    if worst:
        remarks.append(
            f"{100.0 * part:.0f} % of the swing is not explained by one time constant: walls or load take part in it"
        )
    if found.uneven > STEADY:
        remarks.append(
            f"the swings differed by {100.0 * found.uneven:.0f} % in length: the walls were still warming, or the fan is not steady; a second test tells"
        )
        worst = max(worst, 1 if found.uneven <= RESTLESS else 2)
    if not 0.05 <= duty <= 0.9:
        remarks.append(
            f"holding this setpoint takes {100.0 * duty:.0f} % of the power; "
            + (
                "the heater is far too strong for it, expect ripple"
                if duty < 0.05
                else "there is hardly any left to warm up with"
            )
        )
        worst = max(worst, 1)
    if plant.delay_s > 0.5 * plant.time_constant_s:
        remarks.append(
            f"the reading comes {plant.delay_s:.0f} s late in a chamber that takes {plant.time_constant_s:.0f} s; move the sensor into the air stream"
        )
        worst = max(worst, 1)
    quality: Quality = "poor" if worst == 2 else "fair" if worst == 1 else "good"
    return quality, tuple(remarks)
