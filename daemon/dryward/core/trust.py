"""Which readings may be believed. Four outcomes: fresh, stale, implausible, failed. Never two.

A sample passes the gate or it does not; one that does not pass leaves the last good value standing, and that value
grows old. Three refusals in a row count as no reading at all (fault contract, F4 and F5). A jump that stays, five
samples agreeing with each other, is the air and not the sensor: it becomes the new value.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite
from typing import Literal

from dryward.core.inputs import Reading
from dryward.core.layout import Layout

Quality = Literal["fresh", "stale", "implausible", "failed"]
REFUSALS_IN_A_ROW = 3
AGREEING_JUMPS = 5
NEVER_S = -1.0e9


@dataclass(frozen=True, slots=True)
class SensorState:
    """What is known of one sensor. ``raw`` is the newest value inside the rating, believed or not."""

    value: float | None = None
    sampled_s: float = NEVER_S
    quality: Quality = "stale"
    refused: int = 0
    refusal: Quality = "failed"
    why: str = ""
    raw: float | None = None
    raw_before: float | None = None
    raw_s: float = NEVER_S
    agreeing: int = 0

    @property
    def good(self) -> float | None:
        """The value when it is fresh, else None."""
        return self.value if self.quality == "fresh" else None


def trust(layout: Layout, states: tuple[SensorState, ...], readings: tuple[Reading, ...], now: float) -> tuple[SensorState, ...]:
    """Return the sensors' states after ``readings``; unchanged states are the same objects."""
    if not readings:
        return _aged(layout, states, now)
    new = list(states)
    zeros = _exact_zeros(layout, readings)
    for reading in readings:
        i = layout.sensor_index.get(reading.channel)
        if i is not None:
            new[i] = _sampled(layout, i, new[i], reading, zeros, now)
    return _aged(layout, tuple(new), now)


def _sampled(
    layout: Layout, i: int, state: SensorState, reading: Reading, zeros: frozenset[int], now: float
) -> SensorState:
    sensor = layout.chamber.sensors[i]
    value = reading.value
    if value is None or reading.fault:
        return _refuse(state, "failed", reading.fault or "no value")
    if reading.sampled_s <= state.raw_s or reading.sampled_s > now:
        return state  # an old sample is not a new one
    if not isfinite(value):
        return _refuse(state, "implausible", "not a number")
    value += sensor.offset
    if not sensor.rated_low <= value <= sensor.rated_high:
        return _refuse(state, "implausible", f"{value:g} outside the rating {sensor.rated_low:g} to {sensor.rated_high:g}")
    if i in zeros:
        return _refuse(state, "implausible", "exactly 0.0 degC with 0.0 %RH")
    if sensor.reset_value is not None and reading.value == sensor.reset_value:
        return _refuse(state, "implausible", f"exactly {sensor.reset_value:g}, the value after a loss of power")
    if layout.is_temperature[i] and state.value is not None:
        limit_k = layout.chamber.limits.jump_k
        # The jump is judged against the last good sample while that is still fresh, and between candidates after it.
        if abs(value - state.value) > limit_k and reading.sampled_s - state.sampled_s <= 6.0 * sensor.fresh_s:
            near = state.raw is not None and state.refused > 0 and abs(value - state.raw) <= limit_k
            agreeing = state.agreeing + 1 if near else 1
            if agreeing < AGREEING_JUMPS:
                return replace(
                    state,
                    refused=state.refused + 1,
                    refusal="implausible",
                    why=f"jumped from {state.value:.1f} to {value:.1f}",
                    raw=value,
                    raw_before=state.raw,
                    raw_s=reading.sampled_s,
                    agreeing=agreeing,
                )
    return SensorState(value, reading.sampled_s, "fresh", 0, "failed", "", value, state.raw, reading.sampled_s, 0)


def _refuse(state: SensorState, refusal: Quality, why: str) -> SensorState:
    return replace(state, refused=state.refused + 1, refusal=refusal, why=why, agreeing=0)


def _aged(layout: Layout, states: tuple[SensorState, ...], now: float) -> tuple[SensorState, ...]:
    changed: list[SensorState] | None = None
    for i, state in enumerate(states):
        quality = _quality(state, now - state.sampled_s > layout.chamber.sensors[i].fresh_s)
        if quality != state.quality:
            if changed is None:
                changed = list(states)
            changed[i] = replace(state, quality=quality)
    return states if changed is None else tuple(changed)


def _quality(state: SensorState, old: bool) -> Quality:
    if state.refused >= REFUSALS_IN_A_ROW:
        return state.refusal
    return "stale" if old else "fresh"


def _exact_zeros(layout: Layout, readings: tuple[Reading, ...]) -> frozenset[int]:
    """Sensors whose device answered 0.0 degC and 0.0 %RH together: an empty frame that passes its checksum."""
    zero = {layout.sensor_index.get(r.channel) for r in readings if r.value == 0.0}
    if len(zero) < 2:
        return frozenset()
    pairs = [(i, layout.partner[i]) for i in zero if i is not None]
    return frozenset(k for i, j in pairs if j is not None and j in zero for k in (i, j))
