"""The drivers' options agree with what the settings offer, so that the two checks are one."""

from __future__ import annotations

import pytest

from dryward.settings.devices import KINDS
from dryward.settings.options import options
from dryward_hardware.drivers.options import OPTIONS
from dryward_hardware.open import READ_APART


def test_every_kind_that_the_reader_reads_has_options() -> None:
    assert set(OPTIONS) == set(READ_APART) == set(KINDS) - {"twin", "recorded"}


@pytest.mark.parametrize("kind", OPTIONS)
def test_a_kinds_options_are_those_of_the_settings(kind: str) -> None:
    ours, theirs = options(OPTIONS[kind]), options(KINDS[kind])
    assert list(ours) == list(theirs)
    for key, option in ours.items():
        other = theirs[key]
        assert (option.kind, option.default, option.low, option.high, option.choices) == (
            other.kind,
            other.default,
            other.low,
            other.high,
            other.choices,
        ), key
