"""A command is imported when it is used, not before."""

from __future__ import annotations

import sys

import click
from click.testing import CliRunner

from dryward.doors.lazy import LazyGroup


def test_listing_imports_nothing_and_running_does() -> None:
    group = LazyGroup("g", commands_at={"loss": ("dryward.doors.calc.loss:loss", "Target weight.")})
    kept = sys.modules.pop("dryward.doors.calc.loss", None)
    try:
        shown = CliRunner().invoke(group, ["--help"])
        assert "Target weight." in shown.output
        assert "dryward.doors.calc.loss" not in sys.modules
        assert isinstance(group.get_command(click.Context(group), "loss"), click.Command)
        assert "dryward.doors.calc.loss" in sys.modules
    finally:
        if kept is not None:
            sys.modules["dryward.doors.calc.loss"] = kept


def test_an_unknown_name_is_none() -> None:
    assert LazyGroup("g", commands_at={}).get_command(click.Context(click.Group()), "x") is None
