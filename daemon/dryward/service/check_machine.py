"""The machine under the daemon: do its lines fall back, does a watchdog watch it, is its clock set, is there room."""

from __future__ import annotations

import os
import re
import subprocess
from pathlib import Path

from dryward.service.check import Finding, Verdict
from dryward.service.clock import synchronised
from dryward.service.persist import MODULES, outputs_persist
from dryward.settings import Settings

WATCHDOGS = Path("/sys/class/watchdog")
LONGEST_S = 15.0  # fault contract F3; the Raspberry Pi's own limit is 16 s
LITTLE_MB, TOO_LITTLE_MB = 1000.0, 100.0
SQLITE = b"SQLite format 3\0"  # how such a file begins (its file format, section 1.3)
_UNITS_S = {"us": 1e-6, "ms": 1e-3, "s": 1.0, "min": 60.0, "h": 3600.0}


def outputs_fall_back(settings: Settings, *, strict: bool, modules: Path = MODULES) -> Finding:
    """Say whether a line falls back when the program that drives it dies."""
    why = outputs_persist(modules)
    if not why:
        return Finding(
            name="lines", verdict="pass", text="no setting of this kernel keeps an output on after its program has died"
        )
    cure = "Put dtparam=strict_gpiod into /boot/firmware/config.txt and reboot."
    allowed = settings.service.allow_heat_while_outputs_persist
    return Finding(name="lines", verdict="fail" if strict and not allowed else "warn", text=why, cure=cure)


def watchdog_armed(*, strict: bool, watchdogs: Path = WATCHDOGS) -> Finding:
    """Say whether the processor's watchdog will reset a hung machine in time (F3)."""
    cure = "Install dryward-watchdog.conf (systemd/README.md): RuntimeWatchdogSec=12s; then reboot."
    verdict: Verdict = "fail" if strict else "warn"
    timeout_s = _kernel_timeout_s(watchdogs)
    if timeout_s is None:
        timeout_s = _manager_timeout_s()
    if timeout_s is None:
        text = "the processor's watchdog is not armed: if the machine hangs, nothing switches the heat off"
        return Finding(name="watchdog", verdict=verdict, text=text, cure=cure)
    if timeout_s > LONGEST_S:
        text = f"the processor's watchdog waits {timeout_s:g} s; limit {LONGEST_S:g} s (a Raspberry Pi's chip counts to 16 s and wraps)"
        return Finding(name="watchdog", verdict=verdict, text=text, cure=cure)
    return Finding(
        name="watchdog", verdict="pass", text=f"the processor's watchdog resets a hung machine after {timeout_s:g} s"
    )


def _kernel_timeout_s(watchdogs: Path) -> float | None:
    """Return the timeout of the armed watchdog as the kernel shows it, None where none is armed or none is shown."""
    for device in sorted(watchdogs.glob("watchdog*")):
        try:
            if (device / "state").read_text().strip() == "active":
                return float((device / "timeout").read_text())
        except (OSError, ValueError):
            continue
    return None


def _manager_timeout_s() -> float | None:
    """Return systemd's RuntimeWatchdogUSec in s; None: not armed, or there is no systemd to ask."""
    try:
        asked = ["systemctl", "show", "--property=RuntimeWatchdogUSec", "--value"]
        said = subprocess.run(asked, capture_output=True, text=True, timeout=5.0, check=False).stdout
    except (OSError, subprocess.TimeoutExpired):
        return None
    return span_s(said) or None


def span_s(text: str) -> float:
    """Return a length of time as systemd writes it (``1min 30s``), s; 0 for ``0``, ``infinity`` and what is none."""
    return sum(float(number) * _UNITS_S[unit] for number, unit in re.findall(r"([\d.]+)\s*(us|ms|min|s|h)\b", text))


def clock_set() -> Finding:
    """Say whether the wall clock is known to be right."""
    if synchronised():
        return Finding(name="clock", verdict="pass", text="the clock is synchronised")
    text = "the clock is not synchronised: after a power cut nobody knows how long it was, and a run is held until you decide"
    return Finding(
        name="clock",
        verdict="warn",
        text=text,
        cure="Give the machine a network (timedatectl set-ntp true), or fit a battery clock.",
    )


def room_on_disk(record: Path) -> Finding:
    """Say whether the record has room and may be written."""
    if wrong := _no_record(record):
        return Finding(name="disk", verdict="fail", text=wrong, cure="Name another file in [record] path.")
    folder = record.parent
    while not folder.exists():
        folder = folder.parent
    seen = os.statvfs(folder)
    free_mb = seen.f_bavail * seen.f_frsize / 1e6
    if seen.f_flag & os.ST_RDONLY:
        return Finding(
            name="disk",
            verdict="fail",
            text=f"the file system of {record} is read-only",
            cure="Look at the card: a worn or damaged one is made read-only by the kernel.",
        )
    text = f"{free_mb:,.0f} MB free for {record}"
    cure = "Make room, or put the record on another disk ([record] path)."
    if free_mb < TOO_LITTLE_MB:
        return Finding(name="disk", verdict="fail", text=f"{text}; needed: {TOO_LITTLE_MB:g}", cure=cure)
    if free_mb < LITTLE_MB:
        return Finding(name="disk", verdict="warn", text=text, cure=cure)
    return Finding(name="disk", verdict="pass", text=text)


def _no_record(path: Path) -> str:
    """Say what stands where the record should, if it is something else; empty where nothing speaks against it."""
    if path.is_dir():
        return f"{path} is a folder and the record is a file: nothing could be written"
    try:
        with path.open("rb") as file:
            begins = file.read(len(SQLITE))
    except OSError:  # not there yet, or not for this user to read
        return ""
    return f"{path} is no record: it would be set aside and a new one begun" if begins not in (b"", SQLITE) else ""
