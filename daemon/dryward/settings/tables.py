"""The tables of chamber.toml that are not the core's matter: record, service, message broker, alerts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from annotated_types import Ge, Le, MaxLen, MinLen, doc

RemoteVerb = Literal["stop", "hold", "ack", "weigh", "pull", "resume", "shelve", "load", "start", "reset"]


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
    copy_to: Annotated[
        str,
        MaxLen(400),
        doc(
            "Folder on another disk, such as /mnt/stick/dryward, to which each night's backup is copied: a card that dies takes the backups on it along. The daemon's user must be able to write there. Empty: none."
        ),
    ] = ""


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


@dataclass(frozen=True, slots=True, kw_only=True)
class MqttSettings:
    """The message broker that carries the chamber's state, its events and remote requests. No host, no broker."""

    host: Annotated[str, MaxLen(253), doc("Name or address of the broker. Empty: no broker is used.")] = ""
    port: Annotated[
        int, Ge(0), Le(65_535), doc("Port of the broker. 0: the usual one, 8883 with TLS and 1883 without.")
    ] = 0
    tls: Annotated[
        bool,
        doc(
            "Encrypted, and the broker's certificate verified. false only for a broker on this machine, such as 127.0.0.1."
        ),
    ] = True
    allow_plain_text: Annotated[
        bool,
        doc(
            "true: tls = false is taken even for a broker on another machine. Everybody on the way can then read the password and send requests."
        ),
    ] = False
    ca_file: Annotated[
        str,
        MaxLen(400),
        doc("Certificate of the authority that signed the broker's (PEM). Empty: those the system trusts."),
    ] = ""
    certificate_file: Annotated[
        str,
        MaxLen(400),
        doc("Certificate with which the chamber shows itself to the broker (PEM), where the broker asks for one."),
    ] = ""
    key_file: Annotated[
        str,
        MaxLen(400),
        doc(
            "Its private key: a systemd credential of this name, or a file with mode 0600. Needed with certificate_file."
        ),
    ] = ""
    user: Annotated[
        str, MaxLen(64), doc("User name at the broker. The chamber's own name, if you use the access list in config/.")
    ] = ""
    password_file: Annotated[
        str,
        MaxLen(400),
        doc(
            "File whose first line is that user's password: a systemd credential of this name, or a file with mode 0600."
        ),
    ] = ""
    version: Annotated[
        Literal["5", "3.1.1"], doc("Version of MQTT. '3.1.1' only for a broker that does not know 5.")
    ] = "5"
    keepalive_s: Annotated[
        int,
        Ge(5),
        Le(300),
        doc(
            "A silent connection is given up after so long, and by the broker after half as much again. 15 suits a home network."
        ),
    ] = 15
    refresh_min: Annotated[
        float,
        Ge(1.0),
        Le(1440.0),
        doc("Everything is published again this often, changed or not. A quarter of an hour heals whatever was lost."),
    ] = 15.0
    requests: Annotated[
        tuple[RemoteVerb, ...],
        MaxLen(10),
        doc(
            "What may be asked for through the broker. resume, load, start and reset can bring heat back with nobody near, shelve silences: add one only if you know who can write to the broker. []: nothing."
        ),
    ] = ("stop", "hold", "ack", "weigh", "pull")


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertSettings:
    """Messages to people: who is called for what, and when. Needs the extra 'alerts'."""

    to: Annotated[
        str,
        MaxLen(400),
        doc(
            "File with one address a line, in the form of Apprise, such as mailtos://... They hold secrets: a systemd credential of this name, or a file with mode 0600. Empty: nobody is called."
        ),
    ] = ""
    urgent_to: Annotated[
        str,
        MaxLen(400),
        doc(
            "A second such file: who is called too when an alarm or a trip is not acknowledged in time, and at once in quiet hours."
        ),
    ] = ""
    least: Annotated[
        Literal["notice", "warning", "alarm"],
        doc(
            "The least grave message that is sent. 'notice' tells of finished pieces, due weighings and the daily summary as well."
        ),
    ] = "notice"
    summary_at: Annotated[
        str,
        MaxLen(5),
        doc(
            "Local time of the daily summary of a run: progress, forecast, time out of band, what to do next. It goes to people and to the broker. When you plan your day, such as 07:00. Empty: none."
        ),
    ] = "07:00"
    quiet_from: Annotated[
        str,
        MaxLen(5),
        doc(
            "Beginning of the hours in which notices and warnings wait and no weigh-in is planned, local time such as 22:00. Alarms and trips never wait. Empty: no quiet hours."
        ),
    ] = ""
    quiet_to: Annotated[str, MaxLen(5), doc("End of these hours, such as 06:30. What has waited comes then.")] = ""
    repeat_min: Annotated[
        float, Ge(0.0), Le(1440.0), doc("A trip is told again this often until somebody acknowledges it. 0: told once.")
    ] = 10.0
    urgent_after_min: Annotated[
        float,
        Ge(0.0),
        Le(1440.0),
        doc(
            "An alarm or trip not acknowledged for so long goes to urgent_to as well. About the time you need to get there."
        ),
    ] = 15.0
    weigh_every_h: Annotated[
        float,
        Ge(0.0),
        Le(168.0),
        doc(
            "Reminds you of a piece that is weighed by hand: by the plan of openings once it can be foretold, before that when its last weight is so old. 0: never. A day for slow drying, 6 h for hot."
        ),
    ] = 12.0
    heartbeat_file: Annotated[
        str,
        MaxLen(400),
        doc(
            "File with the address of a watch service that calls you when it no longer hears from this Pi: a systemd credential of this name, or a file with mode 0600. Empty: none."
        ),
    ] = ""
    heartbeat_min: Annotated[
        float,
        Ge(1.0),
        Le(1440.0),
        doc("How often that address is called. Tell the watch service to miss you after three times this."),
    ] = 5.0
