"""The real service killed in the middle of a relay test: the heat ends with it, and nothing takes the test up again."""

from __future__ import annotations

import signal
import threading
from pathlib import Path
from time import monotonic

import pytest

from tests.faults_live.stand import Stand, until, write_chamber


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_a_killed_test_is_over(tmp_path: Path, how: signal.Signals) -> None:
    write_chamber(tmp_path)
    with Stand(tmp_path, args=("--speed", "5")) as stand:
        service = stand.start_ready()
        until(lambda: stand.status()["air"]["quality"] == "fresh", within_s=10.0, what="a reading")
        stand.wanted("tune", setpoint_c=65.0, meat_may_stay=False, run_id="")
        stand.await_heat()
        until(lambda: stand.status()["tuning"]["test"] is not None, within_s=5.0, what="the test is on record")
        moment_s = monotonic()
        service.process.send_signal(how)
        service.process.wait(15.0)
        until(lambda: stand.off_after("heater", moment_s) is not None, within_s=5.0, what="heat off")
        assert (stand.off_after("heater", moment_s) or 0.0) - moment_s <= (1.0 if how == signal.SIGKILL else 5.0)
        again_s = monotonic()
        stand.start_ready()
        until(lambda: stand.status()["tuning"]["test"] is None, within_s=10.0, what="the test is over")
        assert stand.status()["run"]["phase"] == "idle"
        threading.Event().wait(2.0)
        assert not any(e.output == "heater" and e.on and e.at_s > again_s for e in stand.trace())
