"""Times as people write them."""

from __future__ import annotations

import time
from datetime import datetime

import pytest

from dryward.doors.moments import Unclear, local_moment


def test_a_clock_time_is_the_next_one() -> None:
    moment_s = local_moment("06:30")
    assert 0.0 < moment_s - time.time() <= 86_400.0
    assert datetime.fromtimestamp(moment_s).strftime("%H:%M") == "06:30"


def test_a_whole_date_is_that_date() -> None:
    assert datetime.fromtimestamp(local_moment("2099-03-01T06:30")).isoformat() == "2099-03-01T06:30:00"


@pytest.mark.parametrize("text", ["later", "25:00", "2001-01-01T00:00", ""])
def test_what_is_no_coming_time_is_refused(text: str) -> None:
    with pytest.raises(Unclear):
        local_moment(text)
