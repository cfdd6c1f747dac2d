"""What a driver is to the reader: it reads once, in its own process, and may take as long as its deadline or for ever."""

from __future__ import annotations

import errno
import os
from typing import NamedTuple, Protocol


class Value(NamedTuple):
    """One value of one read: what it is, the figure, or None with the reason in fixed words (they are counted by it)."""

    what: str
    value: float | None
    fault: str = ""


class Driver(Protocol):
    """One device, open. Its ``reads`` name the values it gives."""

    @property
    def reads(self) -> tuple[str, ...]: ...

    @property
    def period_s(self) -> float:
        """From the start of one read to the start of the next."""
        ...

    @property
    def deadline_s(self) -> float:
        """A read that takes longer hangs."""
        ...

    def read(self) -> tuple[Value, ...]:
        """Read the device now. Empty: nothing to tell. Raises Missed, OSError."""
        ...

    def close(self) -> None: ...


class Missed(Exception):
    """A read that gave nothing: no answer, a failed checksum, a value that cannot be. The text is one of a few fixed ones."""


ABSENT = "not there"
NO_ANSWER = "no answer"
BAD_CHECKSUM = "checksum failed"
ALL_ZERO = "nothing but zeros"
POWER_ON = "value after a loss of power"
OUTSIDE = "outside the rating"
NOT_A_NUMBER = "not a number"
SATURATED = "end of the range"

WORDS = {
    errno.EIO: "input/output error",
    errno.EREMOTEIO: NO_ANSWER,
    errno.ETIMEDOUT: NO_ANSWER,
    errno.ENXIO: NO_ANSWER,
}
GONE = (errno.ENOENT, errno.ENODEV, errno.ENOTDIR)


def read_once(driver: Driver) -> tuple[Value, ...]:
    """Read a device; whatever goes wrong becomes a failed value of everything it reads. Raises nothing."""
    try:
        values = driver.read()
    except Missed as missed:
        fault = str(missed)
    except OSError as error:
        fault = said(error)
    except Exception as error:  # a library's surprise must not end the reading
        fault = f"unexpected {type(error).__name__}"
    else:
        return values
    return tuple(Value(what, None, fault) for what in driver.reads)


def said(error: OSError) -> str:
    """Return an error's reason in fixed words."""
    if error.errno in GONE:
        return ABSENT
    return WORDS.get(error.errno or 0) or os.strerror(error.errno or errno.EIO).lower()


def within(value: float, limits: tuple[float, float]) -> float:
    """Return the value if it lies within the rating. Raises Missed; what is no number lies nowhere."""
    low, high = limits
    if not low <= value <= high:
        raise Missed(OUTSIDE)
    return value


def judged(what: str, value: float, limits: tuple[float, float]) -> Value:
    """Return the value, or its refusal where it lies outside the rating."""
    low, high = limits
    return Value(what, value) if low <= value <= high else Value(what, None, OUTSIDE)


def judged_rh(rh_pct: float) -> Value:
    """Return a humidity; what the sensor's own error takes it past 0 or 100 is cropped.

    The makers' conversion formulas reach from -6 to 119 %RH and ask for cropping; 3 % is about the sensors' error.
    """
    refused_or_not = judged("humidity", rh_pct, (-3.0, 103.0))
    value = refused_or_not.value
    return refused_or_not if value is None else Value("humidity", min(100.0, max(0.0, value)))
