"""The cool cabinet: the compressor by hysteresis, and beside it what ``humidity`` wants.

A compressor's shortest times are kept whatever is asked: a start needs its whole rest, a stop waits for the shortest
run, and where nobody knows when it last ran, its rest begins now.
"""

from __future__ import annotations

from dryward.core.chamber import Chamber, Control
from dryward.core.frozen import frozen
from dryward.core.humidity import Surface, VentMode, airs, dries, followed, moistens, moisture
from dryward.core.switch import OFF, Switch, due, turn

COOL_AFTER_HEAT_S = 3600.0  # so long after heat the cooler waits
AFTER_HEAT = 3.0  # for so many bands above the setpoint


@frozen
class ColdState:
    """What cools, moistens, dries and airs."""

    cooler: Switch = OFF
    humidifier: Switch = OFF
    dehumidifier: Switch = OFF
    vent: Switch = OFF
    surface: Surface | None = None


NO_COLD = ColdState()


def cold(
    chamber: Chamber, s: ColdState, *, setpoint_c: float | None, rh_set_pct: float | None, vent: VentMode, heated_s: float | None,
    air_c: float | None, rh_pct: float | None, ambient_c: float, room_dew_c: float | None, door_open: bool, has: frozenset[str], now: float,
) -> ColdState:  # fmt: skip
    """Advance the switches by one tick. An output that is not in ``has`` stays off."""
    control = chamber.control
    cooler, humidifier, dehumidifier, flap, surface = s.cooler, s.humidifier, s.dehumidifier, s.vent, s.surface
    cabinet = "cooler" in has
    if air_c is not None and (cabinet or "humidifier" in has):
        surface = followed(surface, air_c, now, rh_pct=rh_pct, pressure_pa=chamber.pressure_pa)
    if cabinet:
        want = cools(
            control, cooler.on, setpoint_c=setpoint_c, air_c=air_c, heated_s=heated_s, door_open=door_open, now=now
        )
        cooler = turn(chamber, "cooler", cooler, want=want, now=now)
    m = moisture(
        control, surface, rh_set_pct=rh_set_pct, air_c=air_c, rh_pct=rh_pct, ambient_c=ambient_c, setpoint_c=setpoint_c
    )
    if "humidifier" in has:
        want = moistens(
            control, m, humidifier=humidifier, dehumidifier=dehumidifier, cooler=cooler, door_open=door_open, now=now
        )
        humidifier = turn(chamber, "humidifier", humidifier, want=want, now=now)
    if "dehumidifier" in has:
        near = cabinet and (
            cooler.on
            or (air_c is not None and setpoint_c is not None and air_c > setpoint_c + 0.5 * control.cool_band_k)
        )
        want = dries(
            control,
            m,
            humidifier=humidifier,
            dehumidifier=dehumidifier,
            cooler=cooler,
            cooler_near=near,
            door_open=door_open,
            now=now,
        )
        dehumidifier = turn(chamber, "dehumidifier", dehumidifier, want=want, now=now)
    if "vent" in has:
        want = airs(
            control,
            m,
            surface,
            vent=flap,
            dehumidifier=dehumidifier,
            mode=vent,
            held=rh_set_pct is not None,
            room_dew_c=room_dew_c,
            cabinet=cabinet,
            now=now,
        )
        flap = turn(chamber, "vent", flap, want=want, now=now)
    after = ColdState(cooler, humidifier, dehumidifier, flap, surface)
    return s if after == s else after


def cools(
    control: Control,
    runs: bool,
    *,
    setpoint_c: float | None,
    air_c: float | None,
    heated_s: float | None,
    door_open: bool,
    now: float,
) -> bool:
    """Return whether cold is wanted; ``heated_s``: when heat was last on.

    An open door lets no compressor start, and stops none. What the heater has overshot is left to the room to cool.
    """
    if setpoint_c is None or air_c is None or heated_s == now or due(control.defrost_every_s, control.defrost_s, now):
        return False
    if runs:
        return air_c > setpoint_c
    bands = AFTER_HEAT if heated_s is not None and now - heated_s < COOL_AFTER_HEAT_S else 1.0
    return not door_open and air_c > setpoint_c + bands * control.cool_band_k
