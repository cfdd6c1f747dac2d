"""A click group that imports a command only when it is used, so that ``status`` answers at once."""

from __future__ import annotations

from importlib import import_module

import click


class LazyGroup(click.Group):
    """Group whose commands are named as ``"module:attribute"`` with a one-line help, imported on use."""

    def __init__(self, *args: object, commands_at: dict[str, tuple[str, str]], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.commands_at = commands_at

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands_at)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in self.commands_at:
            return None
        module, _, attribute = self.commands_at[cmd_name][0].partition(":")
        command: click.Command = getattr(import_module(module), attribute)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, help_line) for name, (_, help_line) in self.commands_at.items()])
