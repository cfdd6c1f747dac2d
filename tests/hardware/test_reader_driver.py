"""One read of any driver: values, or failed values in fixed words, never an exception."""

from __future__ import annotations

import errno
from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward_hardware.reader.driver import Driver, Missed, Value, judged, judged_rh, read_once, said, within


@dataclass
class Scripted:
    outcome: tuple[Value, ...] | Exception
    reads: tuple[str, ...] = ("temperature", "humidity")
    period_s: float = 1.0
    deadline_s: float = 1.0

    def read(self) -> tuple[Value, ...]:
        if isinstance(self.outcome, Exception):
            raise self.outcome
        return self.outcome

    def close(self) -> None: ...


@pytest.mark.parametrize(
    ("error", "fault"),
    [
        (Missed("checksum failed"), "checksum failed"),
        (OSError(errno.ENOENT, "x"), "not there"),
        (OSError(errno.ENODEV, "x"), "not there"),
        (OSError(errno.EIO, "x"), "input/output error"),
        (OSError(errno.ETIMEDOUT, "x"), "no answer"),
        (OSError("a library's own"), "input/output error"),
        (ZeroDivisionError("a library's bug"), "unexpected ZeroDivisionError"),
    ],
)
def test_whatever_is_raised_fails_every_value(error: Exception, fault: str) -> None:
    driver: Driver = Scripted(error)
    assert read_once(driver) == (Value("temperature", None, fault), Value("humidity", None, fault))


def test_what_is_read_is_passed_on() -> None:
    assert read_once(Scripted((Value("temperature", 1.0),))) == (Value("temperature", 1.0),)
    assert read_once(Scripted(())) == ()


@given(st.floats())
def test_no_value_outside_the_rating_is_judged_good(value: float) -> None:
    verdict = judged("temperature", value, (-40.0, 80.0))
    inside = -40.0 <= value <= 80.0
    assert verdict == (Value("temperature", value) if inside else Value("temperature", None, "outside the rating"))
    if inside:
        assert within(value, (-40.0, 80.0)) == value
    else:
        with pytest.raises(Missed):
            within(value, (-40.0, 80.0))


@given(st.floats())
def test_a_humidity_is_cropped_by_three_per_cent_at_most(rh_pct: float) -> None:
    shown = judged_rh(rh_pct).value
    assert (shown is None) == (not -3.0 <= rh_pct <= 103.0)
    assert shown is None or (0.0 <= shown <= 100.0 and abs(shown - rh_pct) <= 3.0)


def test_an_error_without_a_number_has_words_too() -> None:
    assert said(OSError()) == "input/output error"
