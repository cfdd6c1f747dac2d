"""What the guard remembers about air and heater from tick to tick: the windows and budgets behind F6 to F13.

One small value per question; each function takes what was known and returns what is known now. Nothing here can give
heat.

An open door explains a falling air, and a rise after it. While it is open and for some minutes after, only what is too
hot is judged; all other references begin anew.
"""

from __future__ import annotations

from math import exp
from typing import NamedTuple

from dryward.core.chamber import Limits, Plant
from dryward.core.frozen import frozen

TRAIL_EVERY_S = 20.0
SMOOTH_S = 10.0  # smoothing of the air where a rise or fall is judged
SHORTEST_WINDOW_S = 60.0
SETTLED = 1.45  # times ``response_s`` at full power before an answer is missed: the first heat has a way to go
MOVES_K = 0.3  # a change of the smoothed air that is no noise
DOOR_FALLS_K = 4.0  # a fall within a minute that no dead heater makes
DOOR_REST_S = 300.0
FULL_DUTY = 0.95
NEAR_TARGET_K = 1.0  # so near below the setpoint a healthy chamber holds
FAR_FROM_TARGET_K = 25.0
"""Nearer than this an untuned chamber may be slow; there the budget of full-power seconds judges instead."""
WEAK_MAINS = 0.64  # power left when the voltage is 20 % low
WEAK_GAIN_K = 80.0  # rise that full power gives at least, before tuning, with weak mains
UNTUNED_DELAY_S = 100.0  # dead time and lag of a slow, heavy chamber
UNTUNED_ROOM_C = 22.0  # taken for the room where no sensor tells
HOT_K = 10.0  # so far above the room, air that stays is kept there by heat
TEST_S = 90.0  # without heat such air has fallen by a kelvin after so long
MISSED_S = 30.0  # without so many full-power seconds the air of the heaviest chamber has fallen by a kelvin
LEVEL_RISES_K_PER_S = 0.05 / 60.0  # 3 K/h: no faster does a room warm
LEVEL_FALLS_S = 600.0

Trail = tuple[tuple[float, float], ...]
"""Time and smoothed air, every TRAIL_EVERY_S, as far back as the windows reach, the newest last."""


@frozen
class Push:
    """Full power without a break: since when, from what air, and which share of power was given before (F7, F13)."""

    since_s: float
    from_c: float
    share: float = 0.0


@frozen
class Budget:
    """Full-power seconds spent without a rise of 1 K above ``lowest_c`` (F8).

    ``test_c``: the heat is being withheld to see whether air of this temperature falls without it.
    """

    spent_s: float
    lowest_c: float
    test_c: float | None = None


@frozen
class Off:
    """The heater is off: since when, and the level that the air must not rise above (F12)."""

    since_s: float
    fan_on: bool
    level_c: float | None = None


@frozen
class Band:
    """How the air stands to its setpoint (F9, F10). ``armed``: it has once been no further above than allowed."""

    setpoint_c: float | None = None
    been_in: bool = False
    below_ks: float = 0.0
    armed: bool = False
    over_since_s: float | None = None
    over_s: float = 0.0  # of that time, while it was not coming down

    @property
    def calm(self) -> bool:
        """Whether the air has been in its band and nothing is being counted."""
        return self.been_in and self.armed and self.below_ks == 0.0 and self.over_since_s is None


@frozen
class Still:
    """A reading that does not move (F6): within ``stuck_k`` since ``since_s``, exactly the same since ``same_s``."""

    value_c: float
    since_s: float
    same_c: float
    same_s: float
    heated_s: float  # the heater's time on, of the whole run, when it began


NOT_JUDGED = Band()


@frozen
class Watch:
    """Everything remembered. Times on the chamber clock in s, temperatures in degC; None: not running."""

    smooth_c: float | None = None
    trail: Trail = ()
    push: Push | None = None
    budget: Budget | None = None
    off: Off | None = None
    band: Band = NOT_JUDGED
    still: Still | None = None
    duty: float = 0.0  # the share of power when the heater was last on
    quiet_until_s: float = -1.0e9  # the door: until then only what is too hot is judged

    @property
    def below_ks(self) -> float:
        """Kelvin-seconds below the band; above 0 the step's clock waits."""
        return self.band.below_ks


FRESH = Watch()


class Seen(NamedTuple):
    """What one tick shows. ``hot_c`` counts for the setpoint's limit; ``duty`` is what control asks, 0 when vetoed."""

    air_c: float
    hot_c: float
    room_c: float
    setpoint_c: float | None
    target_c: float | None  # where a ramped setpoint is going to
    duty: float
    heater_on: bool
    fan_on: bool
    heated_s: float  # the heater's time on in this run
    door_open: bool
    door_fitted: bool


