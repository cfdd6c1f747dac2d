"""Where socket and record of a chamber lie, for commands that must answer at once and need nothing else of the file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields
from pathlib import Path
from typing import Any

from dryward.settings.tables import RecordSettings, ServiceSettings


def socket_path(config: Path, raw: Mapping[str, Any]) -> Path:
    """Return the daemon's socket as ``raw`` (the parsed chamber file) says; relative to the file's folder."""
    return _path(config, raw, "service", "socket", ServiceSettings)


def record_path(config: Path, raw: Mapping[str, Any]) -> Path:
    """Return the record file as ``raw`` says; relative to the file's folder."""
    return _path(config, raw, "record", "path", RecordSettings)


def _path(config: Path, raw: Mapping[str, Any], table: str, key: str, cls: type) -> Path:
    given = raw.get(table, {})
    value = given.get(key) if isinstance(given, Mapping) else None
    if not isinstance(value, str):
        value = next(f.default for f in fields(cls) if f.name == key and f.default is not MISSING)
    return beside(config, value)


def beside(config: Path, path: str) -> Path:
    """Return a path of the chamber file ``config`` in full: it counts from that file's folder, ``~`` is the caller's home."""
    return config.absolute().parent / Path(path).expanduser()
