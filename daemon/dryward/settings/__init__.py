"""Reads what the owner writes: TOML -> the dataclasses of core, all mistakes at once, each with place, limit and cure.

Names are imported when first used: a command that only needs to know where the socket lies does not wait for pydantic.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dryward.settings.chamber import Settings, read_settings
    from dryward.settings.fit import check_program_on_chamber
    from dryward.settings.mistakes import Mistake, SettingsError
    from dryward.settings.pieces import judge_pieces, read_pieces
    from dryward.settings.program import judge_program, read_program
    from dryward.settings.sources import Device
    from dryward.settings.tables import AlertSettings, MqttSettings, RecordSettings, ServiceSettings

__all__ = [
    "AlertSettings",
    "Device",
    "Mistake",
    "MqttSettings",
    "RecordSettings",
    "ServiceSettings",
    "Settings",
    "SettingsError",
    "check_program_on_chamber",
    "judge_pieces",
    "judge_program",
    "read_pieces",
    "read_program",
    "read_settings",
]
_MODULES = {
    "chamber": ("Settings", "read_settings"),
    "fit": ("check_program_on_chamber",),
    "mistakes": ("Mistake", "SettingsError"),
    "pieces": ("judge_pieces", "read_pieces"),
    "program": ("judge_program", "read_program"),
    "sources": ("Device",),
    "tables": ("AlertSettings", "MqttSettings", "RecordSettings", "ServiceSettings"),
}
_HOME = {name: f"dryward.settings.{module}" for module, names in _MODULES.items() for name in names}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)
