"""The composition root: what starts in which order, what a failure leaves behind, what follows from an end (F16, F20, F24)."""

from __future__ import annotations

import logging
import os
import signal
import socket
import stat
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from statistics import median
from time import monotonic
from typing import Any

import pytest

from dryward.core.inputs import Notice
from dryward.doors.wire import ask
from dryward.record.queries import Record
from dryward.service import serve as module
from dryward.service.awake import Awake, Unsure, wake
from dryward.service.lock import Taken
from dryward.service.serve import Daemon, quiet_logging
from dryward.settings import Settings, read_settings
from dryward_hardware.ports import DeviceError
from tests.faults_live.stand import PIECES, PROGRAM, WATCHDOG_S, Stand, gone, until, write_chamber


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return read_settings(write_chamber(tmp_path))


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    write_chamber(tmp_path)
    with Stand(tmp_path) as made:
        yield made


def keeper_pid(folder: Path) -> int:
    return int((folder / "run" / "twin-dryer.outputs.json.lock").read_text())


def quiet() -> set[str]:
    return {t.name for t in threading.enumerate() if t is not threading.current_thread()}


# ---- on the way up


def test_the_keeper_starts_before_any_thread_and_any_device(
    settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    order: list[str] = []
    threads: list[set[str]] = []
    before = quiet()
    for part in ("count_starts", "start_keeper", "wake", "Devices", "RecordWriter", "Jobs", "SocketDoor"):
        monkeypatch.setattr(module, part, noting(part, getattr(module, part), order, threads))
    with closing_daemon(settings):
        assert order == ["count_starts", "start_keeper", "wake", "Devices", "RecordWriter", "Jobs", "SocketDoor"]
    assert threads[1] <= before


def noting(part: str, real: Callable[..., Any], order: list[str], threads: list[set[str]]) -> Callable[..., Any]:
    def made(*args: object, **named: object) -> object:
        order.append(part)
        threads.append(quiet())
        return real(*args, **named)

    return made


@pytest.mark.parametrize("part", ["wake", "Devices", "RecordWriter", "Loop", "Jobs", "SocketDoor"])
def test_a_failure_on_the_way_up_leaves_nothing_behind(
    settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, part: str
) -> None:
    before = quiet()

    def fails(*_: object, **__: object) -> None:
        raise DeviceError(part, "broken for a test")

    with monkeypatch.context() as patch:
        patch.setattr(module, part, fails)
        with pytest.raises(DeviceError, match="broken for a test"):
            Daemon(settings)
    assert gone(keeper_pid(tmp_path))
    assert not (tmp_path / "run" / "dryward.sock").exists()
    until(lambda: quiet() <= before, within_s=5.0, what="no thread is left")
    daemon = Daemon(settings)  # every lock is free again
    daemon.stop()
    daemon.turn_until_stopped()


def test_an_output_that_cannot_be_had_stops_the_start(settings: Settings, tmp_path: Path) -> None:
    outputs = tuple(replace(o, gpio=17) if o.gpio is not None else o for o in settings.chamber.outputs)
    broken = replace(settings, chamber=replace(settings.chamber, outputs=outputs))
    with pytest.raises(DeviceError, match="gpio 17 is used by"):
        Daemon(broken)


@pytest.mark.parametrize("shared", ["record", "socket", "folder of lines"])
def test_two_daemons_never_share(settings: Settings, tmp_path: Path, shared: str) -> None:
    with closing_daemon(settings):
        other = tmp_path / "other"
        record = settings.record if shared == "record" else replace(settings.record, path=str(other / "r.db"))
        service = settings.service
        if shared != "socket":
            folder = Path(service.socket).parent if shared == "folder of lines" else other
            service = replace(service, socket=str(folder / "another.sock"))
        with pytest.raises(Taken, match=str(os.getpid())):
            Daemon(replace(settings, record=record, service=service))


def closing_daemon(settings: Settings) -> closing[Ended]:
    return closing(Ended(Daemon(settings)))


class Ended:
    """Ends a daemon that never turned."""

    def __init__(self, daemon: Daemon) -> None:
        self.daemon = daemon

    def close(self) -> None:
        self.daemon.stop()
        self.daemon.turn_until_stopped()


def test_a_stale_socket_of_a_killed_daemon_is_no_hindrance(stand: Stand) -> None:
    first = stand.start_ready()
    first.process.kill()
    first.process.wait()
    assert stand.socket.exists()
    stand.start_ready()
    assert stand.answers()


# ---- running


def test_the_socket_is_for_owner_and_group(stand: Stand) -> None:
    stand.start_ready()
    assert stat.S_IMODE(stand.socket.stat().st_mode) == 0o660


def test_the_service_manager_hears_ready_after_the_first_turn_and_one_word_a_turn(stand: Stand) -> None:
    service = stand.start_ready()
    until(lambda: len(stand.pings(service)) >= 6, within_s=20.0, what="six words to the watchdog")
    assert stand.words[0].text == "READY=1"
    assert "STATUS=idle" in {w.text for w in stand.words}
    pings = stand.pings(service)
    gaps = [b - a for a, b in pairwise(pings)]
    assert 0.9 < median(gaps) < 1.1  # also with nothing going on; a busy machine may hold up a turn
    assert len(gaps) <= round(pings[-1] - pings[0])
    assert max(gaps) < 0.5 * WATCHDOG_S
    assert stand.status()["chamber_s"] >= 5.0


def test_a_recorder_that_has_died_starves_the_watchdog(
    settings: Settings, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    words: list[bytes] = []
    with closing(socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)) as manager:
        manager.bind(str(tmp_path / "notify"))
        manager.setblocking(False)
        monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
        monkeypatch.setenv("WATCHDOG_USEC", "8000000")
        daemon = Daemon(settings, speed=50.0)
        thread = threading.Thread(target=daemon.turn_until_stopped)
        thread.start()

        def heard(word: bytes) -> bool:
            with suppress(BlockingIOError):
                while True:
                    words.append(manager.recv(4096))
            return word in words

        until(lambda: heard(b"WATCHDOG=1"), within_s=10.0, what="a word to the watchdog")
        monkeypatch.setattr(daemon._writer, "alive", lambda: False)
        tick = daemon._loop.view.tick
        until(lambda: daemon._loop.view.tick > tick + 2, within_s=5.0, what="two more turns")
        heard(b"")
        words.clear()
        tick = daemon._loop.view.tick
        until(lambda: daemon._loop.view.tick > tick + 20, within_s=5.0, what="twenty more turns")
        assert not heard(b"WATCHDOG=1")
        daemon.stop()
        thread.join(10.0)
    assert not thread.is_alive()


@pytest.mark.parametrize("word", ["TERM", "INT"])
def test_an_end_in_order_has_status_0_and_switches_off_first(stand: Stand, word: str) -> None:
    service = stand.start_ready()
    stand.begin()
    service.process.send_signal(getattr(signal, f"SIG{word}"))
    assert service.process.wait(10.0) == 0
    assert [e.why for e in stand.trace() if e.output == "heater"][-1] == "pipe-end"
    assert not stand.is_on("heater")
    assert not stand.socket.exists()
    assert gone(service.keeper_pid)
    assert "ended in order" in stand.journal()
    assert "IS NOT AT ITS END (running): nothing heats" in stand.journal()
    until(lambda: stand.words[-1].text == "STOPPING=1", within_s=5.0, what="the last word")


def test_a_run_goes_on_after_a_restart_by_the_service_manager(stand: Stand) -> None:
    """F16: an outage of less than 5 minutes."""
    service = stand.start_ready()
    stand.begin()
    run_id = stand.status()["run"]["run_id"]
    service.process.send_signal(signal.SIGTERM)
    service.process.wait(10.0)
    stand.start_ready()
    stand.await_heat()
    run = stand.status()["run"]
    assert (run["run_id"], run["phase"], run["step_number"]) == (run_id, "running", 1)
    assert stand.trips() == set()


def test_three_crashes_in_ten_minutes_leave_the_alarms_alive_and_the_heat_off(stand: Stand) -> None:
    """F24."""
    service = stand.start_ready()
    stand.begin()
    for _ in range(2):
        service.process.kill()
        service.process.wait()
        killed_s = monotonic()
        service = stand.start_ready()
    until(lambda: len(stand.pings(service)) >= 5, within_s=10.0, what="some turns")
    assert stand.trips() == {"crash-loop"}
    assert not [e for e in stand.trace() if e.output == "heater" and e.on and e.at_s > killed_s]
    assert stand.status()["no_heat"]


def test_restarts_in_order_are_no_crash_loop(stand: Stand) -> None:
    for _ in range(3):
        service = stand.start_ready()
        assert stand.trips() == set()
        service.process.send_signal(signal.SIGTERM)
        service.process.wait(10.0)


def test_a_damaged_record_is_set_aside_told_and_begun_again(stand: Stand) -> None:
    """F20: and the run goes on from the copy of the last second."""
    service = stand.start_ready()
    stand.begin()
    run_id = stand.status()["run"]["run_id"]
    service.process.kill()
    service.process.wait()
    for ending in ("-wal", "-shm"):
        stand.folder.joinpath(f"record.db{ending}").unlink(missing_ok=True)
    (stand.folder / "record.db").write_bytes(b"no database at all " * 2000)
    stand.start_ready()
    until(lambda: "record-failing" in {a["key"] for a in stand.status()["alarms"]}, within_s=5.0, what="it is told")
    stand.await_heat()
    status = stand.status()
    assert (status["run"]["run_id"], status["run"]["phase"]) == (run_id, "running")
    assert list(stand.folder.glob("record.db.damaged-*"))
    until(lambda: stand.status()["record"]["ok"], within_s=10.0, what="a new record")
    with Record(stand.folder / "record.db") as past:
        assert [r.run_id for r in past.runs()] == [run_id]


def test_a_message_that_is_played_again_does_nothing_however_late(stand: Stand) -> None:
    stand.start_ready()
    stand.begin()
    hold = {"ask": {"verb": "hold"}, "request_id": "one-and-only"}
    assert stand.say(hold)["accepted"]
    until(lambda: stand.status()["run"]["phase"] == "held", within_s=5.0, what="held")
    assert stand.ask("resume")["accepted"]
    with ThreadPoolExecutor(40) as pool:  # more than the engine itself remembers, within two ticks
        others = list(pool.map(lambda n: stand.ask("weigh", piece="nobody", weight_g=float(n)), range(80)))
    assert not any(answer["accepted"] for answer in others)
    answer = stand.say(hold)
    assert (answer["accepted"], answer["text"]) == (False, "This request was carried out before.")
    assert stand.status()["run"]["phase"] in ("restarting", "running")


def test_a_planned_start_outlives_a_crash(stand: Stand) -> None:
    service = stand.start_ready()
    stand.wanted("load", pieces=PIECES)
    at_utc_s = module.time.time() + 3600.0
    assert stand.say({"ask": {"verb": "start", "program": PROGRAM, "run_id": ""}, "at_utc_s": at_utc_s})["accepted"]
    service.process.kill()
    service.process.wait()
    stand.start_ready()
    assert [p["program"] for p in stand.status()["planned"]] == ["long"]
    stand.wanted("stop")
    assert stand.status()["planned"] == []


# ---- a clock that is set only after the start


@pytest.mark.parametrize(("away_s", "phase"), [(600.0, "restarting"), (5000.0, "held"), (-1.0, "held")])
def test_a_run_held_for_an_unknown_outage_goes_on_when_the_clock_tells_it_was_short(
    settings: Settings, monkeypatch: pytest.MonkeyPatch, away_s: float, phase: str
) -> None:
    """F16 on a machine without a battery clock: its time is known only some seconds after the start."""
    first = Daemon(settings, speed=20.0)
    running(first)

    def after_a_power_cut(*given: object) -> Awake:
        found = wake(*given)  # type: ignore[arg-type]
        return replace(found, notices=(Notice("restarted", -1.0),), unsure=Unsure(0.0, 0.0))

    learnt: list[float | None] = [None] * 40 + [away_s]
    monkeypatch.setattr(module, "wake", after_a_power_cut)
    monkeypatch.setattr(Unsure, "learn", lambda self, stamp: learnt.pop(0) if learnt else None)
    second = Daemon(settings, speed=20.0)
    thread = threading.Thread(target=second.turn_until_stopped)
    thread.start()
    until(lambda: second._loop.view.state.run.phase == "held", within_s=5.0, what="held")
    until(lambda: not learnt and second._loop.view.state.run.phase in (phase, "running"), within_s=10.0, what=phase)
    tick = second._loop.view.tick
    until(lambda: second._loop.view.tick > tick + 20, within_s=5.0, what="a second more")
    assert (second._loop.view.state.run.phase == "held") is (phase == "held")
    second.stop()
    thread.join(10.0)


def running(daemon: Daemon) -> None:
    """Begin a run in a daemon and end the daemon in order."""
    thread = threading.Thread(target=daemon.turn_until_stopped)
    thread.start()
    path = Path(daemon._settings.service.socket)
    assert ask(path, {"ask": {"verb": "load", "pieces": PIECES}})["accepted"]
    assert ask(path, {"ask": {"verb": "start", "program": PROGRAM, "run_id": ""}})["accepted"]
    daemon.stop()
    thread.join(10.0)
    assert not thread.is_alive()


# ---- small things


def test_a_run_is_never_named_twice(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    """A clock that steps back comes by the same second again."""
    monkeypatch.setattr(module.time, "strftime", lambda form: "20260301-063000")
    daemon = Daemon(settings, speed=20.0)
    running(daemon)
    with closing_daemon(settings) as ended:
        assert ended.daemon._name_run().startswith("twin-dryer-20260301-063000-")


def test_heat_is_forbidden_where_outputs_persist(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "outputs_persist", lambda: "outputs stay on")
    with closing_daemon(settings) as ended:
        asleep = Awake(ended.daemon._loop.view.state, 1, (), "", True)
        kinds = {}
        for factory, allowed in (("lgpio", False), ("lgpio", True), ("mock", False)):
            service = replace(settings.service, pin_factory=factory, allow_heat_while_outputs_persist=allowed)  # type: ignore[arg-type]
            ended.daemon._settings = replace(settings, service=service)
            kinds[factory, allowed] = [n.kind for n in ended.daemon._first_notices(asleep, None)]
    assert kinds == {("lgpio", False): ["heat-forbidden"], ("lgpio", True): [], ("mock", False): []}


def test_the_journal_can_sort_by_priority(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """sd-daemon(3): a line may begin with its syslog priority in angle brackets."""
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level
    root.handlers = []
    try:
        monkeypatch.setenv("JOURNAL_STREAM", "8:12345")
        quiet_logging()
        log = logging.getLogger("dryward")
        for say in (log.info, log.warning, log.error, log.critical):
            say("two\nlines")
    finally:
        root.handlers = handlers
        root.setLevel(level)
    assert capsys.readouterr().err.splitlines() == [f"<{n}>{word}" for n in (6, 4, 3, 2) for word in ("two", "lines")]


def test_the_record_is_cared_for_at_night(tmp_path: Path) -> None:
    """What the scheduler does in the small hours, done now on a real daemon: a checked backup lies beside the record."""
    from dryward.service.serve import Daemon
    from dryward.settings import read_settings
    from tests.service.conftest import write_twin

    daemon = Daemon(read_settings(write_twin(tmp_path)), speed=20.0)
    thread = threading.Thread(target=daemon.turn_until_stopped)
    thread.start()
    try:
        daemon._night()
    finally:
        daemon.stop()
        thread.join(20.0)
    assert list((tmp_path / "backup").glob("*"))
