"""DHT11 and DHT22 through adafruit_dht, held to one thing: a value is of this very read or it is none.

The library gives the last value again when it is asked within 2 s, also after a failed read; it takes an empty frame as
0.0 degC and 0.0 %RH; and on a Raspberry Pi its import takes over SIGTERM: it lives in the reader, never in the daemon.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from dryward_hardware.drivers.ratings import DHT11_C, DHT22_C, RH_PCT
from dryward_hardware.reader.driver import ALL_ZERO, BAD_CHECKSUM, NO_ANSWER, OUTSIDE, Missed, Value, judged

APART_S = 2.1  # the library's own limit is 2 s; the sensor's too
COMPLAINTS = {
    "not found": NO_ANSWER,
    "full buffer": "incomplete answer",
    "Checksum": BAD_CHECKSUM,
    "unplausible": OUTSIDE,
}


class Dht:
    """One sensor on one line. ``sensor`` is the library's object, made when it is first read unless given."""

    reads = ("temperature", "humidity")
    period_s = 2.2
    deadline_s = 6.0

    def __init__(
        self, *, kind: str, gpio: int, sensor: Any = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._kind = kind
        self._gpio = gpio
        self._sensor = sensor if sensor is not None else _open(kind, gpio)
        self._clock = clock
        self._read_s = -APART_S
        self._rating = DHT11_C if kind == "dht11" else DHT22_C

    def read(self) -> tuple[Value, ...]:
        wait_s = self._read_s + APART_S - self._clock()
        if wait_s > 0.0:
            time.sleep(wait_s)
        try:
            # measure() either measures or raises: its last one was APART_S ago. The properties then only hand out.
            self._sensor.measure()
            temperature, humidity = self._sensor.temperature, self._sensor.humidity
        except RuntimeError as error:
            raise Missed(
                next((ours for theirs, ours in COMPLAINTS.items() if theirs in str(error)), NO_ANSWER)
            ) from None
        finally:
            self._read_s = self._clock()
        if temperature is None or humidity is None:
            raise Missed(NO_ANSWER)
        if temperature == 0.0 and humidity == 0.0:
            raise Missed(ALL_ZERO)
        return judged("temperature", float(temperature), self._rating), judged("humidity", float(humidity), RH_PCT)

    def close(self) -> None:
        """End the library's helper program."""
        self._sensor.exit()


def _open(kind: str, gpio: int) -> Any:
    """Make the library's sensor, by its helper program where that starts, else by watching the line itself."""
    import adafruit_dht
    import board

    make = adafruit_dht.DHT11 if kind == "dht11" else adafruit_dht.DHT22
    pin = getattr(board, f"D{gpio}", None)
    if pin is None:
        raise OSError(f"this board has no line D{gpio}")
    try:
        return make(pin)
    except RuntimeError:
        return make(pin, use_pulseio=False)
