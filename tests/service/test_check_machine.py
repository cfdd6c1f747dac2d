"""The machine under the daemon, as files and systemd tell it."""

from __future__ import annotations

import os
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from dryward.service import check_machine as module
from dryward.service.check_machine import clock_set, outputs_fall_back, room_on_disk, span_s, watchdog_armed
from dryward.settings import Settings, read_settings
from tests.faults_live.stand import write_chamber


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return read_settings(write_chamber(tmp_path))


@pytest.fixture
def no_systemd(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))


def systemctl_says(monkeypatch: pytest.MonkeyPatch, folder: Path, text: str) -> None:
    """Put a program in front that answers as ``systemctl show --property=RuntimeWatchdogUSec --value`` does."""
    program = folder / "systemctl"
    program.write_text(f"#!/bin/sh\necho '{text}'\n")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{folder}:/usr/bin:/bin")


def watchdog(folder: Path, state: str, timeout: str, *, number: int = 0) -> Path:
    device = folder / f"watchdog{number}"
    device.mkdir(parents=True)
    (device / "state").write_text(f"{state}\n")
    (device / "timeout").write_text(f"{timeout}\n")
    return folder


def test_outputs_that_stay_on_fail_a_chamber_that_heats_for_real(settings: Settings, tmp_path: Path) -> None:
    parameters = tmp_path / "pinctrl_bcm2835" / "parameters"
    parameters.mkdir(parents=True)
    (parameters / "persist_gpio_outputs").write_text("Y\n")
    found = outputs_fall_back(settings, strict=True, modules=tmp_path)
    assert found.verdict == "fail"
    assert "dtparam=strict_gpiod" in found.cure
    assert outputs_fall_back(settings, strict=False, modules=tmp_path).verdict == "warn"
    allowed = replace(settings, service=replace(settings.service, allow_heat_while_outputs_persist=True))
    assert outputs_fall_back(allowed, strict=True, modules=tmp_path).verdict == "warn"
    (parameters / "persist_gpio_outputs").write_text("N\n")
    assert outputs_fall_back(settings, strict=True, modules=tmp_path).verdict == "pass"


@pytest.mark.usefixtures("no_systemd")
@pytest.mark.parametrize(
    ("state", "timeout", "verdict"),
    [
        ("active", "12", "pass"),
        ("active", "15", "pass"),
        ("active", "16", "fail"),
        ("inactive", "12", "fail"),
        ("active", "?", "fail"),
    ],
)
def test_the_armed_watchdog_of_the_kernel_counts(tmp_path: Path, state: str, timeout: str, verdict: str) -> None:
    """Fault F3: reset within 15 s. Files as the kernel's watchdog class shows them (Documentation/ABI/testing/sysfs-class-watchdog)."""
    found = watchdog_armed(strict=True, watchdogs=watchdog(tmp_path / "class", state, timeout))
    assert found.verdict == verdict
    assert bool(found.cure) is (verdict != "pass")


@pytest.mark.usefixtures("no_systemd")
def test_of_two_watchdogs_the_armed_one_counts(tmp_path: Path) -> None:
    watchdog(tmp_path / "class", "inactive", "60")
    assert (
        watchdog_armed(strict=True, watchdogs=watchdog(tmp_path / "class", "active", "14", number=1)).verdict == "pass"
    )


@pytest.mark.parametrize(
    ("text", "verdict"), [("12s", "pass"), ("1min 30s", "fail"), ("0", "fail"), ("infinity", "fail"), ("", "fail")]
)
def test_without_files_systemd_is_asked(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, text: str, verdict: str
) -> None:
    systemctl_says(monkeypatch, tmp_path, text)
    assert watchdog_armed(strict=True, watchdogs=tmp_path / "none").verdict == verdict


@pytest.mark.usefixtures("no_systemd")
def test_a_simulated_chamber_is_only_warned(tmp_path: Path) -> None:
    assert watchdog_armed(strict=False, watchdogs=tmp_path / "none").verdict == "warn"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("12s", 12.0),
        ("1min 30s", 90.0),
        ("2min", 120.0),
        ("500ms", 0.5),
        ("1h 1min 1s", 3661.0),
        ("10s 500ms", 10.5),
        ("0", 0.0),
        ("infinity", 0.0),
        ("", 0.0),
        ("14us", 14e-6),
    ],
)
def test_lengths_of_time_as_systemd_writes_them(text: str, expected: float) -> None:
    """systemd.time(7)."""
    assert span_s(text) == pytest.approx(expected)


@pytest.mark.parametrize("right", [True, False])
def test_a_clock_that_is_not_set_is_a_warning(monkeypatch: pytest.MonkeyPatch, right: bool) -> None:
    monkeypatch.setattr(module, "synchronised", lambda: right)
    assert clock_set().verdict == ("pass" if right else "warn")


@pytest.mark.parametrize(
    ("free_mb", "flag", "verdict"), [(5000, 0, "pass"), (500, 0, "warn"), (50, 0, "fail"), (5000, os.ST_RDONLY, "fail")]
)
def test_room_and_right_to_write(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, free_mb: int, flag: int, verdict: str
) -> None:
    real = os.statvfs(tmp_path)
    asked: list[Path] = []

    def seen(path: Path) -> os.statvfs_result:
        asked.append(path)
        fields = list(real)
        fields[1], fields[4], fields[8] = 4096, free_mb * 1_000_000 // 4096, flag
        return os.statvfs_result(fields)

    monkeypatch.setattr(module.os, "statvfs", seen)
    found = room_on_disk(tmp_path / "not" / "yet" / "there" / "record.db")
    assert found.verdict == verdict
    assert asked == [tmp_path]  # the nearest folder that exists
    assert bool(found.cure) is (verdict != "pass")


def test_a_folder_or_another_file_where_the_record_should_be_fails(tmp_path: Path) -> None:
    assert "is a folder" in room_on_disk(tmp_path).text
    other = tmp_path / "chamber.toml"
    other.write_text("[chamber]\n")
    found = room_on_disk(other)
    assert found.verdict == "fail"
    assert "no record" in found.text
    assert "[record] path" in found.cure
    with sqlite3.connect(tmp_path / "record.db") as file:
        file.execute("CREATE TABLE a (b)")
    file.close()
    assert "no record" not in room_on_disk(tmp_path / "record.db").text
