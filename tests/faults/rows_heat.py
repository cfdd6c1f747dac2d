"""The rows F4 to F14 as experiments: readings, heat that does not show, too hot, swapped, in doubt.

Each function takes a state and a chamber and returns what was measured, or why the fault cannot be in that state.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf

from dryward.core.chamber import Limits
from dryward.core.progress import target_air_c
from dryward_hardware.twin.faults import Fault
from tests.faults.cell import ONE_TICK_KS, SAMPLE_S, TICK_S, TUNED, Cell, Experiment, aftermath, heats, noticed, watch
from tests.faults.stand import Fit, Model, with_limits
from tests.faults.states import ROOM_C, Case, brought, cool

# --- F4, F5: the reading


def missing(case: Case, model: Model, kind: str = "sensor-silent") -> Cell | str:
    """F4: nothing, or only failures, from the air's sensor."""
    stand = brought(case, model, fit=TUNED, limits=Limits(), faults=(Fault(at_s=0.0, kind=kind),))  # type: ignore[arg-type]
    keys = ("air-lost",) if heats(case) else ("sensor-missing",)
    took_s, found, wrong = watch(stand, keys, longest_s=90.0, off_within_s=10.0 + TICK_S)
    return Cell(took=took_s, limit=60.0, noticed=found, wrong=wrong)


def failing(case: Case, model: Model) -> Cell | str:
    """F4: every read fails."""
    return missing(case, model, "sensor-failed")


def never_there(case: Case, model: Model) -> Cell | str:
    """F4: no reading from the very start."""
    if case.name not in ("cold start", "ramp"):
        return "the start only"
    stand = brought(case, model, fit=TUNED, limits=Limits(), faults=(Fault(at_s=0.0, kind="sensor-silent"),), at_s=2)
    took_s, found, wrong = watch(stand, ("air-lost",), longest_s=90.0, off_within_s=10.0 + TICK_S)
    return Cell(took=took_s, limit=60.0, noticed=found, wrong=wrong)


def impossible(*faults: Fault) -> Experiment:
    """F5: samples that cannot be true: heat off after three, a trip after a minute."""

    def experiment(case: Case, model: Model) -> Cell | str:
        stand = brought(case, model, fit=TUNED, limits=Limits(), faults=faults)
        believed = stand.state.sensors[0].value
        keys = ("air-lost",) if heats(case) else ("sensor-missing",)
        took_s, found, wrong = watch(stand, keys, longest_s=90.0, off_within_s=3 * SAMPLE_S + TICK_S)
        after = stand.state.sensors[0].value
        if believed is None or after is None or abs(after - believed) > 0.5 + 2.0 * (case.name == "cold start"):
            wrong = wrong or f"{after} was believed"
        return Cell(took=took_s, limit=60.0, noticed=found, wrong=wrong)

    return experiment


def jumped(case: Case, model: Model) -> Cell | str:
    """F5: the air's sensor jumps down and stays there: not believed at once, then seen as air that has fallen."""
    if not heats(case):
        return "no heat to lose"
    if case.name == "cold start":
        return "F13"
    stand = brought(
        case, model, fit=TUNED, limits=Limits(), faults=(Fault(at_s=0.0, kind="sensor-offset", value=-25.0),)
    )
    keys = ("below-band-long", "no-heat-near-target", "no-heat-response", "air-disagrees", "over-limit")
    took_s, found, wrong = watch(stand, keys, longest_s=400.0)
    return Cell(took=took_s, limit=180.0, noticed=found, wrong=wrong)


# --- F6 to F9: heat that does not show


def stuck(case: Case, model: Model) -> Cell | str:
    """F6: the air's sensor repeats its last value."""
    if not heats(case):
        return "no heat to answer"
    stand = brought(case, model, fit=TUNED, limits=Limits(), faults=(Fault(at_s=0.0, kind="sensor-frozen"),))
    took_s, found, wrong = watch(stand, ("air-stuck", "no-heat-response", "no-heat-near-target"), longest_s=700.0)
    return Cell(took=took_s, limit=600.0, noticed=found, wrong=wrong)


def stuck_by_solid_state(case: Case, model: Model) -> Cell | str:
    """F6: the same with a solid-state relay, whose short cycles leave no ripple."""
    if not heats(case):
        return "no heat to answer"
    fit = replace(TUNED, cycle_s=4.0)
    stand = brought(case, model, fit=fit, limits=Limits(), faults=(Fault(at_s=0.0, kind="sensor-frozen"),))
    took_s, found, wrong = watch(stand, ("air-stuck", "no-heat-response", "no-heat-near-target"), longest_s=700.0)
    return Cell(took=took_s, limit=600.0, noticed=found, wrong=wrong)


