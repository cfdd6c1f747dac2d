"""Which readings may be believed. Four outcomes: fresh, stale, implausible, failed. Never two.

A sample passes the gate or it does not; one that does not pass leaves the last good value standing, and that value
grows old (fault contract F4). A read that failed only lets it grow old: cheap sensors fail one time in three. Samples
that cannot be true are something else: after three of them with no good one between, the last good value is not
believed any longer either (F5). A jump that stays, five samples agreeing with each other, is the air and not the
sensor: it becomes the new value.
"""

from __future__ import annotations

from dataclasses import replace
from math import isfinite
from typing import Literal

from dryward.core.frozen import frozen
from dryward.core.inputs import Reading
from dryward.core.layout import Layout

Quality = Literal["fresh", "stale", "implausible", "failed"]
REFUSALS_IN_A_ROW = 3
AGREEING_JUMPS = 5
NEAR_RESET_K = 1.0
"""Air that is so near already may well be exactly at the value a sensor shows after a loss of power."""
NEVER_S = -1.0e9


@frozen
class SensorState:
    """What is known of one sensor. ``raw`` is the newest value inside the rating, believed or not."""

    value: float | None = None
    sampled_s: float = NEVER_S
    quality: Quality = "stale"
    refused: int = 0  # samples that cannot be true, since the last good one
    missing: Quality = "stale"  # what it is called once the last good value is old
    why: str = ""
    raw: float | None = None
    raw_before: float | None = None
    raw_s: float = NEVER_S
    agreeing: int = 0

    @property
    def good(self) -> float | None:
        """The value when it is fresh, else None."""
        return self.value if self.quality == "fresh" else None


def trust(
    layout: Layout, states: tuple[SensorState, ...], readings: tuple[Reading, ...], now: float
) -> tuple[SensorState, ...]:
    """Return the sensors' states after ``readings``; unchanged states are the same objects."""
    if readings:
        new = list(states)
        for reading in readings:
            i = layout.sensor_index.get(reading.channel)
            if i is not None:
                new[i] = _sampled(layout, i, new[i], reading, readings, now)
        states = tuple(new)
    return _aged(layout, states, now)


def _sampled(
    layout: Layout, i: int, state: SensorState, reading: Reading, readings: tuple[Reading, ...], now: float
) -> SensorState:
    """Return the state of sensor ``i`` after one sample. ``readings`` are all that arrived with it."""
    sensor = layout.chamber.sensors[i]
    value = reading.value
    if value is None or reading.fault:
        return replace(state, missing="failed", why=reading.fault or "no value")
    if reading.sampled_s <= state.raw_s or reading.sampled_s > now:
        return state  # an old sample is not a new one
    if not isfinite(value):
        return _refused(state, "not a number")
    value += sensor.offset
    if value < sensor.rated_low or value > sensor.rated_high:
        return _outside(layout, i, state, value, reading.sampled_s)
    if reading.value == 0.0 and _empty_frame(layout, i, readings):
        return _refused(state, "exactly 0.0 degC with 0.0 %RH")
    if reading.value == sensor.reset_value and not (
        state.value is not None and abs(value - state.value) <= NEAR_RESET_K
    ):
        return _refused(state, f"exactly {sensor.reset_value:g}, the value after a loss of power")
    agreeing = _jumped(layout, i, state, value)
    if 0 < agreeing < AGREEING_JUMPS:
        refused = _refused(state, f"jumped from {state.value:.1f} to {value:.1f}")
        return replace(refused, raw=value, raw_before=state.raw, raw_s=reading.sampled_s, agreeing=agreeing)
    return SensorState(value, reading.sampled_s, "fresh", 0, "stale", "", value, state.raw, reading.sampled_s, 0)


def _refused(state: SensorState, why: str) -> SensorState:
    return replace(state, refused=state.refused + 1, missing="implausible", why=why, agreeing=0)


def _outside(layout: Layout, i: int, state: SensorState, value: float, sampled_s: float) -> SensorState:
    """Refuse a value outside the rating. Heat that rises step by step out at the top stays known to the limits (F11)."""
    sensor = layout.chamber.sensors[i]
    refused = _refused(state, f"{value:g} is outside the rating, {sensor.rated_low:g} to {sensor.rated_high:g}")
    if value < sensor.rated_low or state.raw is None or abs(value - state.raw) > layout.chamber.limits.jump_k:
        return refused
    return replace(refused, raw=value, raw_before=state.raw, raw_s=sampled_s)


def _empty_frame(layout: Layout, i: int, readings: tuple[Reading, ...]) -> bool:
    """Say whether the device answered 0.0 degC and 0.0 %RH together: an empty frame that passes its checksum."""
    other = layout.partner[i]
    if other is None and i in layout.partner:
        other = layout.partner.index(i)
    if other is None:
        return False
    name = layout.chamber.sensors[other].name
    return any(r.channel == name and r.value == 0.0 for r in readings)


def _jumped(layout: Layout, i: int, state: SensorState, value: float) -> int:
    """Return how many samples in a row, this one included, agree with each other and not with the last good value."""
    limit_k, good = layout.chamber.limits.jump_k, state.value
    if good is None or abs(value - good) <= limit_k or not layout.is_temperature[i]:
        return 0
    return state.agreeing + 1 if state.agreeing and state.raw is not None and abs(value - state.raw) <= limit_k else 1


def _aged(layout: Layout, states: tuple[SensorState, ...], now: float) -> tuple[SensorState, ...]:
    changed: list[SensorState] | None = None
    for i, (state, sensor) in enumerate(zip(states, layout.chamber.sensors, strict=True)):
        if state.refused >= REFUSALS_IN_A_ROW:
            quality: Quality = "implausible"
        else:
            quality = state.missing if now - state.sampled_s > sensor.fresh_s else "fresh"
        if quality != state.quality:
            if changed is None:
                changed = list(states)
            changed[i] = replace(state, quality=quality)
    return states if changed is None else tuple(changed)
