"""A trip of the real service: nothing but an acknowledgement and then a reset brings the heat back.

Not a kill, not a restart, not a changed clock, not whatever somebody sends over the socket, in whatever order and
however often. The trip is a real one too: three keepers killed within ten minutes (F23).
"""

from __future__ import annotations

import json
import signal
import socket
from pathlib import Path
from time import monotonic, time
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.faults_live.stand import PIECES, PROGRAM, Stand, until, write_chamber
from tests.faults_live.test_clock_steps import WallClock

TRIP = "keeper-dying"


class Tripped:
    """A service whose run has tripped, and when."""

    def __init__(self, stand: Stand) -> None:
        self.stand = stand
        self.service = stand.start_ready()
        stand.begin()
        stand.trip(self.service)
        until(lambda: not stand.is_on("heater"), within_s=3.0, what="heat off")
        self.at_s = monotonic()

    def heated(self) -> bool:
        return any(e.output == "heater" and e.on and e.at_s > self.at_s for e in self.stand.trace())

    def restart(self, how: signal.Signals) -> None:
        self.service.process.send_signal(how)
        self.service.process.wait(15.0)
        self.stand.forget_starts()
        self.service = self.stand.start_ready()

    def may_be_reset(self) -> bool:
        return any(a["key"] == TRIP and a["phase"].startswith("latched") for a in self.stand.status()["alarms"])

    def clear(self) -> None:
        """What a person does: acknowledge, reset, resume."""
        until(self.may_be_reset, within_s=60.0, what="its cause is gone", pace_s=0.2)
        for verb in ("ack", "reset", "resume"):
            self.stand.wanted(verb, who="Ana")


def test_a_trip_outlives_kill_restart_and_changed_clock(tmp_path: Path) -> None:
    write_chamber(tmp_path)
    clock = WallClock(tmp_path)
    with Stand(tmp_path, environ=clock.environ, args=("--speed", "5")) as stand:
        tripped = Tripped(stand)
        for how, step_s in (
            (signal.SIGKILL, 0.0),
            (signal.SIGTERM, -3600.0),
            (signal.SIGKILL, 3.15e7),
            (signal.SIGTERM, -3.15e8),
        ):
            clock.step(step_s)
            tripped.restart(how)
            assert TRIP in stand.trips()
            until(lambda: len(stand.pings(tripped.service)) >= 3, within_s=10.0, what="some turns")
        assert not stand.ask("resume")["accepted"]
        assert not stand.ask("start", program=PROGRAM, run_id="")["accepted"]
        assert not stand.ask("reset", who="Ana")["accepted"]  # not acknowledged
        assert not tripped.heated()
        tripped.clear()
        stand.await_heat(within_s=120.0)  # and then it does come back, slowly


# ---- whatever is sent over the socket

IDS = st.one_of(st.none(), st.none(), st.sampled_from(["r1", "r2", "r3"]))  # new ones, and some that are played again
WHO = st.sampled_from(["Ana", "", "  "])
OTHER: list[dict[str, Any]] = [
    {"verb": "load", "pieces": PIECES},
    {"verb": "start", "program": PROGRAM, "run_id": ""},
    {"verb": "start", "program": PROGRAM, "run_id": "mine"},
    {"verb": "hold", "reason": ""},
    {"verb": "resume"},
    {"verb": "stop", "reason": ""},
    {"verb": "weigh", "piece": "loin", "weight_g": 800.0},
    {"verb": "pull", "piece": "loin", "weight_g": None},
    {"verb": "shelve", "alarm": TRIP, "hours": 1.0},
    {"verb": "ack", "alarm": "door-open"},
    {"verb": "restart"},
]
ACK: list[dict[str, Any]] = [{"verb": "ack", "alarm": "all"}, {"verb": "ack", "alarm": TRIP}]
RESET: list[dict[str, Any]] = [{"verb": "reset"}]
WHEN = st.one_of(
    st.none(),
    st.none(),
    st.none(),
    st.sampled_from([0, 1, True, "now", [], -1e300]),
    st.floats(),
    st.floats(-100.0, 2.0).map(lambda s: time() + s),
)
JUNK = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=6),
    lambda c: (
        st.lists(c, max_size=3)
        | st.dictionaries(st.sampled_from(["ask", "verb", "who", "request_id", "at_utc_s"]), c, max_size=4)
    ),
    max_leaves=6,
)


def lines_of(asks: list[dict[str, Any]]) -> st.SearchStrategy[list[bytes]]:
    """Return lists of lines: mostly these requests, with names, ids and times of all kinds; some that make no sense."""

    def message(ask: dict[str, Any], request_id: str | None, who: str, at_utc_s: object) -> dict[str, Any]:
        return {"ask": ask, "who": who, "request_id": request_id} | ({} if at_utc_s is None else {"at_utc_s": at_utc_s})

    asked = st.builds(message, st.sampled_from(asks), IDS, WHO, WHEN)
    line = st.one_of(asked, asked, asked, JUNK).map(lambda m: json.dumps(m).encode()) | st.binary(max_size=60)
    return st.lists(line, min_size=1, max_size=6)


def send(stand: Stand, lines: list[bytes]) -> list[dict[str, Any]]:
    """Send lines over one connection; return the answers."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
        connection.settimeout(30.0)
        connection.connect(str(stand.socket))
        connection.sendall(b"".join(line.replace(b"\n", b" ") + b"\n" for line in lines))
        connection.shutdown(socket.SHUT_WR)
        with connection.makefile("rb") as answers:
            return [json.loads(answer) for answer in answers]


@pytest.mark.parametrize("never", ["acknowledged", "reset"])
def test_nothing_sent_over_the_socket_brings_heat_back(tmp_path: Path, never: str) -> None:
    """Never acknowledged: whatever else is sent, also reset. Never reset: whatever else is sent, also acknowledgements."""
    write_chamber(tmp_path)
    accepted: list[str] = []
    with Stand(tmp_path, args=("--speed", "20")) as stand:
        tripped = Tripped(stand)

        @settings(
            max_examples=60,
            deadline=None,
            phases=(Phase.generate,),
            database=None,
            suppress_health_check=list(HealthCheck),
        )
        @given(lines=lines_of(OTHER * 2 + (RESET if never == "acknowledged" else ACK)))
        def nothing_heats(lines: list[bytes]) -> None:
            answers = send(stand, lines)
            assert len(answers) == len(lines)
            accepted.extend(a["text"] for a in answers if a["accepted"] and "text" in a)
            assert TRIP in stand.trips()
            assert not stand.status()["outputs"]["heater"]
            assert not tripped.heated()
            assert tripped.service.process.poll() is None

        nothing_heats()
        assert accepted  # some of it did something
        tripped.restart(signal.SIGKILL)
        assert TRIP in stand.trips()
        assert not tripped.heated()
        _clear_and_begin_anew(tripped)


def _clear_and_begin_anew(tripped: Tripped) -> None:
    """Acknowledge, reset, begin another batch: then there is heat again, so the test could have seen some."""
    stand = tripped.stand
    until(tripped.may_be_reset, within_s=60.0, what="its cause is gone", pace_s=0.2)
    stand.ask("ack", who="Ana", alarm="all")
    stand.wanted("reset", who="Ana")
    stand.ask("stop", reason="")
    until(lambda: stand.status()["run"]["phase"] in ("idle", "stopped"), within_s=10.0, what="an end")
    stand.wanted("load", pieces=[{**PIECES[0], "name": "next"}])
    stand.wanted("start", program=PROGRAM, run_id="")
    stand.await_heat()