def dead_heater(*, tuned: bool, at_s: int | None = None) -> Experiment:
    """F7: full power into a dead heater."""

    def experiment(case: Case, model: Model) -> Cell | str:
        if case.name != "cold start":
            return "no full power: F8, F9"
        fault = Fault(at_s=0.0, kind="heater-dead")
        stand = brought(case, model, fit=Fit(tuned=tuned), limits=Limits(), faults=(fault,), at_s=at_s)
        took_s, found, wrong = watch(stand, ("no-heat-response",), longest_s=300.0)
        return Cell(took=took_s, limit=180.0, noticed=found, wrong=wrong)

    return experiment


def fallen_out_in_a_cool_step(case: Case, model: Model) -> Cell | str:
    """F8: the sensor lies in the room, and the program wants only a little more. In seconds of full power."""
    if not heats(case):
        return "no heat"
    fit = replace(TUNED, limit=False)
    stand = brought(cool(case), model, fit=fit, limits=Limits(), faults=(Fault(at_s=0.0, kind="sensor-fallen-out"),))
    given_s, found = 0.0, ""
    keys = ("no-heat-near-target", "no-heat-response", "below-band-long")
    for _ in range(6000):
        stand.tick()
        given_s += stand.heating
        if found := noticed(stand, keys):
            return Cell(took=given_s, limit=300.0 + SAMPLE_S, unit="s on", noticed=found, wrong=aftermath(stand, found))
    return Cell(took=inf, limit=300.0, unit="s on", wrong=f"nothing after {given_s:.0f} s of heat")


def falls_out_of_band(case: Case, model: Model) -> Cell | str:
    """F9: the heater dies where the air had been in its band. In kelvin-seconds below it, as the test itself counts."""
    if not heats(case) or case.name == "cold start":
        return "not in its band yet" if heats(case) else "no heat"
    limits = with_limits(no_response_power_s=7000.0, response_s=3000.0, reversed_k=100.0)
    stand = brought(case, model, fit=TUNED, limits=limits, faults=(Fault(at_s=0.0, kind="heater-dead"),))
    below_ks, alarm_ks = 0.0, inf
    for _ in range(4000):
        stand.tick()
        air_c, setpoint_c = stand.state.sensors[0].good, stand.state.control.setpoint_c
        if air_c is not None and setpoint_c is not None:
            below_ks = below_ks + setpoint_c - air_c if air_c < setpoint_c - 5.0 else 0.0
        if alarm_ks == inf and noticed(stand, ("below-band",)):
            alarm_ks = below_ks
        if noticed(stand, ("below-band-long",)):
            late = "" if below_ks <= 1800.0 + ONE_TICK_KS else f"tripped only at {below_ks:.0f} K s"
            return Cell(
                took=alarm_ks,
                limit=600.0 + ONE_TICK_KS,
                unit="K s",
                noticed="below-band",
                wrong=late or aftermath(stand, "below-band-long"),
            )
    return Cell(took=alarm_ks, limit=600.0, unit="K s", wrong="no trip")


# --- F10 to F14: too hot, swapped, in doubt


GAIN_K = {"small-fan-box": 128.0, "slow-box": 128.0, "overpowered": 198.0, "dryer": 105.0}


def above_setpoint(case: Case, model: Model) -> Cell | str:
    """F10: the relay sticks, and every other check is set wide. From the second in which the reading passes for good.

    On a ramp heat goes off above the setpoint of the moment; a trip is for air above where the ramp leads to.
    """
    if not heats(case):
        return "no setpoint"
    limits = with_limits(over_top_step_k=60.0, max_air_c=200.0, off_rise_k=90.0)
    fit = replace(TUNED, contactor=False, limit=False)
    share = (105.0 - ROOM_C) / GAIN_K[model]
    faults = (Fault(at_s=0.0, kind="heater-welded"), Fault(at_s=0.0, kind="heater-weak", value=share))
    stand = brought(case, model, fit=fit, limits=limits, faults=faults)
    above_s = passed_s = 0
    wrong = ""
    for _ in range(6000):
        stand.tick()
        air_c, setpoint_c, target_c = (
            stand.state.sensors[0].value,
            stand.state.control.setpoint_c,
            target_air_c(stand.state.run),
        )
        if air_c is None or setpoint_c is None or target_c is None:
            continue
        above_s = above_s + 1 if air_c > setpoint_c + 5.0 else 0
        passed_s = passed_s + 1 if air_c > max(setpoint_c, target_c) + 5.0 else 0
        if above_s > 31 and "heater" in stand.last.on:
            wrong = wrong or "heat commanded more than 30 s after"
        if found := noticed(stand, ("over-setpoint",)):
            return Cell(took=float(passed_s), limit=180.0, noticed=found, wrong=wrong or aftermath(stand, found))
    return Cell(took=inf, limit=180.0, wrong=wrong or "no trip")