def follow(watch: Watch, limits: Limits, plant: Plant | None, seen: Seen, *, dt_s: float, now: float) -> Watch:
    """Return the watch after a tick with a good reading of the air."""
    quiet_until_s = now + DOOR_REST_S if seen.door_open else watch.quiet_until_s
    budget = _spent(watch.budget, limits, plant, seen, dt_s)
    off = _turned_off(watch.off, heater_on=seen.heater_on, fan_on=seen.fan_on, now=now)
    if now < quiet_until_s:
        band = _band(watch.band, (), seen.air_c, limits, seen, quiet=True, dt_s=dt_s, now=now)
        return Watch(budget=budget, off=_forgotten(off), band=band, quiet_until_s=quiet_until_s)
    smooth_c = (
        seen.air_c
        if watch.smooth_c is None
        else watch.smooth_c + (seen.air_c - watch.smooth_c) * min(1.0, dt_s / SMOOTH_S)
    )
    trail = watch.trail
    if not trail or now - trail[-1][0] >= TRAIL_EVERY_S:
        reach_s = now - max(limits.response_s, limits.reversed_s) - TRAIL_EVERY_S
        trail = (*[t for t in trail if t[0] >= reach_s], (now, smooth_c))
    push = watch.push
    if not seen.heater_on or seen.duty < FULL_DUTY:
        push = None
    elif push is None:
        push = Push(now, smooth_c, min(watch.duty, FULL_DUTY))
    if off is not None and now - off.since_s >= off_wait_s(limits, plant):
        off = _levelled(off, seen, dt_s)
    band = _band(watch.band, trail, smooth_c, limits, seen, quiet=False, dt_s=dt_s, now=now)
    budget = _tested(budget, trail, limits, seen, smooth_c, now)
    duty = seen.duty if seen.heater_on else watch.duty
    return Watch(smooth_c, trail, push, budget, off, band, _moved(watch.still, limits, seen, now), duty, quiet_until_s)


def blind(watch: Watch, *, heater_on: bool, fan_on: bool, now: float) -> Watch:
    """Return the watch after a tick without a good reading: where the air is has to be found anew.

    The level that it must not rise above stands: the air may have fallen meanwhile and come back.
    """
    off = _turned_off(watch.off, heater_on=heater_on, fan_on=fan_on, now=now)
    return Watch(budget=watch.budget, off=off, band=watch.band, quiet_until_s=watch.quiet_until_s)


def _spent(budget: Budget | None, limits: Limits, plant: Plant | None, seen: Seen, dt_s: float) -> Budget | None:
    """F8: power given below the setpoint. At full duty all of it counts, else what is more than the air needs to stay."""
    if seen.setpoint_c is None or seen.air_c >= seen.setpoint_c:
        return None
    if budget is not None and budget.test_c is not None:
        # Without heat it fell, so the heat had arrived: a heater at its limit, to be looked at again later.
        fell = seen.air_c <= budget.test_c - 1.0
        return Budget(-2.0 * limits.no_response_power_s, seen.air_c) if fell else budget
    full = seen.duty >= FULL_DUTY
    if not full and seen.air_c >= seen.setpoint_c - NEAR_TARGET_K:
        return None
    if budget is None or seen.air_c >= budget.lowest_c + 1.0:
        return Budget(0.0, seen.air_c)
    spent_s = budget.spent_s + (dt_s if seen.heater_on else 0.0)
    if not full:
        spent_s -= dt_s * (seen.air_c - seen.room_c) / (WEAK_GAIN_K if plant is None else WEAK_MAINS * plant.gain_k)
        spent_s = max(spent_s, min(budget.spent_s, 0.0))
    return Budget(spent_s, min(budget.lowest_c, seen.air_c))


def _tested(
    budget: Budget | None, trail: Trail, limits: Limits, seen: Seen, smooth_c: float, now: float
) -> Budget | None:
    """F8: begin to withhold heat where hot air neither rises nor falls at full power: is it the heat that keeps it there?"""
    if budget is None or budget.test_c is not None or budget.spent_s < limits.no_response_power_s:
        return budget
    minute_ago_c = value_before(trail, now - 60.0)
    if seen.air_c < seen.room_c + HOT_K or minute_ago_c is None or smooth_c < minute_ago_c - MOVES_K:
        return budget
    return Budget(budget.spent_s, budget.lowest_c, smooth_c)


def _turned_off(off: Off | None, *, heater_on: bool, fan_on: bool, now: float) -> Off | None:
    """Since when the heater is off. A fan that starts or stops moves warm air to the sensor: then the wait begins anew."""
    if heater_on:
        return None
    return Off(now, fan_on) if off is None or off.fan_on is not fan_on else off


