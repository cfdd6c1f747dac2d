"""``check``: the preflight before meat goes in. Looks, and switches only what it is asked to switch."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dryward.doors.common import config_option, fail, find_config, json_option, say_json
from dryward.doors.wire import Unreachable, ask

if TYPE_CHECKING:
    from dryward.service.check import Finding
    from dryward.settings import Settings

BEFORE_CLICK = (
    "Every output will be switched on for a second, THE HEATER TOO. Unplug the heater, or put a lamp in its place. Nothing may "
    "be in the chamber that must not move or get warm. Go on?"
)
BEFORE_KILL = (
    "A daemon of its own will switch THE HEATER ON, then it is killed and hung, to measure how soon the heater is off. Unplug "
    "the heater, or put a lamp in its place. Go on?"
)


@click.command()
@click.option(
    "--program",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    default=None,
    help="Check that the chamber suits this program, step by step.",
)
@click.option("--click", "clicks", is_flag=True, help="Switch every output on and off, one by one. Asks first.")
@click.option(
    "--kill-test", "kills", is_flag=True, help="Kill a daemon that heats and measure the time to 'off'. Asks first."
)
@click.option(
    "--yes", is_flag=True, help="Do not ask before switching, nor what was seen: for a bench with nothing connected."
)
@config_option
@json_option
def check(program: Path | None, clicks: bool, kills: bool, yes: bool, config: Path | None, as_json: bool) -> None:
    """Check chamber, machine and program before meat goes in. Ends with 0 when nothing fails."""
    from dryward.service.check import CAUTIONS

    found = []
    for finding in _findings(program, config, clicks=clicks, kills=kills, ask_person=not yes):
        found.append(finding)
        if not as_json:
            click.echo(line(finding))
    failed = sum(f.verdict == "fail" for f in found)
    warned = sum(f.verdict == "warn" for f in found)
    if as_json:
        say_json({"failed": failed, "warned": warned, "findings": [asdict(f) for f in found], "cautions": CAUTIONS})
    else:
        click.echo(f"\n{summary(failed, warned)}\n\nBefore any heat:")
        for caution in CAUTIONS:
            click.echo(f"- {caution}")
    raise SystemExit(1 if failed else 0)


def line(finding: Finding) -> str:
    """Return a finding as text, its cure below it."""
    text = f"{finding.verdict.upper()}  {finding.name:<9}  {finding.text}"
    return f"{text}\n      cure: {finding.cure}" if finding.cure else text


def summary(failed: int, warned: int) -> str:
    """Say in one sentence whether meat may go in."""
    if failed:
        return f"{failed} failed, {warned} to look at: no meat, no heat before that is mended."
    return f"Nothing failed, {warned} to look at." if warned else "Nothing failed."


def _findings(
    program: Path | None, config: Path | None, *, clicks: bool, kills: bool, ask_person: bool
) -> Iterator[Finding]:
    from dryward.service import check as rules
    from dryward.service import check_machine as machine
    from dryward.service.check_sensors import measured_here, told_by_daemon
    from dryward.settings import SettingsError, read_program, read_settings

    path = find_config(config)
    try:
        settings = read_settings(path)
    except SettingsError as error:
        yield from rules.mistaken("config", error.mistakes)
        return
    yield from rules.configured(settings)
    needed: frozenset[str] = frozenset()
    if program is not None:
        try:
            read = read_program(program)
            needed = rules.needed_roles(read)
            yield from rules.programmed(settings, read, program)
        except SettingsError as error:
            yield from rules.mistaken("program", error.mistakes)
    status = _running(Path(settings.service.socket))
    yield from measured_here(settings, needed) if status is None else told_by_daemon(settings, needed, status)
    yield from _calibrated(settings)
    strict = rules.heats_for_real(settings)
    yield machine.outputs_fall_back(settings, strict=strict)
    yield machine.watchdog_armed(strict=strict)
    yield machine.clock_set()
    yield machine.room_on_disk(Path(settings.record.path))
    yield from _switched(settings, clicks=clicks, kills=kills, ask_person=ask_person)


def _calibrated(settings: Settings) -> Iterator[Finding]:
    """Say whether what measures was calibrated, and not too long ago."""
    from dryward.doors.calibration_book import Book, utc_now
    from dryward.doors.calibration_watch import worries
    from dryward.service.check import Finding

    try:
        found = list(worries(settings, Book(Path(settings.record.path)), utc_now()))
    except OSError as error:
        yield Finding(name="calibrated", verdict="warn", text=f"the book of calibrations cannot be read: {error}")
        return
    for worry in found:
        yield Finding(name="calibrated", verdict="warn", text=worry.text, cure=worry.cure)


def _switched(settings: Settings, *, clicks: bool, kills: bool, ask_person: bool) -> Iterator[Finding]:
    """Switch what was asked for, after a person has agreed."""
    from dryward.service import check_lines as lines
    from dryward.service.check import Finding

    for wanted, name, question in ((clicks, "click", BEFORE_CLICK), (kills, "kill-test", BEFORE_KILL)):
        if not wanted:
            continue
        if ask_person and not click.confirm(question, err=True):
            yield Finding(name=name, verdict="warn", text="not done: you said no")
        elif name == "click":
            yield from lines.click(settings, _seen if ask_person else None)
        else:
            yield from lines.kill_test(settings)


def _seen(output: str) -> bool:
    return click.confirm(f"Did you hear or see the {output} switch on and off?", err=True)


def _running(socket: Path) -> dict[str, Any] | None:
    """Return what a running daemon says, None when none runs; ends with 1 when there is one that does not talk to us."""
    if not socket.exists():
        return None
    try:
        status: dict[str, Any] = ask(socket, {"verb": "status"})["status"]
    except Unreachable as error:
        if isinstance(error.__cause__ or error.__context__, ConnectionRefusedError):
            return None  # it has died and left its socket
        fail(str(error) if os.access(socket, os.W_OK) else f"{error} Try: sudo -u dryward dryward check")
    return status
