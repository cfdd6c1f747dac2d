"""The client's promises: it notices a lost keeper, never waits for a stuck one, and a new one starts safe (fault F23)."""

from __future__ import annotations

import os
import signal
import stat
from collections.abc import Iterator
from pathlib import Path
from time import monotonic

import pytest

from dryward_hardware.keeper import client as client_module
from dryward_hardware.keeper.client import KeeperClient
from dryward_hardware.ports import DeviceError, LineSpec, Outputs
from tests.hardware.keeper_stand import Stand, until

HEATER = LineSpec(name="heater", gpio=17, active_high=False)
FAN = LineSpec(name="fan", gpio=18, safe_on=True)
HEAT = frozenset({"heater", "fan"})


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    stand = Stand(tmp_path)
    yield stand
    stand.clear()


def heat(client: KeeperClient) -> None:
    client.want(HEAT)
    until(lambda: client.actual() == HEAT, within_s=2.0, what="heater on")


def test_the_client_is_an_outputs(stand: Stand) -> None:
    assert isinstance(stand.client(HEATER), Outputs)


def test_wanted_outputs_go_on_and_off_and_are_read_back(stand: Stand) -> None:
    client = stand.client(HEATER, FAN)
    assert client.actual() == {"fan"}
    heat(client)
    client.want(frozenset({"fan"}))
    until(lambda: client.actual() == {"fan"}, within_s=2.0, what="heater off")
    assert client.alive()
    assert client.trouble() == ""
    assert client.losses() == 0


def test_an_active_low_line_never_sees_its_on_level_before_it_is_wanted(stand: Stand) -> None:
    client = stand.client(HEATER, FAN)
    assert stand.levels(17) == [(1, "claim")]
    heat(client)
    client.close()
    assert stand.levels(17) == [(1, "claim"), (0, "write"), (1, "write")]


def test_an_unknown_output_is_ignored(stand: Stand) -> None:
    client = stand.client(HEATER, FAN)
    client.want(HEAT | {"buzzer"})
    until(lambda: client.actual() == HEAT, within_s=2.0, what="heater on")


def test_closing_makes_everything_safe_before_it_returns(stand: Stand) -> None:
    client = stand.client(HEATER, FAN)
    heat(client)
    client.close()
    assert not stand.last("heater").on
    assert stand.last("fan").on
    assert client.actual() == {"fan"}


@pytest.mark.parametrize("number", [signal.SIGSTOP, signal.SIGKILL], ids=["stuck", "lost"])
def test_closing_makes_everything_safe_without_the_keeper_too(stand: Stand, number: signal.Signals) -> None:
    client = stand.client(HEATER, FAN)
    heat(client)
    os.kill(stand.keeper_pid(), number)
    client.close()
    assert (stand.last("heater").on, stand.last("heater").why) == (False, "opened")
    assert stand.levels(17)[-1] == (1, "claim")


def test_a_killed_keeper_is_noticed_and_a_new_one_is_safe_within_two_seconds(stand: Stand) -> None:
    client = stand.client(HEATER, FAN)
    heat(client)
    killed_s = monotonic()
    os.kill(stand.keeper_pid(), signal.SIGKILL)
    until(lambda: not client.alive(), within_s=1.0, what="loss noticed")
    assert "died" in client.trouble()
    assert client.actual() == HEAT, "a line keeps its level when its keeper dies"
    client.respawn()
    until(lambda: stand.last("heater").why == "start", within_s=2.0, what="lines reclaimed")
    stand.pids.add(stand.keeper_pid())
    assert stand.last("heater").at_s - killed_s < 2.0
    assert stand.levels(17)[-1] == (1, "claim"), "the first thing the line sees is its safe level"
    heat(client)
    assert client.alive()
    assert client.losses() == 1


def test_a_stuck_keeper_delays_nobody_and_is_replaced(stand: Stand) -> None:
    client = stand.client(HEATER, FAN)
    heat(client)
    os.kill(stand.keeper_pid(), signal.SIGSTOP)
    began_s = monotonic()
    client.want(HEAT)
    assert client.alive(), "it has a moment to answer"
    for _ in range(1000):
        client.want(HEAT)
    assert monotonic() - began_s < 0.5
    assert not client.alive(), "a full pipe is trouble"
    assert "does not read" in client.trouble()
    client.respawn()
    assert monotonic() - began_s < 1.0
    until(lambda: stand.last("heater").why == "start", within_s=2.0, what="lines reclaimed")
    heat(client)


