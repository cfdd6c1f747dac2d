"""The tables of chamber.toml that are not the core's matter: where the record lies, how the service runs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from annotated_types import Ge, Le, MaxLen, MinLen, doc


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordSettings:
    """Where and how long the record is kept."""

    path: Annotated[
        str,
        MinLen(1),
        MaxLen(400),
        doc(
            "The SQLite file. Under systemd leave it as it is; a relative path counts from the chamber file's folder, ~ is your own. A good SD card or, better, a USB disk."
        ),
    ] = "/var/lib/dryward/record.db"
    commit_s: Annotated[
        float,
        Ge(1.0),
        Le(60.0),
        doc(
            "Readings are written through to the card this often; weighings, trips and changes of state at once. Shorter loses less at a power cut and wears the card more."
        ),
    ] = 10.0
    keep_days: Annotated[
        float,
        Ge(7.0),
        Le(36_500.0),
        doc(
            "Full detail is kept so long, then thinned to lowest, mean and highest. A year lets you compare the seasons; see 'size' in the record's page for what it costs."
        ),
    ] = 365.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceSettings:
    """How the daemon runs on its machine."""

    socket: Annotated[
        str,
        MinLen(1),
        MaxLen(100),
        doc("Local socket on which commands reach the daemon. Two chambers on one machine need two."),
    ] = "/run/dryward/dryward.sock"
    socket_group: Annotated[
        str, MaxLen(32), doc("Group whose members may give commands; empty: only the daemon's own user and root.")
    ] = "dryward"
    pin_factory: Annotated[
        Literal["lgpio", "mock"],
        doc("'lgpio' drives the real lines. 'mock' drives none: for rehearsals and machines without lines."),
    ] = "lgpio"
    allow_heat_while_outputs_persist: Annotated[
        bool,
        doc(
            "true: heat although this kernel leaves a line on when the program that drove it dies. Better: put dtparam=strict_gpiod into config.txt and leave this false."
        ),
    ] = False
