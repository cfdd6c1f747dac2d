"""Reads what the owner writes: TOML -> the dataclasses of core, all mistakes at once, each with place, limit and cure."""

from dryward.settings.chamber import Settings, read_settings
from dryward.settings.devices import Device
from dryward.settings.fit import check_program_on_chamber
from dryward.settings.mistakes import Mistake, SettingsError
from dryward.settings.pieces import read_pieces
from dryward.settings.program import read_program
from dryward.settings.tables import RecordSettings, ServiceSettings

__all__ = [
    "Device",
    "Mistake",
    "RecordSettings",
    "ServiceSettings",
    "Settings",
    "SettingsError",
    "check_program_on_chamber",
    "read_pieces",
    "read_program",
    "read_settings",
]