def over_limit(channel: str) -> Experiment:
    """F11: a sensor above the absolute limit."""

    def experiment(case: Case, model: Model) -> Cell | str:
        stand = brought(
            case,
            model,
            fit=TUNED,
            limits=Limits(),
            faults=(Fault(at_s=0.0, kind="sensor-value", value=89.0, channel=channel),),
        )
        took_s, found, wrong = watch(stand, ("over-limit",), longest_s=30.0, off_within_s=2 * SAMPLE_S)
        return Cell(took=took_s, limit=4.0, noticed=found, wrong=wrong)

    return experiment


def welded(*, contactor: bool) -> Experiment:
    """F12: a welded relay. From the second in which the output was last switched off, or the weld if that is later."""

    def experiment(case: Case, model: Model) -> Cell | str:
        if contactor and not heats(case):
            return "the contactor is open"
        fit = replace(TUNED, contactor=contactor)
        stand = brought(case, model, fit=fit, limits=Limits(), faults=(Fault(at_s=0.0, kind="heater-welded"),))
        off_s = stand.seconds
        keys = ("heat-while-off", "over-limit", "over-setpoint")
        for _ in range(4000):
            if "heater" in stand.last.on:
                off_s = stand.seconds
            stand.tick()
            if found := noticed(stand, keys):
                took_s = float(stand.seconds - off_s)
                wrong = aftermath(stand, found)
                if found == "heat-while-off" and "fan" not in stand.last.on:
                    wrong = wrong or "the fan is off"
                peak_c = stand.twin.truth().air_c
                stand.ticks(900)
                if contactor and stand.twin.truth().air_c > peak_c - 5.0:
                    wrong = wrong or "still hot with the contactor open"
                return Cell(took=took_s, limit=180.0, noticed=found, wrong=wrong)
        return Cell(took=inf, limit=180.0, wrong="nothing noticed")

    return experiment


def reversed_sensor(case: Case, model: Model) -> Cell | str:
    """F13: the sensor shows less when it gets warmer."""
    if not heats(case):
        return "no heat"
    begins = 2 if case.name == "cold start" else None
    stand = brought(
        case, model, fit=TUNED, limits=Limits(), faults=(Fault(at_s=0.0, kind="sensor-reversed"),), at_s=begins
    )
    keys = ("reversed", "no-heat-response", "below-band-long", "air-lost")
    took_s, found, wrong = watch(stand, keys, longest_s=400.0)
    return Cell(took=took_s, limit=180.0, noticed=found, wrong=wrong)


def swapped_sensors(case: Case, model: Model) -> Cell | str:
    """F13: the air's sensor and the room's have changed places."""
    if not heats(case):
        return "no heat"
    begins = 2 if case.name == "cold start" else None
    faults = (
        Fault(at_s=0.0, kind="sensor-swapped", other="ambient"),
        Fault(at_s=0.0, kind="sensor-swapped", channel="ambient", other="air"),
    )
    stand = brought(case, model, fit=TUNED, limits=Limits(), faults=faults, at_s=begins)
    keys = ("no-heat-response", "no-heat-near-target", "below-band-long", "air-lost", "reversed")
    took_s, found, wrong = watch(stand, keys, longest_s=400.0)
    return Cell(took=took_s, limit=180.0, noticed=found, wrong=wrong)


def disagreeing(case: Case, model: Model) -> Cell | str:
    """F14: the limit sensor shows 12 K less. From the second in which both are believed."""
    stand = brought(
        case,
        model,
        fit=TUNED,
        limits=Limits(),
        faults=(Fault(at_s=0.0, kind="sensor-offset", value=-12.0, channel="limit"),),
    )
    since: int | None = None
    for _ in range(200):
        stand.tick()
        air_c, limit_c = stand.state.sensors[0].good, stand.state.sensors[1].good
        apart = air_c is not None and limit_c is not None and abs(air_c - limit_c) > 8.0
        since = (stand.seconds if since is None else since) if apart else None
        if since is not None and noticed(stand, ("air-disagrees",)):
            return Cell(took=float(stand.seconds - since), limit=60.0, noticed="air-disagrees")
    return Cell(took=inf, limit=60.0, wrong="nothing noticed")
