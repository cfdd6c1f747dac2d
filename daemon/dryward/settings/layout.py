"""Which tables a file has and which dataclass each is. Reading, schemas, option tables and starters go by this list.

A new table of chamber.toml is a dataclass in ``tables.py``, a line in OWN and a field of ``Settings``.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from dryward.core.chamber import Chamber, Control, Limits, Output, Scale, Sensor
from dryward.core.program import AtEnd, Piece, Program, Step
from dryward.settings.devices import KINDS
from dryward.settings.tables import AlertSettings, MqttSettings, RecordSettings, ServiceSettings

PARTS: Mapping[str, type] = MappingProxyType({"limits": Limits, "control": Control})
"""Tables of chamber.toml that become parts of core's Chamber."""

OWN: Mapping[str, type] = MappingProxyType(
    {"record": RecordSettings, "service": ServiceSettings, "mqtt": MqttSettings, "alerts": AlertSettings}
)
"""Tables of chamber.toml that are not the core's matter."""

NAMED: Mapping[str, type] = MappingProxyType({"sensors": Sensor, "outputs": Output, "scales": Scale})
"""Tables keyed by name: [sensors.NAME]. Beside them stands [devices.NAME], whose options go by its kind."""

TABLES: tuple[str, ...] = ("chamber", "devices", *NAMED, *PARTS, *OWN)
"""Every table a chamber file may have, in the order people read it."""

__all__ = ["KINDS", "NAMED", "OWN", "PARTS", "TABLES", "AtEnd", "Chamber", "Piece", "Program", "Step"]