def _forgotten(off: Off | None) -> Off | None:
    return off if off is None or off.level_c is None else Off(off.since_s, off.fan_on)


def _levelled(off: Off, seen: Seen, dt_s: float) -> Off:
    """F12: the level begins when the after-heat is over, follows the air down, and up no faster than a room warms.

    Where a door switch is fitted it follows down at once. Without one, air may fall and come back because somebody
    opened the door: then it follows in about ten minutes.
    """
    level_c, air_c = off.level_c, seen.air_c
    if level_c is None or (air_c <= level_c and seen.door_fitted):
        level_c = air_c
    elif air_c < level_c:
        level_c += (air_c - level_c) * min(1.0, dt_s / LEVEL_FALLS_S)
    else:
        level_c = min(air_c, level_c + LEVEL_RISES_K_PER_S * dt_s)
    return Off(off.since_s, off.fan_on, level_c)


def _band(
    band: Band, trail: Trail, smooth_c: float, limits: Limits, seen: Seen, *, quiet: bool, dt_s: float, now: float
) -> Band:
    """F9 and F10: how far, and for how long, the air is below or above its setpoint."""
    setpoint_c, air_c = seen.setpoint_c, seen.air_c
    if setpoint_c is None:
        return NOT_JUDGED
    was_c, target_c = band.setpoint_c, seen.target_c
    low_c = high_c = setpoint_c
    if target_c is not None and target_c != setpoint_c:  # on a ramp, air ahead of its setpoint is on its way
        low_c, high_c = min(setpoint_c, target_c), max(setpoint_c, target_c)
    over = seen.hot_c > setpoint_c + limits.over_setpoint_k
    below = air_c < low_c - limits.below_band_k
    if setpoint_c == was_c and not (quiet or over or below) and band.calm:
        return band  # nearly always
    minute_ago_c, just_now_c = value_before(trail, now - 60.0), value_before(trail, now - TRAIL_EVERY_S)
    # F9: kelvin-seconds below, after having been in; not while the air is on its way up, nor after the setpoint was raised.
    raised = was_c is None or setpoint_c > was_c + 1.0
    been_in = (band.been_in and not raised and not quiet) or abs(setpoint_c - air_c) <= NEAR_TARGET_K
    below_ks = 0.0
    if been_in and below:
        lower_c = min((c for c in (minute_ago_c, just_now_c) if c is not None), default=smooth_c)
        rising = smooth_c > lower_c + MOVES_K
        below_ks = band.below_ks if rising else band.below_ks + (low_c - air_c) * dt_s
    # F10: seconds above; only after having once come down to the setpoint, and not while the air is on its way down.
    armed = not over or (band.armed and was_c is not None and setpoint_c >= was_c)
    if not over or not armed:
        return Band(setpoint_c, been_in, below_ks, armed)
    falling = minute_ago_c is not None and smooth_c < minute_ago_c - MOVES_K
    counts = not falling and seen.hot_c > high_c + limits.over_setpoint_k
    over_since_s = now if band.over_since_s is None else band.over_since_s
    return Band(setpoint_c, been_in, below_ks, True, over_since_s, band.over_s + dt_s if counts else band.over_s)


def _moved(still: Still | None, limits: Limits, seen: Seen, now: float) -> Still:
    air_c = seen.air_c
    if still is None or abs(air_c - still.value_c) > limits.stuck_k + 1e-9:
        return Still(air_c, now, air_c, now, seen.heated_s)
    return still if air_c == still.same_c else Still(still.value_c, still.since_s, air_c, now, still.heated_s)


def value_before(trail: Trail, at_s: float) -> float | None:
    """Return the newest value of the trail that is at least as old as ``at_s``, or None."""
    for t, value in reversed(trail):
        if t <= at_s:
            return value
    return None


def stands_still(watch: Watch, limits: Limits, plant: Plant | None, *, heated_s: float, now: float) -> str:
    """F6: return 'stuck', 'doubtful' (take the heat away and see), or '' for a reading that is alive.

    A quiet sensor in a calm chamber may show the same value for long. So the doubt is put to the test: without heat
    the air must fall, and a reading that moves is alive.
    """
    still, off = watch.still, watch.off
    if still is None or now - still.since_s < 0.5 * limits.stuck_s:
        return ""
    began_s = off.since_s if off is not None else now
    given_s, over_s = heated_s - still.heated_s, began_s - still.since_s
    if given_s <= 0.0 or over_s <= 0.0:
        return ""
    # The heater was on while the reading stood still, and is off now: by how much must the air have fallen?
    missing_s = (now - began_s - after_heat_s(plant)) * given_s / over_s
    need_s = MISSED_S if plant is None else 5.0 * limits.stuck_k * plant.time_constant_s / plant.gain_k
    if missing_s >= need_s and now - still.since_s >= limits.stuck_s:
        return "stuck"
    return "doubtful" if now - still.same_s >= 0.5 * limits.stuck_s else ""


