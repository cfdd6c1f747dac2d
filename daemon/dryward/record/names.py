"""Numbers for the names of channels and for remarks on readings, given out once and remembered while a connection lives."""

from __future__ import annotations

from sqlite3 import Connection

from dryward.core.chamber import CONTACT_ROLES, HUMIDITY_ROLES, TEMPERATURE_ROLES, Chamber
from dryward.record.rows import odd, tidy


class Names:
    """Looks names up in the file, and enters those it does not have yet. ``forget`` after a transaction that failed."""

    def __init__(self) -> None:
        self.channels: dict[str, int] = {}
        self._figures: dict[str, int] = {}
        self._notes: dict[tuple[str, str], int] = {}

    def forget(self) -> None:
        self.channels.clear()
        self._figures.clear()
        self._notes.clear()

    def channel(self, conn: Connection, name: str) -> int:
        """Return the number of a sensor or a scale."""
        known = self.channels.get(name)
        if known is None:
            found = conn.execute(
                "SELECT channel_id FROM channel WHERE name = ? AND kind <> 'figure' ORDER BY kind", (tidy(name),)
            ).fetchone()
            known = self.channels[name] = int(found[0]) if found else _enter(conn, "sensor", tidy(name), "", "")
        return known

    def figure(self, conn: Connection, name: str) -> int:
        """Return the number of a figure, whose unit is in its name."""
        known = self._figures.get(name)
        if known is None:
            known = self._figures[name] = _enter(conn, "figure", tidy(name), "", "")
        return known

    def remark(self, conn: Connection, value: float | None, fault: str) -> tuple[float | None, int | None]:
        """Return what the column can hold of a value, and the number of the remark that says the rest."""
        plain, word = odd(value)
        key = (tidy(fault), word or "")
        if key == ("", ""):
            return plain, None
        known = self._notes.get(key)
        if known is None:
            conn.execute("INSERT OR IGNORE INTO reading_note (fault, value_odd) VALUES (?,?)", key)
            known = int(
                conn.execute("SELECT note_id FROM reading_note WHERE fault = ? AND value_odd = ?", key).fetchone()[0]
            )
            self._notes[key] = known
        return plain, known


def enter_channels(conn: Connection, chamber: Chamber) -> None:
    """Enter the sensors and scales of a chamber, or bring their roles up to date."""
    for sensor in chamber.sensors:
        _enter(conn, "sensor", sensor.name, sensor.role, unit_of(sensor.role))
    for scale in chamber.scales:
        _enter(conn, "scale", scale.name, "", "g")


def unit_of(role: str) -> str:
    """Return the unit of what a sensor of this role measures; ``1`` for a contact, which is 1 or 0."""
    if role in TEMPERATURE_ROLES:
        return "degC"
    if role in HUMIDITY_ROLES:
        return "%RH"
    return "1" if role in CONTACT_ROLES else ""


def _enter(conn: Connection, kind: str, name: str, role: str, unit: str) -> int:
    conn.execute(
        "INSERT INTO channel (kind, name, role, unit) VALUES (?,?,?,?) ON CONFLICT (kind, name) DO UPDATE SET role = excluded.role, unit = excluded.unit",
        (kind, name, role, unit),
    )
    return int(conn.execute("SELECT channel_id FROM channel WHERE kind = ? AND name = ?", (kind, name)).fetchone()[0])
