"""The service's files, judged by systemd's own tools and by what the fault contract asks of them."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from configparser import ConfigParser
from pathlib import Path

import pytest

UNITS = Path(__file__).parents[1] / "systemd"


def systemd(tool: str, *words: str) -> subprocess.CompletedProcess[str]:
    """Run one of systemd's tools. A workstation without it skips the test; the automatic checks must have it."""
    if shutil.which(tool) is None:
        if os.environ.get("CI") == "true":
            pytest.fail(f"{tool} is missing: install systemd")
        pytest.skip(f"{tool} is not installed")
    return subprocess.run([tool, *words], capture_output=True, text=True, timeout=60)


def options(section: str) -> dict[str, str]:
    """Return the options of the service that are given once."""
    parser = ConfigParser(strict=False, interpolation=None)
    parser.optionxform = str  # type: ignore[method-assign,assignment]
    parser.read(UNITS / "dryward.service")
    return dict(parser[section])


def seconds(text: str) -> float:
    match = re.fullmatch(r"(\d+)s", text)
    assert match, text
    return float(match[1])


def test_systemd_finds_nothing_wrong_with_the_service(tmp_path: Path) -> None:
    """Only the programs' directory is replaced, by one where programs of these names exist."""
    for name in ("dryward", "python"):
        (tmp_path / name).write_text("#!/bin/sh\n")
        (tmp_path / name).chmod(0o755)
    unit = tmp_path / "dryward.service"
    unit.write_text((UNITS / "dryward.service").read_text().replace("/opt/dryward/bin/", f"{tmp_path}/"))
    done = systemd("systemd-analyze", "verify", "--man=no", str(unit))
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_systemd_would_tell_a_mistake(tmp_path: Path) -> None:
    """The check above can fail: it does on a misspelt option."""
    unit = tmp_path / "dryward.service"
    unit.write_text("[Service]\nExecStart=/bin/true\nWatchdogSecs=8s\n")
    assert "WatchdogSecs" in systemd("systemd-analyze", "verify", "--man=no", str(unit)).stderr


def test_the_service_is_exposed_to_little() -> None:
    """systemd's own measure, 0 (nothing) to 10 (anything); the goal is 2.0 at most."""
    done = systemd(
        "systemd-analyze", "security", "--offline=yes", "--no-pager", "--threshold=20", str(UNITS / "dryward.service")
    )
    (level,) = re.findall(r"Overall exposure level for dryward\.service: ([\d.]+)", done.stdout)
    assert float(level) <= 2.0
    assert done.returncode == 0


def test_the_service_starts_the_daemon_and_opens_its_outputs_after_every_end() -> None:
    service = options("Service")
    assert service["ExecStart"] == "/opt/dryward/bin/dryward serve --config /etc/dryward/chamber.toml"
    program, *words, job = service["ExecStopPost"].split()
    assert (program, words) == ("/opt/dryward/bin/python", ["-P", "-m", "dryward_hardware.keeper.open_outputs"])
    assert job == f"/run/{service['RuntimeDirectory']}/lines.json"
    assert service["Type"] == "notify"


def test_the_forecast_may_give_way_to_the_control() -> None:
    """It lowers its own priority with setpriority, which @resources holds; the filter's last word counts."""
    filters = re.findall(r"^SystemCallFilter=(.*)$", (UNITS / "dryward.service").read_text(), re.MULTILINE)
    assert [f.split()[0] for f in filters[:2]] == ["@system-service", "~@privileged"]
    assert "setpriority" in filters[-1].split()


def test_the_service_never_gives_up() -> None:
    assert options("Service")["Restart"] == "always"
    assert options("Unit")["StartLimitIntervalSec"] == "0"


def test_a_hung_service_is_started_again_within_fifteen_seconds() -> None:
    """Fault F2. A stopped process does not die of SIGABRT, so the time until SIGKILL counts in full."""
    service = options("Service")
    assert sum(seconds(service[name]) for name in ("WatchdogSec", "TimeoutAbortSec", "RestartSec")) <= 12.0


def test_no_signal_of_systemd_reaches_the_keeper_before_its_work_is_done() -> None:
    assert options("Service")["KillMode"] == "mixed"


def test_a_compressors_rest_outlives_the_service() -> None:
    assert options("Service")["RuntimeDirectoryPreserve"] == "yes"


def test_the_processors_watchdog_stays_below_its_own_limit() -> None:
    """Fault F3: reset within 15 s; the chip counts to 16 s, and longer times wrap round."""
    (text,) = re.findall(r"^RuntimeWatchdogSec=(.*)$", (UNITS / "dryward-watchdog.conf").read_text(), re.MULTILINE)
    assert 10.0 <= seconds(text) <= 14.0


@pytest.mark.skipif(os.geteuid() != 0, reason="making users in an empty root needs to be root")
def test_users_and_directories_come_out_as_meant(tmp_path: Path) -> None:
    (tmp_path / "etc" / "dryward").mkdir(parents=True)
    chamber = tmp_path / "etc" / "dryward" / "chamber.toml"
    chamber.touch()
    secret = chamber.with_name("broker.password")
    secret.touch(mode=0o600)
    for tool, words, file in (
        ("systemd-sysusers", (), "dryward.sysusers.conf"),
        ("systemd-tmpfiles", ("--create",), "dryward.tmpfiles.conf"),
    ):
        done = systemd(tool, *words, f"--root={tmp_path}", str(UNITS / file))
        assert done.returncode == 0, done.stderr
    groups = {line.split(":")[0]: line.split(":") for line in (tmp_path / "etc/group").read_text().splitlines()}
    assert groups["gpio"][3] == groups["i2c"][3] == "dryward"
    assert chamber.stat().st_mode & 0o777 == 0o640
    assert chamber.stat().st_gid == int(groups["dryward"][2])
    assert chamber.parent.stat().st_mode & 0o777 == 0o750
    assert secret.stat().st_mode & 0o777 == 0o600  # the group's members are those who use the command line
    assert (tmp_path / "run/dryward").stat().st_mode & 0o777 == int(options("Service")["RuntimeDirectoryMode"], 8)


def test_the_readme_names_every_file() -> None:
    told = (UNITS / "README.md").read_text()
    assert [file.name for file in UNITS.iterdir() if file.name != "README.md" and f"`{file.name}`" not in told] == []
