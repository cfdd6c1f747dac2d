"""The supply of sensors that hang: cut for some seconds when one gives nothing for long, so that it begins anew.

Cheap one-line sensors hang until they lose their supply. Only where the output ``sensor-power`` is wired. The cut is short
enough for the other sensors on that supply to be fresh again before heat would go off (F4), and early enough for the one
that hangs to come back before it is a trip.
"""

from __future__ import annotations

from dryward.core.chamber import CONTACT_ROLES
from dryward.core.layout import Layout
from dryward.core.trust import SensorState

SILENT_S = 25.0  # eleven reads of a DHT22
CUT_S = 4.0  # its supply's capacitor is empty long before (no source)
AGAIN_S = 300.0


def powered(layout: Layout, sensors: tuple[SensorState, ...], now: float) -> bool:
    """Say whether the sensors have their supply at ``now``. One that never answered counts only once its reads fail."""
    for sensor, state in zip(layout.chamber.sensors, sensors, strict=True):
        if sensor.role in CONTACT_ROLES or (state.value is None and state.missing == "stale"):
            continue
        over_s = now - state.sampled_s - SILENT_S
        if over_s >= 0.0 and over_s % AGAIN_S < CUT_S:
            return False
    return True
