"""``alerts test``: whether a message really arrives, before it matters."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from dryward.doors.common import config_option, fail, settings_of

TEXT = (
    "This is a test. Nothing has happened in the chamber.\n"
    "If it ever does, a message like this one says what, what it means for the meat, and what to do."
)


@click.group()
def alerts() -> None:
    """Messages to people: see that they arrive."""


@alerts.command()
@config_option
def test(config: Path | None) -> None:
    """Send a test message to every address of the chamber file, and say which took it."""
    from dryward.doors.alerts_send import Sender, targets
    from dryward.doors.alerts_text import title
    from dryward.doors.secret import SecretError

    settings = settings_of(config)
    if not settings.alerts.to:
        fail("Nobody is named: write a file of addresses and its name into [alerts] to, see config/README.md.")
    try:
        who = targets(settings.alerts)
    except SecretError as error:
        fail(str(error))
    if not who:
        fail(f"{settings.alerts.to} holds no address.")
    sender = Sender()
    moment = datetime.now()
    failed = 0
    for target in who:
        why = sender.send(
            target,
            title=f"{title(settings.chamber.name, 'notice')} (test)",
            body=f"{TEXT}\n({moment:%a %d %b, %H:%M})",
            severity="notice",
        )
        failed += bool(why)
        click.echo(
            f"{target.name}{' (urgent)' if target.urgent_only else ''}: {why or 'taken; look whether it arrives'}"
        )
    if failed:
        fail(f"{failed} of {len(who)} did not take it.")
