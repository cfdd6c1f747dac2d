"""Secrets from where only the daemon can read them: a systemd credential, or a file with mode 0600.

A secret stands in no chamber file, no log, no record and no export; messages name the file, never what is in it.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from pathlib import Path


class SecretError(Exception):
    """A secret cannot be read, or others can read it too. The text names the file and the cure."""


def secret_file(named: str, environ: Mapping[str, str] = os.environ) -> Path:
    """Return the file of a secret: the systemd credential of that name, else ``named`` itself if nobody else can read it.

    Raises SecretError. The text of a credential is guarded by systemd (systemd.exec(5)): a folder only this service sees.
    """
    path = Path(named)
    folder = environ.get("CREDENTIALS_DIRECTORY", "")
    if folder and (credential := Path(folder) / path.name).is_file():
        return credential
    try:
        found = path.stat()
    except OSError as error:
        cure = f"write it there with mode 0600, or give the service a credential called {path.name}"
        raise SecretError(f"The secret {path} cannot be read ({error.strerror}): {cure}.") from None
    if not stat.S_ISREG(found.st_mode):
        raise SecretError(f"The secret {path} is no file.")
    if found.st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        mode = stat.S_IMODE(found.st_mode)
        raise SecretError(f"The secret {path} has mode {mode:04o}: others can read or change it. Run: chmod 600 {path}")
    if found.st_uid not in (os.geteuid(), 0):
        raise SecretError(
            f"The secret {path} belongs to another user, who can change it. Run: sudo chown $(whoami) {path}"
        )
    return path


def secret_lines(named: str, environ: Mapping[str, str] = os.environ) -> tuple[str, ...]:
    """Return the lines of a secret without empty ones and comments (#). Raises SecretError."""
    path = secret_file(named, environ)
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, ValueError) as error:
        raise SecretError(f"The secret {path} cannot be read: {type(error).__name__}.") from None
    return tuple(line.strip() for line in lines if line.strip() and not line.lstrip().startswith("#"))


def password(named: str, environ: Mapping[str, str] = os.environ) -> str:
    """Return the first line of a secret as it is, without its line break. Raises SecretError."""
    path = secret_file(named, environ)
    try:
        first = path.read_text(encoding="utf-8").split("\n", 1)[0].removesuffix("\r")
    except (OSError, ValueError) as error:
        raise SecretError(f"The secret {path} cannot be read: {type(error).__name__}.") from None
    if not first:
        raise SecretError(f"The first line of the secret {path} is empty: write the password there.")
    return first
