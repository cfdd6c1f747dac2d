"""From the swing of a relay test to the plant: closed forms for the first guess, then least squares on every reading.

Closed forms (first order with dead time under a relay, exact). With ``y0`` the level at no power (the room), ``y1`` at
full power and the relay turning at ``high`` and ``low``::

    y_max = y1 + (high - y1) e^(-L/tau)      t_on  = tau ln((y1 - y_min) / (y1 - y_max))
    y_min = y0 + (low - y0) e^(-L/tau)       t_off = tau ln((y_max - y0) / (y_min - y0))

A sensor that lags rounds the swing off, and noise widens it. The second stage therefore fits dead time, time constant
and lag to the whole swing; for each trial of these the rise and what was left of the start follow by linear algebra.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, exp, hypot, inf, log, pi, sqrt
from statistics import fmean

from dryward.core.chamber import Plant
from dryward.core.frozen import frozen
from dryward.core.tuning import RelayTest
from dryward.science.fit import FitError, fit_best
from dryward.science.numerics import SingularError, find_root, solve_least_squares

UNEXPLAINED = 0.02  # of the swing, beyond the noise: more than one time constant is at work
MOST_READINGS = 500  # the fit takes every n-th reading of a longer swing: more tell nothing new


class TuningError(ValueError):
    """The record of a relay test does not show a plant. The text says what was seen and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """A relay's limit cycle: highest and lowest reading, time with the heater on and off."""

    high_c: float
    low_c: float
    on_s: float
    off_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What a relay test found. ``misfit_k`` is the root mean square of what the plant does not explain."""

    plant: Plant
    misfit_k: float
    noise_k: float  # of the readings themselves, from their second differences
    swing_k: float  # height of the swing
    uneven: float  # largest change of the swing's period over its mean: 0 is steady


def swing_of(plant: Plant, *, room_c: float, setpoint_c: float, half_band_k: float) -> Swing:
    """Return the limit cycle of a plant without lag under a relay, by the closed forms."""
    decay = exp(-plant.dead_time_s / plant.time_constant_s)
    top_c = room_c + plant.gain_k
    high_c = top_c + (setpoint_c + half_band_k - top_c) * decay
    low_c = room_c + (setpoint_c - half_band_k - room_c) * decay
    return Swing(
        high_c=high_c, low_c=low_c,
        on_s=plant.time_constant_s * log((top_c - low_c) / (top_c - high_c)),
        off_s=plant.time_constant_s * log((high_c - room_c) / (low_c - room_c)),
    )  # fmt: skip


def plant_of(swing: Swing, *, room_c: float, turn_off_c: float) -> Plant:
    """Return the plant that swings like this, by the closed forms inverted; dead time and lag come as one dead time.

    Raises TuningError when no first-order plant swings like this.
    """
    if not room_c < swing.low_c < turn_off_c < swing.high_c or swing.on_s <= 0.0 or swing.off_s <= 0.0:
        raise TuningError(
            f"the swing from {swing.low_c:.1f} to {swing.high_c:.1f} degC is not around {turn_off_c:.1f} degC "
            f"and above the room at {room_c:.1f} degC; check the room reading, then tune again"
        )
    tau_s = swing.off_s / log((swing.high_c - room_c) / (swing.low_c - room_c))
    rest = exp(-swing.on_s / tau_s)
    top_c = (swing.high_c - swing.low_c * rest) / (1.0 - rest)
    return Plant(
        gain_k=top_c - room_c,
        time_constant_s=tau_s,
        dead_time_s=tau_s * log((top_c - turn_off_c) / (top_c - swing.high_c)),
    )


def identify(test: RelayTest) -> Found:
    """Return the plant that a finished relay test shows.

    Raises TuningError when the record is not a steady swing or no believable plant explains it.
    """
    if test.outcome != "done":
        if test.outcome == "running":
            raise TuningError("the relay test is not over yet; 'dryward status' shows how it goes")
        raise TuningError(f"the relay test was broken off: {test.reason}")
    turns = test.turns_s[-2 * test.swings - 1 :]  # the last swings; the first of these turns was off
    swing = _swing_in(test, turns)
    guess = plant_of(swing, room_c=test.room_c, turn_off_c=test.setpoint_c + test.half_band_k)
    kept = [
        (t - turns[0], y - test.room_c) for t, y in zip(test.times_s, test.readings_c, strict=True) if t >= turns[0]
    ]
    noise_k = _noise([y for _, y in kept])
    kept = kept[:: 1 + len(kept) // MOST_READINGS]
    record = Record(kept, [(t - turns[0], index % 2 == 1) for index, t in enumerate(turns)])
    plant, misfit_k = _fitted(record, guess, free_rest=False)
    if misfit_k > noise_k + UNEXPLAINED * (swing.high_c - swing.low_c):
        # Walls that have warmed pull at the air like a warmer room: let the swing say how warm.
        fast, misfit_k = _fitted(record, guess, free_rest=True)
        plant = _as_it_swings(fast, swing, held_k=test.setpoint_c - test.room_c)
    periods = [b - a for a, b in zip(turns, turns[2:], strict=False)]
    uneven = (max(periods) - min(periods)) / fmean(periods)
    return Found(plant=plant, misfit_k=misfit_k, noise_k=noise_k, swing_k=swing.high_c - swing.low_c, uneven=uneven)


def _as_it_swings(fast: Plant, swing: Swing, *, held_k: float) -> Plant:
    """Return a plant of one time constant for a chamber of several: right at the swing's own frequency, and at rest.

    Of such a chamber the swing tells neither time constant nor lag for sure, only how large and how late the answer is at
    this frequency. Lateness beyond that of a straight rise is shared evenly between dead time and lag; the share of time
    with heat tells the gain that holds the setpoint.
    """
    w = 2.0 * pi / (swing.on_s + swing.off_s)
    lags = (1.0 + 1j * w * fast.time_constant_s) * (1.0 + 1j * w * fast.lag_s)
    size = fast.gain_k / abs(lags)
    late = w * fast.dead_time_s + atan(w * fast.time_constant_s) + atan(w * fast.lag_s) - 0.5 * pi
    each = max(find_root(lambda x: x + atan(x) - max(late, 0.05), 0.0, 4.0 * pi) / w, 0.5 * fast.dead_time_s)
    speed = size * w * hypot(1.0, w * each)
    gain_k = held_k * (swing.on_s + swing.off_s) / swing.on_s
    return Plant(gain_k=gain_k, time_constant_s=gain_k / speed, dead_time_s=each, lag_s=each)


@frozen
class Record:
    """Readings above the room and the heater's turns, both from the first turn on; before it the heater was on."""

    readings: list[tuple[float, float]]
    turns: list[tuple[float, bool]]


