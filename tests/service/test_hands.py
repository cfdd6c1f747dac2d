"""The loop's hold on the outputs: a real keeper on mock pins, or the keeper's rules in simulated time (F23)."""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from dryward.core.inputs import Notice
from dryward.service.hands import KeptHands, SimulatedHands, start_keeper, trace_path
from dryward.settings import Settings, read_settings
from dryward_hardware.keeper.client import KeeperClient
from dryward_hardware.keeper.open_outputs import read_job
from tests.faults_live.stand import GPIO, gone, until, write_chamber

HEAT = frozenset({"heater", "fan"})


class Mirror:
    """Simulated outputs that follow."""

    def __init__(self) -> None:
        self.on: frozenset[str] = frozenset()

    def want(self, on: frozenset[str], now_s: float) -> None:
        self.on = on

    def actual(self) -> frozenset[str]:
        return self.on

    def close(self) -> None:
        self.on = frozenset({"closed"})


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return read_settings(write_chamber(tmp_path))


@pytest.fixture
def keeper(settings: Settings) -> Iterator[KeeperClient]:
    made = start_keeper(settings)
    assert made is not None
    with closing(made):
        yield made


def keeper_pid(settings: Settings) -> int:
    return int(trace_path(settings).with_name(f"{settings.chamber.name}.outputs.json.lock").read_text())


def heated(hands: KeptHands) -> list[Notice]:
    """Want heat until it is on; return what was told meanwhile."""
    told: list[Notice] = []

    def on() -> bool:
        told.extend(hands.want(HEAT, 0.0))
        return "heater" in hands.actual()

    until(on, within_s=10.0, what="heat")
    return told


def killed(hands: KeptHands, settings: Settings) -> list[Notice]:
    """Kill the keeper and turn until another has the lines; return what was told meanwhile."""
    pid = keeper_pid(settings)
    os.kill(pid, signal.SIGKILL)
    until(lambda: gone(pid), within_s=5.0, what="dead")
    told: list[Notice] = []

    def replaced() -> bool:
        told.extend(hands.want(HEAT, 0.0))
        return keeper_pid(settings) != pid

    until(replaced, within_s=10.0, what="a new keeper")
    return told


def test_the_keepers_files_lie_beside_the_socket_where_the_service_unit_looks(
    settings: Settings, keeper: KeeperClient
) -> None:
    folder = Path(settings.service.socket).parent
    job = read_job(str(folder / "lines.json"))
    assert {line.name: line.gpio for line in job.lines} == GPIO
    assert Path(job.trace_path) == trace_path(settings)
    unit = (Path(__file__).parents[2] / "systemd" / "dryward.service").read_text()
    assert "/run/dryward/lines.json" in unit
    assert Path(type(settings.service)().socket).parent == Path("/run/dryward")


def test_a_chamber_without_lines_has_no_keeper(tmp_path: Path) -> None:
    plain = read_settings(write_chamber(tmp_path, gpio={}))
    assert start_keeper(plain) is None
    assert not (tmp_path / "run").exists()


def test_a_mirror_follows_what_the_keeper_really_switched(keeper: KeeperClient) -> None:
    mirror = Mirror()
    hands = KeptHands(keeper, mirror)
    hands.want(frozenset({"heater"}), 0.0)  # no heat without the fan: the keeper's own rule
    until(
        lambda: hands.want(frozenset({"heater"}), 0.0) == () and hands.actual() == frozenset(),
        within_s=5.0,
        what="an answer",
    )
    assert mirror.on == frozenset()
    heated(hands)
    hands.want(HEAT, 0.0)
    assert mirror.on == HEAT
    hands.close()
    assert hands.actual() == {"fan"}  # safe
    assert mirror.on == {"fan"}


def test_closing_twice_does_no_harm(keeper: KeeperClient) -> None:
    hands = KeptHands(keeper)
    hands.close()
    hands.close()


def test_a_lost_keeper_is_replaced_and_told(
    settings: Settings, keeper: KeeperClient, caplog: pytest.LogCaptureFixture
) -> None:
    hands = KeptHands(keeper)
    heated(hands)
    for loss in (1, 2, 3):
        told = killed(hands, settings) + heated(hands)
        assert [(n.kind, n.value) for n in told] == [("keeper-lost", float(loss))]
    assert caplog.text.count("keeper: the ") == 3


def test_what_a_keeper_complains_of_is_in_the_journal_once(
    settings: Settings, keeper: KeeperClient, caplog: pytest.LogCaptureFixture
) -> None:
    hands = KeptHands(keeper)
    trace = trace_path(settings)
    trace.unlink()
    trace.mkdir()  # nothing can be written there now
    heated(hands)
    until(
        lambda: hands.want(HEAT, 0.0) == () and "trace cannot be written" in caplog.text,
        within_s=5.0,
        what="the complaint",
    )
    for _ in range(10):
        hands.want(HEAT, 0.0)
    assert caplog.text.count("trace cannot be written") == 1


def test_simulated_hands_switch_simulated_outputs() -> None:
    mirror = Mirror()
    hands = SimulatedHands(mirror)
    assert hands.want(HEAT, 1.0) == ()
    assert hands.actual() == mirror.on == HEAT
    hands.close()
    assert mirror.on == {"closed"}


def test_hands_without_any_output_say_what_was_wanted() -> None:
    hands = SimulatedHands()
    hands.want(HEAT, 1.0)
    assert hands.actual() == HEAT
    hands.close()


def test_the_job_is_what_the_chamber_file_says(settings: Settings, keeper: KeeperClient) -> None:
    told = json.loads(Path(settings.service.socket).with_name("lines.json").read_text())
    vent = next(line for line in told["lines"] if line["name"] == "vent")
    assert (vent["min_on_s"], vent["min_off_s"], told["factory"], told["lease_s"]) == (60.0, 60.0, "mock", 3.0)