def no_response(watch: Watch, limits: Limits, plant: Plant | None, *, room_c: float, now: float) -> bool:
    """F7: full power, and the air does not answer."""
    push, setpoint_c, air_c = watch.push, watch.band.setpoint_c, watch.smooth_c
    if push is None or setpoint_c is None or air_c is None:
        return False
    push_s = now - push.since_s
    if push_s < SETTLED * limits.response_s or _like_a_door(watch.trail, air_c, now):
        return False
    # What tuning found is how the air answers at first; walls and meat follow later and make it slower.
    if plant is not None and push_s < SETTLED * limits.response_s + TRAIL_EVERY_S:
        return _too_little(watch, push, plant, air_c=air_c, room_c=room_c, now=now)
    # Not near the target, and not on the second half of a long way: there a weak but healthy heater is slow.
    if setpoint_c - air_c <= max(FAR_FROM_TARGET_K, 0.5 * (setpoint_c - push.from_c)):
        return False
    from_c = value_before(watch.trail, now - limits.response_s)
    return from_c is not None and air_c - from_c < limits.response_k


def _like_a_door(trail: Trail, air_c: float, now: float) -> bool:
    """Say whether the air rises now, or falls as only an open door makes it fall."""
    just_now_c, minute_ago_c = value_before(trail, now - TRAIL_EVERY_S), value_before(trail, now - 60.0)
    if just_now_c is not None and air_c > just_now_c + MOVES_K:
        return True
    return minute_ago_c is not None and air_c < minute_ago_c - DOOR_FALLS_K


def _too_little(watch: Watch, push: Push, plant: Plant, *, air_c: float, room_c: float, now: float) -> bool:
    """Compare with the plant that was found by tuning: half of the rise that the power on top of what held before gives.

    Half, less a little: with weak mains even a healthy heater gives no more than two thirds of it, and of that three
    quarters are asked for. Wet meat swallows power: what held before tells how much.
    """
    window_s = max(now - push.since_s - plant.delay_s, SHORTEST_WINDOW_S)
    from_c = value_before(watch.trail, now - window_s)
    if from_c is None:
        return False
    held = max(push.share, (from_c - room_c) / plant.gain_k)
    power_k = 0.75 * (WEAK_MAINS - held) * plant.gain_k
    need_k = power_k * (1.0 - exp(-window_s / plant.time_constant_s))
    return need_k >= 1.0 and air_c - from_c < need_k - MOVES_K


def falls_at_full_power(watch: Watch, limits: Limits, *, now: float) -> bool:
    """F13: the air falls at full power, and goes on falling: no door that was opened and shut again."""
    push, air_c = watch.push, watch.smooth_c
    if push is None or air_c is None or now - push.since_s < limits.reversed_s * 2.0 / 3.0:
        return False
    minute_ago_c = value_before(watch.trail, now - 60.0)
    if minute_ago_c is None or air_c > minute_ago_c - 0.5:
        return False
    before_c = value_before(watch.trail, now - limits.reversed_s)
    from_c = push.from_c if before_c is None or now - push.since_s < limits.reversed_s else before_c
    return from_c - air_c > limits.reversed_k


def spent_in_vain(watch: Watch, limits: Limits, plant: Plant | None, *, now: float) -> str:
    """F8: return 'vain', 'doubtful' (take the heat away and see), or '' while there is budget left."""
    budget, off = watch.budget, watch.off
    if budget is None or budget.spent_s < limits.no_response_power_s:
        return ""
    if budget.test_c is None:
        return "vain"
    return "vain" if off is not None and now - off.since_s >= after_heat_s(plant) + TEST_S else "doubtful"


def rises_while_off(watch: Watch, limits: Limits, *, air_c: float) -> bool:
    """F12: the heater is off, long enough for its last heat to have arrived, and the air still rises."""
    off = watch.off
    return off is not None and off.level_c is not None and air_c > off.level_c + limits.off_rise_k


def after_heat_s(plant: Plant | None) -> float:
    """Return how long after switching off the last heat still arrives, s."""
    return UNTUNED_DELAY_S if plant is None else plant.delay_s


def off_wait_s(limits: Limits, plant: Plant | None) -> float:
    """Return how long after switching off a further rise is the chamber's own after-heat, s."""
    return max(limits.off_rise_s, after_heat_s(plant))
