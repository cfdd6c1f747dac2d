"""Steady heat from a relay: full power while far away, then a slow on-off cycle whose share of time is steered.

Theory of operation. Three phases:

- **rise**: full power. The air's level and slope are followed; power is cut back when what has been given but is not
  yet seen (slope times delay) will carry the air to the setpoint. The slope at full power against the slope at the
  start also tells which share of the power holds the setpoint, with this load, on this day.
- **fall**: no power, the mirror image, after the setpoint was lowered.
- **hold**: cycles of ``cycle_s``. Each begins with its on-part. At the end of a cycle the *mean* error of that cycle
  moves the share by a PI law: a whole cycle's mean holds neither the ripple of the relay nor much of the noise.

The PI figures are the SIMC rules (Skogestad, J. Process Control 13 (2003) 291-309) on the identified plant, with the
delay that the cycle itself adds. What a tick or a relay's shortest time takes from a cycle is owed to the next one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dryward.core.chamber import Chamber, Control, Plant

Phase = Literal["off", "rise", "fall", "hold"]

UNTUNED = Plant(gain_k=160.0, time_constant_s=900.0, dead_time_s=60.0)
"""Careful stand-in before tuning: more heater and more delay than most boxes have, so that the loop is slow, not wild."""

SURE = 1.3  # full power is worth it when the error is this many times what the delay would hide
SMALLEST_K = 2.0  # and never for less than this


@dataclass(frozen=True, slots=True)
class HeatState:
    """Where the heat loop stands. Times on the chamber clock; shares 0..1."""

    phase: Phase = "off"
    since_s: float = 0.0  # begin of the phase
    trim: float = 0.0  # learned share on top of the feed-forward
    known: bool = False  # the trim was learned by holding
    level_c: float | None = None  # once and twice smoothed air
    lag_c: float = 0.0
    steepest_k_per_s: float = 0.0  # of this rise
    authority_k_per_s: float = 0.0  # slope that full power makes at room temperature; 0: not seen yet
    cycle_from_s: float = 0.0
    quiet_until_s: float = 0.0  # what happened before shows until then: do not correct it
    give_s: float = 0.0  # on-time meant for this cycle
    given_s: float = 0.0
    owed_s: float = 0.0
    error_ks: float = 0.0  # integral of the error over this cycle, and over which time
    error_s: float = 0.0
    duty: float = 0.0
    on: bool = False
    switched_s: float = -1e9


def loop_figures(control: Control) -> tuple[float, float, float, float]:
    """Return ``(kc_per_k, ti_s, delay_s, lead_s)``: SIMC gain and reset time, the plant's delay, the cycle's share of it."""
    plant = control.plant or UNTUNED
    delay_s = plant.delay_s
    # A mean over the cycle is half a cycle old; the share it sets is worked off over the next one.
    loop_s = delay_s + 0.75 * control.cycle_s
    closed_s = delay_s if control.pace == "tight" and control.plant else 3.0 * delay_s
    kc = plant.time_constant_s / (plant.gain_k * (closed_s + loop_s))
    return kc, min(plant.time_constant_s, 4.0 * (closed_s + loop_s)), delay_s, 0.5 * control.cycle_s


def heat(
    chamber: Chamber, s: HeatState, *, setpoint_c: float, rate_k_per_s: float, air_c: float, ambient_c: float, dt_s: float, now: float
) -> HeatState:
    """Advance the heat loop by one tick and return its new state; ``on`` says whether heat is wanted.

    ``rate_k_per_s`` is how fast the setpoint is being ramped now.
    """
    control = chamber.control
    plant = control.plant or UNTUNED
    cycle_s = control.cycle_s
    delay_s = plant.delay_s
    gain_k = plant.gain_k
    tau_s = plant.time_constant_s
    base = (setpoint_c - ambient_c + rate_k_per_s * tau_s) / gain_k

    # 1. level and slope: double exponential smoothing follows a straight rise without lagging behind
    smooth_s = 0.5 * delay_s
    smooth_s = 8.0 if smooth_s < 8.0 else 30.0 if smooth_s > 30.0 else smooth_s
    if s.level_c is None:
        once = twice = air_c
    else:
        a = dt_s / (smooth_s + dt_s)
        once = s.level_c + a * (air_c - s.level_c)
        twice = s.lag_c + a * (once - s.lag_c)
    level = 2.0 * once - twice
    slope = (once - twice) / smooth_s

    phase, since_s, trim, known = s.phase, s.since_s, s.trim, s.known
    steepest, authority = s.steepest_k_per_s, s.authority_k_per_s
    cycle_from_s, quiet_until_s = s.cycle_from_s, s.quiet_until_s
    give_s, given_s, owed_s, error_ks, error_s, duty = s.give_s, s.given_s, s.owed_s, s.error_ks, s.error_s, s.duty
    on = s.on
    if on:
        given_s += dt_s

    error_k = setpoint_c - level
    begin_cycle = False
    if phase == "rise":
        if slope > steepest:
            steepest = slope
            authority = slope + (level - ambient_c) / tau_s
        strength = authority if authority > 0.0 else gain_k / tau_s
        # The smoothed slope is two smoothing times old, and full power slows down on its way to the setpoint.
        slope *= 1.0 - 2.0 * smooth_s / (2.0 * smooth_s + tau_s)
        there = slope - error_k / tau_s
        need = 1.0 - there / strength
        need = 0.0 if need < 0.0 else need
        if error_k <= 0.5 * (slope + there) * (delay_s + 0.5 * need * cycle_s) or error_k <= 0.0:
            if not known and steepest > 0.0:
                trim = need - base
            phase, since_s, begin_cycle, quiet_until_s = "hold", now, True, now + 1.5 * delay_s
    elif phase == "fall":
        if error_k >= slope * delay_s or error_k >= 0.0:
            phase, since_s, begin_cycle, quiet_until_s = "hold", now, True, now + 1.5 * delay_s
    elif phase == "hold":
        error_ks += (setpoint_c - air_c) * dt_s
        error_s += dt_s
        if now - cycle_from_s >= cycle_s - 0.5 * dt_s:
            begin_cycle = True
            owed_s += give_s - given_s
            duty, trim, known = _correct(control, base=base, trim=trim, known=known, error_k=error_ks / error_s, over_s=error_s, quiet=now < quiet_until_s)
    else:
        begin_cycle = True
        phase, since_s, quiet_until_s = "hold", now, now
        owed_s = 0.0

    if begin_cycle:
        if s.phase != "hold":
            duty = _share(base + trim)
        strength = gain_k / tau_s
        reach_s = SURE * (delay_s + 0.5 * cycle_s)
        if phase != "hold" or s.phase in ("hold", "off"):
            if error_k > max(SMALLEST_K, (1.0 - duty) * strength * reach_s):
                phase, since_s, steepest = "rise", now, 0.0
            elif error_k < -max(SMALLEST_K, duty * strength * reach_s):
                phase, since_s = "fall", now
        if s.phase in ("rise", "fall"):
            owed_s = 0.0
        cycle_from_s, given_s, error_ks, error_s = now, 0.0, 0.0, 0.0
        give_s, owed_s = _portion(chamber, duty * cycle_s, owed_s, duty)

    if phase == "rise":
        want, duty = True, 1.0
    elif phase == "fall":
        want, duty = False, 0.0
    else:
        want = now - cycle_from_s + 0.5 * dt_s < give_s
    if want is not on and allowed(chamber, "heater", on, now - s.switched_s):
        on = want
    return HeatState(
        phase, since_s, trim, known, once, twice, steepest, authority, cycle_from_s, quiet_until_s, give_s, given_s, owed_s,
        error_ks, error_s, duty, on, now if on is not s.on else s.switched_s,
    )  # fmt: skip


def rest(s: HeatState, *, now: float) -> HeatState:
    """Return the loop with heat off and its learning frozen: door open, no reading, nothing asked."""
    if s.phase == "off" and not s.on:
        return s
    return HeatState(trim=s.trim, known=s.known, authority_k_per_s=s.authority_k_per_s, switched_s=now if s.on else s.switched_s)


def allowed(chamber: Chamber, name: str, on: bool, since_s: float) -> bool:
    """Return whether an output that has been in its state for ``since_s`` may change it by its own shortest times."""
    for output in chamber.outputs:
        if output.name == name:
            return since_s >= (output.min_on_s if on else output.min_off_s)
    return True


def _correct(control: Control, *, base: float, trim: float, known: bool, error_k: float, over_s: float, quiet: bool) -> tuple[float, float, bool]:
    """Return duty, trim and whether it is learned, after one cycle of mean error ``error_k``."""
    if quiet:
        return _share(base + trim), trim, known
    kc, ti_s, _, _ = loop_figures(control)
    push = kc * error_k
    step = push * over_s / ti_s
    wish = base + trim + push + step
    # Anti-windup: at either end, learn only what leads back into the range.
    if (wish < 1.0 or step < 0.0) and (wish > 0.0 or step > 0.0):
        trim += step
        known = True
    return _share(wish), trim, known


def _share(x: float) -> float:
    return 0.0 if x < 0.0 else 1.0 if x > 1.0 else x


def _portion(chamber: Chamber, wish_s: float, owed_s: float, duty: float) -> tuple[float, float]:
    """Return the on-time for a cycle that the relay can do, and what stays owed to the next."""
    cycle_s = chamber.control.cycle_s
    if duty <= 0.0 or duty >= 1.0:
        return wish_s, 0.0
    total_s = wish_s + owed_s
    shortest_on_s = shortest_off_s = 0.0
    for output in chamber.outputs:
        if output.name == "heater":
            shortest_on_s, shortest_off_s = output.min_on_s, output.min_off_s
    give_s = 0.0 if total_s < shortest_on_s or total_s < 0.0 else cycle_s if cycle_s - total_s < shortest_off_s else total_s
    owed_s = total_s - give_s
    return give_s, max(-cycle_s, min(cycle_s, owed_s))
