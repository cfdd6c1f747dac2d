"""The relay test: swing the air around a setpoint, and read from the swing what kind of body the chamber is.

``begin`` and ``advance`` run the test, tick by tick; ``identify`` works on the finished record and may take a second,
so it belongs outside the control loop. What the room is at has to be known: a symmetric swing alone does not tell
how strong the heater is, only how fast the air rises and falls.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from dryward.core.chamber import Chamber

ROOM_HIGH_C = 32.0  # a chamber warmer than this has not rested
LEAST_ABOVE_ROOM_K = 10.0  # nearer to it, an error of the room's sensor would be an error of the gain
ANSWER_S, ANSWER_K = 900.0, 2.0  # full power for so long has to give so much
FAR_K = 20.0  # so far over the setpoint, the test has lost the chamber
STEADY_SHARE = 0.02  # share of heat in three swings that counts as the same
MOST_SWINGS = 16
LONGEST_HALF_S = 7200.0
LONGEST_WARM_S = 6 * 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayTest:
    """A relay test in progress. Times in s since ``began_s``; the heater starts on and turns at each of ``turns_s``."""

    setpoint_c: float
    half_band_k: float
    room_c: float
    swings: int
    began_s: float
    outcome: Literal["running", "done", "refused"] = "running"
    reason: str = ""
    heater_on: bool = True
    turns_s: tuple[float, ...] = ()
    times_s: tuple[float, ...] = ()
    readings_c: tuple[float, ...] = ()


def begin(
    chamber: Chamber, *, setpoint_c: float, air_c: float | None, room_c: float | None, door_open: bool, loaded: bool, loaded_allowed: bool, now: float
) -> RelayTest:  # fmt: skip
    """Return a test that runs, or one that is refused with every reason in one text.

    ``room_c`` None: no room sensor; then the chamber has to have rested, and its own air tells the room.
    """
    reasons = []
    if all(output.name != "heater" for output in chamber.outputs):
        reasons.append("there is no heater output; add one to the chamber's outputs")
    if door_open:
        reasons.append("the door is open; shut it")
    if loaded and not loaded_allowed:
        reasons.append(
            "meat is loaded and the test swings the air for hours; take it out, or say with --meat-may-stay that you know"
        )
    if air_c is None:
        reasons.append("there is no fresh air reading; see 'dryward check'")
    elif room_c is None and air_c > ROOM_HIGH_C:
        reasons.append(
            f"the chamber is still at {air_c:.1f} degC and there is no room sensor; let it cool to the room with the door open"
        )
    elif air_c > setpoint_c:
        reasons.append(
            f"the chamber is still at {air_c:.1f} degC, hotter than the test setpoint {setpoint_c:g} degC; let it cool below that"
        )
    room = room_c if room_c is not None else air_c if air_c is not None else 20.0
    top_c = chamber.limits.max_air_c - chamber.limits.over_setpoint_k
    if setpoint_c > top_c:
        reasons.append(
            f"the test setpoint {setpoint_c:g} degC leaves no room for the swing; at most {top_c:g} degC in this chamber"
        )
    if setpoint_c < room + LEAST_ABOVE_ROOM_K:
        reasons.append(
            f"the test setpoint {setpoint_c:g} degC is too near the room at {room:.1f} degC; at least {LEAST_ABOVE_ROOM_K:g} K above it"
        )
    return RelayTest(
        setpoint_c=setpoint_c, half_band_k=0.5, room_c=room, swings=4, began_s=now, heater_on=not reasons,
        outcome="refused" if reasons else "running", reason="; ".join(reasons),
    )  # fmt: skip


def advance(
    test: RelayTest, air_c: float | None, now: float, *, sampled_s: float | None = None, door_open: bool = False
) -> tuple[bool, RelayTest]:
    """Return whether heat is wanted and the test one tick on. ``sampled_s``: when the reading was taken, if known."""
    if test.outcome != "running":
        return False, test
    t = now - test.began_s
    if door_open:
        return _refuse(test, "the door was opened; shut it and begin again")
    if air_c is None:
        # The guard takes the heat away with the reading, so the swing is spoilt.
        return _refuse(test, "the air reading was lost in the middle of a swing; see 'dryward check' and begin again")
    reason = _unbelievable(test, air_c, t)
    if reason:
        return _refuse(test, reason)
    on, turns = test.heater_on, test.turns_s
    if air_c > test.setpoint_c + test.half_band_k:
        on = False
    elif air_c < test.setpoint_c - test.half_band_k:
        on = True
    if on is not test.heater_on:
        turns = (*turns, t)
    times, readings = test.times_s, test.readings_c
    taken = t if sampled_s is None else sampled_s - test.began_s
    if not times or taken > times[-1]:
        times, readings = (*times, taken), (*readings, air_c)
    done = on is not test.heater_on and _steady(turns, test.swings)
    return on and not done, replace(
        test, outcome="done" if done else "running", heater_on=on, turns_s=turns, times_s=times, readings_c=readings
    )


def _steady(turns: tuple[float, ...], swings: int) -> bool:
    """Return whether the last swings repeat each other, or so many have passed that they never will.

    While walls still warm, the share of time with heat falls from swing to swing. The first turn only ends the warming.
    """
    whole = (len(turns) - 1) // 2
    if whole < swings or len(turns) % 2 == 0:
        return False
    shares = [(turns[i] - turns[i - 1]) / (turns[i] - turns[i - 2]) for i in (-1, -3, -5)]
    return max(shares) - min(shares) < STEADY_SHARE or whole >= MOST_SWINGS


def _refuse(test: RelayTest, reason: str) -> tuple[bool, RelayTest]:
    return False, replace(test, outcome="refused", reason=reason, heater_on=False)


def _unbelievable(test: RelayTest, air_c: float, t: float) -> str:
    """Return what is wrong with the chamber's answer, or an empty text."""
    if air_c > test.setpoint_c + FAR_K:
        return f"the air ran to {air_c:.1f} degC, {FAR_K:g} K over the setpoint; is the sensor in the air stream, is the fan turning?"
    if not test.turns_s:
        rise_k = air_c - test.readings_c[0] if test.readings_c else 0.0
        if t > ANSWER_S and rise_k < ANSWER_K:
            return (
                f"full power for {t:.0f} s raised the air by {rise_k:.1f} K only; look at heater, fuse and sensor place"
            )
        if t > LONGEST_WARM_S:
            return f"the air has not reached {test.setpoint_c:g} degC in {t / 3600.0:.0f} h of full power; test at a lower setpoint"
    elif t - test.turns_s[-1] > LONGEST_HALF_S:
        return f"half a swing took longer than {LONGEST_HALF_S / 3600.0:.0f} h; a chamber so slow needs no tuning"
    return ""