def _fitted(record: Record, guess: Plant, *, free_rest: bool) -> tuple[Plant, float]:
    """Return the best plant and the root mean square it leaves. ``free_rest``: the level at no power is found as well."""

    def misfits(logs: Sequence[float]) -> list[float]:
        explained = _explain(record, *(exp(min(value, 12.0)) for value in logs), free_rest=free_rest)
        return explained[1] if explained else [inf] * len(record.readings)

    delay_s = guess.dead_time_s
    taus = (1.0, 0.3) if free_rest else (1.0,)
    starts = [
        (log(guess.time_constant_s * tau), log(delay_s * part), log(delay_s * (1.0 - part)))
        for tau in taus
        for part in (0.6, 0.9)
    ]
    try:
        best = fit_best(misfits, starts, rounds=30)
    except FitError as error:
        raise TuningError(
            "the swing fits no plant with one time constant; is the fan steady, the sensor in the air stream?"
        ) from error
    tau_s, dead_s, lag_s = (exp(min(value, 12.0)) for value in best.parameters)
    explained = _explain(record, tau_s, dead_s, lag_s, free_rest=free_rest)
    # With a free rest the swing may look like a straight rise and fall: gain and time constant then grow together.
    if explained is None or not 1.0 < explained[0] < (inf if free_rest else 2000.0):
        raise TuningError("the swing fits no heater that warms the air; are sensors or plugs swapped?")
    return Plant(gain_k=explained[0], time_constant_s=tau_s, dead_time_s=dead_s, lag_s=lag_s), best.rmse(
        len(record.readings)
    )


