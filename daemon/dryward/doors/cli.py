"""The command line. Every command is imported when it is used; none decides anything about heat."""

from __future__ import annotations

import sys
from io import TextIOWrapper

import click

from dryward import __version__
from dryward.doors.lazy import LazyGroup

HERE = "dryward.doors"


@click.group(
    cls=LazyGroup,
    commands_at={
        "demo": (f"{HERE}.simulate:demo", "Watch a whole drying run of an invented batch, at high speed."),
        "rehearse": (f"{HERE}.simulate:rehearse", "Run a program on the simulated dryer before you trust meat to it."),
        "init": (f"{HERE}.begin:init", "Write a commented starter configuration."),
        "serve": (f"{HERE}.begin:serve", "Run the daemon for a chamber."),
        "check": (f"{HERE}.check:check", "Check chamber and machine before meat goes in."),
        "calibrate": (f"{HERE}.calibrate:calibrate", "Calibrate a scale, a thermometer or a humidity sensor."),
        "tune": (f"{HERE}.tune:tune", "Find by a relay test how to hold the heat."),
        "load": (f"{HERE}.run:load", "Register the pieces of a batch."),
        "start": (f"{HERE}.run:start", "Start a drying program, now or at a time."),
        "hold": (f"{HERE}.run:hold", "Heat off, the program waits."),
        "resume": (f"{HERE}.run:resume", "Go on after a hold."),
        "stop": (f"{HERE}.run:stop", "End the run."),
        "weigh": (f"{HERE}.run:weigh", "Enter the weight of a piece."),
        "pull": (f"{HERE}.run:pull", "Take a piece out, with its last weight."),
        "status": (f"{HERE}.status:status", "What is going on, and what to do next."),
        "ack": (f"{HERE}.run:ack", "Acknowledge alarms, with your name."),
        "reset": (f"{HERE}.run:reset", "Clear acknowledged trips, or an ended run."),
        "alerts": (f"{HERE}.alerts_command:alerts", "See that messages to people arrive."),
        "runs": (f"{HERE}.past:runs", "List the runs on record."),
        "review": (f"{HERE}.past:review", "What happened in a run."),
        "replay": (f"{HERE}.past:replay", "Step the engine through a recorded run again and compare."),
        "note": (f"{HERE}.notes:note", "Write something about a run or a piece."),
        "tag": (f"{HERE}.notes:tag", "Tag a run or a piece."),
        "find": (f"{HERE}.notes:find", "Find notes by their words and tags."),
        "compare": (f"{HERE}.compare:compare", "What differed between runs."),
        "export": (f"{HERE}.export:export", "A run as CSV, JSON Lines or Parquet."),
        "backup": (f"{HERE}.backup:backup", "Copy the record to a checked file."),
        "restore": (f"{HERE}.backup:restore", "Put a backup in the place of the record."),
        "calc": (f"{HERE}.calc:calc", "The arithmetic of the trade."),
    },
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(__version__, prog_name="dryward")
def main() -> None:
    """Dry whole-muscle meat by program, piece by piece, with the heat kept safe.

    dryward is a helper, never the protection: a chamber needs its own thermal cut-out with manual reset.
    """
    if isinstance(sys.stdout, TextIOWrapper):  # a terminal that lacks a letter shows its number instead of failing
        sys.stdout.reconfigure(errors="backslashreplace")


if __name__ == "__main__":
    sys.exit(main())