def test_a_keeper_that_does_not_answer_is_noticed(stand: Stand) -> None:
    client = stand.client(HEATER, FAN)
    os.kill(stand.keeper_pid(), signal.SIGSTOP)
    client.want(HEAT)
    until(lambda: not client.alive(), within_s=2.0, what="silence noticed")
    assert "has not answered" in client.trouble()


def test_a_main_process_that_was_itself_held_up_does_not_blame_its_keeper(
    stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = stand.client(HEATER, FAN)
    monkeypatch.setattr(client_module, "ANSWER_S", 0.0)
    client.want(HEAT)
    until(lambda: len(stand.trace()) == 3, within_s=2.0, what="keeper has switched")
    until(lambda: client.actual() == HEAT, within_s=2.0, what="answer read")
    assert client.alive()


def test_losses_are_counted_over_ten_minutes(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    client = stand.client(HEATER)
    for count in (1, 2, 3):
        client.respawn()
        until(lambda: client.alive() and stand.last("heater").why == "start", within_s=2.0, what="keeper")
        assert client.losses() == count
    monkeypatch.setattr(client_module, "LOSS_WINDOW_S", 0.0)
    assert client.losses() == 0


def test_a_compressor_rests_across_a_restart_of_everything(stand: Stand) -> None:
    cooler = LineSpec(name="cooler", gpio=22, min_off_s=0.8)

    def run(client: KeeperClient) -> float:
        def on() -> bool:
            client.want(frozenset({"cooler"}))
            return "cooler" in client.actual()

        until(on, within_s=3.0, what="cooler on")
        return stand.last("cooler").at_s

    first = stand.client(cooler)
    start_s = stand.last("cooler").at_s
    assert run(first) - start_s >= 0.8, "at the first start nothing is known of it"
    first.close()
    stopped_s = stand.last("cooler").at_s
    second = stand.client(cooler)
    again_s = stand.last("cooler").at_s
    assert run(second) - stopped_s >= 0.8
    assert run(second) - again_s < 0.8 - 0.01, "the new keeper counts the rest from before its start"
    os.kill(stand.keeper_pid(), signal.SIGKILL)
    until(lambda: not second.alive(), within_s=1.0, what="loss noticed")
    second.respawn()
    until(lambda: second.actual() == frozenset(), within_s=2.0, what="lines reclaimed")
    found_s = stand.last("cooler").at_s
    assert run(second) - found_s >= 0.8, "it ran when its keeper died, and was stopped only now"


def test_lines_that_cannot_be_kept_are_refused_all_at_once(tmp_path: Path) -> None:
    lines = [LineSpec(name="heater", gpio=17, safe_on=True), LineSpec(name="fan", gpio=17)]
    with pytest.raises(DeviceError, match=r"safe_on.*gpio 17 is used by heater, fan"):
        KeeperClient(lines, factory="mock", trace_path=tmp_path / "trace", state_path=tmp_path / "state")


def test_an_unnamed_pin_factory_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DeviceError, match=r"'native' is refused.*lgpio or mock.*no fallback"):
        KeeperClient(
            [HEATER],
            factory="native",  # type: ignore[arg-type]
            trace_path=tmp_path / "trace",
            state_path=tmp_path / "state",
        )


@pytest.mark.skipif(Path("/dev/gpiochip0").exists(), reason="this machine has real GPIO lines, which no test may touch")
def test_where_lgpio_does_not_work_nothing_else_is_tried(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "mock")
    with pytest.raises(DeviceError, match=r"'lgpio' cannot be had.*no other one is tried.*gpiochip0"):
        KeeperClient([HEATER], factory="lgpio", trace_path=tmp_path / "trace", state_path=tmp_path / "state")


def test_a_second_keeper_of_the_same_outputs_is_refused(stand: Stand) -> None:
    first = stand.client(HEATER)
    with pytest.raises(DeviceError, match=f"process {stand.keeper_pid()} already keeps these outputs"):
        stand.client(HEATER)
    assert first.alive(), "and leaves the first one alone"


def test_the_files_lie_where_the_opener_looks(stand: Stand) -> None:
    stand.client(HEATER)
    told = (stand.directory / "lines.json").read_text()
    assert '"heater"' in told
    assert stat.S_ISDIR(os.stat(f"{stand.state_path}.pipes").st_mode), "lgpio's pipes stay out of everybody's way"