def _swing_in(test: RelayTest, turns: tuple[float, ...]) -> Swing:
    """Return the mean swing: the extremes after each turn, the times between turns."""
    highs, lows, ons, offs = [], [], [], []
    for index in range(len(turns) - 1):
        a, b = turns[index], turns[index + 1]
        part = [y for t, y in zip(test.times_s, test.readings_c, strict=True) if a <= t < b]
        if len(part) < 4:
            raise TuningError(
                f"the swing turns every {b - a:.0f} s, faster than the sensor tells: its reading jumps (look at cable and supply), or it sits too near the heater"
            )
        if index % 2 == 0:
            highs.append(max(part))
            offs.append(b - a)
        else:
            lows.append(min(part))
            ons.append(b - a)
    return Swing(high_c=fmean(highs), low_c=fmean(lows), on_s=fmean(ons), off_s=fmean(offs))


def _noise(values: list[float]) -> float:
    """Return the noise of single readings: second differences hold little of a smooth swing, and six times the variance."""
    return sqrt(fmean((a - 2.0 * b + c) ** 2 for a, b, c in zip(values, values[1:], values[2:], strict=False)) / 6.0)


def _explain(
    record: Record, tau_s: float, dead_s: float, lag_s: float, *, free_rest: bool
) -> tuple[float, list[float]] | None:
    """Return rise and misfits of the best plant with these times; None where two of them cannot be told apart.

    Shapes are mixed: the answer to the heater from rest, what remains of the air's and of the sensor's start, and a level.
    """
    if lag_s > 0.5 * tau_s:
        return None
    share = tau_s / (tau_s - lag_s)
    coming = [(t + dead_s, on) for t, on in record.turns]
    at, level = 0.0, 1.0
    air = sensor = 0.0
    rows = []
    index = 0
    for t, _ in record.readings:
        while True:
            change = index < len(coming) and coming[index][0] <= t
            to = coming[index][0] if change else t
            decay, settle = exp((at - to) / tau_s), exp((at - to) / lag_s)
            mixed = (air - level) * share
            sensor = level + mixed * decay + (sensor - level - mixed) * settle
            air = level + (air - level) * decay
            at = to
            if not change:
                break
            level = 1.0 if coming[index][1] else 0.0
            index += 1
        row = [sensor, exp(-t / tau_s), exp(-t / lag_s)]
        rows.append([*row, 1.0] if free_rest else row)
    weights = _weights(rows, [y for _, y in record.readings])
    if weights is None:
        return None
    return weights[0], [
        sum(w * x for w, x in zip(weights, row, strict=True)) - y
        for row, (_, y) in zip(rows, record.readings, strict=True)
    ]


def _weights(rows: list[list[float]], right: list[float]) -> list[float] | None:
    """Return the least-squares weights of the columns; the normal equations do for a few scaled shapes."""
    columns = list(zip(*rows, strict=True))
    scale = [hypot(*column) or 1.0 for column in columns]
    normal = [
        [sum(x * y for x, y in zip(p, q, strict=True)) / (scale[i] * scale[j]) for j, q in enumerate(columns)]
        for i, p in enumerate(columns)
    ]
    sums = [sum(x * y for x, y in zip(p, right, strict=True)) / scale[i] for i, p in enumerate(columns)]
    try:
        return [w / s for w, s in zip(solve_least_squares(normal, sums), scale, strict=True)]
    except SingularError:
        return None
