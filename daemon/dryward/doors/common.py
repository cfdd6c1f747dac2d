"""What commands share: where the chamber is, how a refusal ends, how a request is sent."""

from __future__ import annotations

import contextlib
import json
import os
import pwd
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click

from dryward.doors.wire import Unreachable, ask

if TYPE_CHECKING:
    from dryward.settings import Settings

F = TypeVar("F", bound=Callable[..., Any])
SYSTEM_CONFIG = Path("/etc/dryward/chamber.toml")


def fail(text: str) -> NoReturn:
    """Say what went wrong and end with 1: refused or failed."""
    click.echo(text, err=True)
    sys.exit(1)


def say_json(value: object) -> None:
    """Print a value as JSON."""
    click.echo(json.dumps(value, indent=2, ensure_ascii=False))


def config_option(command: F) -> F:
    """The option that names the chamber file."""
    return click.option(
        "--config",
        "config",
        type=click.Path(dir_okay=False, path_type=Path),
        envvar="DRYWARD_CONFIG",
        default=None,
        help="Chamber file. Default: chamber.toml here, else /etc/dryward/chamber.toml.",
    )(command)


def json_option(command: F) -> F:
    """The option for machine-readable output."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")(command)


def find_config(config: Path | None) -> Path:
    """Return the chamber file to use; ends with 1 when there is none."""
    found = known_config(config)
    if found is None:
        named = config or f"chamber.toml here, nor {SYSTEM_CONFIG}"
        fail(f"There is no chamber file: no {named}. 'dryward init' writes one; '--config FILE' names another.")
    return found


def known_config(config: Path | None) -> Path | None:
    """Return the chamber file to use, None where there is none; ends with 1 where the caller may not even look."""
    if config is None:
        here = Path("chamber.toml")
        with contextlib.suppress(OSError):  # 'sudo -u dryward' in a home folder that is closed to it
            if here.is_file():
                return here
    path = config or SYSTEM_CONFIG
    try:
        return path if path.is_file() else None
    except OSError as error:
        _may_not_read(path, error)


def _may_not_read(path: Path, error: OSError) -> NoReturn:
    cure = ""
    if isinstance(error, PermissionError):
        cure = (
            " The service's files are for root and the group dryward: 'sudo adduser NAME dryward', then log in again; "
            "or put 'sudo -u dryward' before the command. '--config FILE' names another chamber file."
        )
    fail(f"{path} could not be read ({error.strerror}).{cure}")


def settings_of(config: Path | None) -> Settings:
    """Read the chamber file; ends with 1 and every mistake in it."""
    from dryward.settings import SettingsError, read_settings

    try:
        return read_settings(find_config(config))
    except SettingsError as error:
        fail(str(error))


def places(config: Path | None) -> tuple[Path, Path]:
    """Return socket and record of a chamber from its file, without the cost of reading all of it."""
    import tomllib

    path = find_config(config)
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        _may_not_read(path, error)
    except ValueError as error:
        fail(f"{path}: {error}")
    from dryward.settings.places import record_path, socket_path

    return socket_path(path, raw), record_path(path, raw)


def send(config: Path | None, verb: dict[str, Any], *, who: str | None = None, **more: Any) -> None:
    """Send a request to the daemon, print its answer; ends with 1 when it is refused."""
    message: dict[str, Any] = {"ask": verb, **more}
    if who:
        message["who"] = who
    try:
        answer = ask(places(config)[0], message)
    except Unreachable as error:
        fail(str(error))
    if not answer.get("accepted"):
        fail(f"Refused: {answer.get('text', 'no reason given')}")
    click.echo(answer["text"])


def who_runs_this() -> str:
    """Return the login name of the caller, for the record."""
    named = os.environ.get("SUDO_USER") or os.environ.get("USER") or os.environ.get("LOGNAME")
    if named:
        return named
    try:  # a shell of cron, of a container or of a service names nobody
        return pwd.getpwuid(os.getuid()).pw_name
    except KeyError:
        return "somebody"
