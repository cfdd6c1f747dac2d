"""Outputs switched on request, on real keepers with mock pins."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from dryward.core.chamber import Output
from dryward.service import check_lines as module
from dryward.service.check_lines import click, kill_test
from dryward.service.lock import ChamberLock
from dryward.settings import Settings, read_settings
from tests.faults_live.stand import write_chamber


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return read_settings(write_chamber(tmp_path))


@pytest.fixture(autouse=True)
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "CLICK_S", 0.2)


def levels(folder: Path, gpio: int) -> list[int]:
    """Return the levels a mock pin was given."""
    rows = [line.split(" ") for line in (folder / "run" / "twin-dryer.outputs.trace.levels").read_text().splitlines()]
    return [int(level) for _, number, level, _ in rows if int(number) == gpio]


def test_each_output_goes_on_and_off_and_a_person_is_asked(settings: Settings, tmp_path: Path) -> None:
    asked: list[str] = []

    def seen(output: str) -> bool:
        asked.append(output)
        return output != "vent"

    found = list(click(settings, seen))
    assert asked == ["fan", "vent", "heater"]  # the heater last
    assert [f.verdict for f in found] == ["pass", "fail", "pass"]
    assert "you saw nothing" in found[1].text
    assert levels(tmp_path, 23) == [0, 1, 0, 0]  # claimed off, on, off, made safe at the end
    assert levels(tmp_path, 17).count(1) == 1
    assert levels(tmp_path, 17)[-1] == 0


def test_without_a_person_the_line_itself_is_read_back(settings: Settings) -> None:
    assert {f.verdict for f in click(settings, None)} == {"pass"}


def test_a_compressor_is_not_clicked(settings: Settings, tmp_path: Path) -> None:
    cooler = Output(name="cooler", gpio=24, min_off_s=300.0)
    cold = replace(settings, chamber=replace(settings.chamber, outputs=(cooler,)))
    (found,) = click(cold, None)
    assert found.verdict == "warn"
    assert 1 not in levels(tmp_path, 24)


def test_a_line_that_does_not_follow_fails(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "ANSWER_S", 0.3)
    monkeypatch.setattr(module.KeeperClient, "actual", lambda self: frozenset())
    (fan, *_) = click(settings, None)
    assert fan.verdict == "fail"
    assert "did not go on" in fan.text


@pytest.mark.parametrize("what", [click, kill_test])
def test_a_daemon_that_has_the_lines_keeps_them(settings: Settings, what: object) -> None:
    with closing(ChamberLock(Path(settings.service.socket).with_name("lines"))):
        (found,) = click(settings, None) if what is click else kill_test(settings)
    assert found.verdict == "fail"
    assert "Stop the daemon" in found.cure


@pytest.mark.parametrize("what", [click, kill_test])
def test_a_chamber_without_lines_has_nothing_to_switch(settings: Settings, what: object) -> None:
    bare = replace(
        settings,
        chamber=replace(settings.chamber, outputs=tuple(replace(o, gpio=None) for o in settings.chamber.outputs)),
    )
    (found,) = click(bare, None) if what is click else kill_test(bare)
    assert found.verdict == "warn"


def test_a_killed_and_a_hung_daemon_lose_the_heat_in_time(settings: Settings, tmp_path: Path) -> None:
    """Fault contract: F1 within 1 s, F2 within 5 s."""
    killed, hung = kill_test(settings)
    assert (killed.verdict, hung.verdict) == ("pass", "pass")
    assert "limit 1 s" in killed.text
    assert "limit 5 s" in hung.text
    assert levels(tmp_path, 17).count(1) == 2  # it really was on, each time
    assert levels(tmp_path, 17)[-1] == 0


def test_a_measure_that_is_too_long_fails(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_strike", lambda *_, **__: 1.01)
    killed, hung = kill_test(settings)
    assert (killed.verdict, hung.verdict) == ("fail", "pass")
    assert "Do not heat" in killed.cure
