"""What sensors are rated for, degC, from their datasheets. A value outside is refused where it is read."""

from __future__ import annotations

DHT22_C = (-40.0, 80.0)
DHT11_C = (0.0, 50.0)
DS18B20_C = (-55.0, 125.0)
KERNEL_C = (-40.0, 125.0)  # SHT3x, SHT4x and most others with a kernel driver
BY_NAME_C = {
    "dht11": DHT11_C,
    "dht22": DHT22_C,
    "max31865": (-200.0, 250.0),  # a platinum probe of the usual kind
    "max31855": (-200.0, 400.0),  # a type K wire in glass or Teflon
    "max31855k": (-200.0, 400.0),  # what the device tree calls it
    "max6675": (0.0, 400.0),
}
PROBE_CHIPS = frozenset({"max31865", "max31855", "max31855k", "max6675"})  # theirs is the rating of probe or wire
RH_PCT = (0.0, 100.0)


def kernel_rating(*names: str) -> tuple[float, float]:
    """Return the rating of a sensor with a kernel driver, by the first known of its names; the owner's comes first."""
    return next((BY_NAME_C[name] for name in names if name in BY_NAME_C), KERNEL_C)
