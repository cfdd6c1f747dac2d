"""Commands to the running daemon: accepted, or refused with a reason and exit code 1."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryward.service.serve import Daemon
from tests.doors.conftest import Command

pytestmark = pytest.mark.usefixtures("daemon")


def begin(command: Command, chamber_file: Path) -> None:
    assert command("load", str(chamber_file.with_name("batch.toml"))).exit_code == 0
    assert command("start", str(chamber_file.with_name("program.toml"))).exit_code == 0


def test_a_run_from_loading_to_stopping(command: Command, chamber_file: Path) -> None:
    begin(command, chamber_file)
    weighed = command("weigh", "loin-1", "890")
    assert weighed.exit_code == 0
    assert "1.7 %" in weighed.output
    assert command("pull", "loin-2", "840").exit_code == 0
    assert command("hold", "--reason", "visitors").exit_code == 0
    assert command("status").exit_code == 0
    stopped = command("stop", "--reason", "enough")
    assert stopped.exit_code == 0
    assert "enough" in stopped.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("weigh", "ghost", "500"), "no piece called ghost"),
        (("weigh", "loin-1", "9000"), "905 g green"),
        (("weigh", "loin-1", "0.89"), "kg"),
        (("pull", "ghost"), "no piece called ghost"),
        (("resume",), "cannot resume"),
        (("ack", "door-open"), "nothing to acknowledge"),
        (("reset",), "Nothing to reset"),
    ],
)
def test_a_refusal_says_why_and_ends_with_one(
    command: Command, chamber_file: Path, words: tuple[str, ...], said: str
) -> None:
    begin(command, chamber_file)
    result = command(*words)
    assert result.exit_code == 1
    assert said in result.output


@pytest.mark.parametrize("typed", ["812,5", "812.5 g", "812.5g"])
def test_a_weight_is_understood_as_people_type_it(typed: str, command: Command, chamber_file: Path) -> None:
    begin(command, chamber_file)
    assert "812.5 g" in command("weigh", "loin-1", typed).output
    assert "812.5 g" in command("pull", "loin-1", typed).output


def test_a_second_start_is_refused(command: Command, chamber_file: Path) -> None:
    begin(command, chamber_file)
    result = command("start", str(chamber_file.with_name("program.toml")))
    assert result.exit_code == 1
    assert "one run at a time" in result.output


def test_a_batch_with_mistakes_is_not_loaded(command: Command, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text('[[pieces]]\nname = "a"\ngreen_g = -5\n[[pieces]]\nname = "a"\ngren_g = 5\n')
    result = command("load", str(wrong))
    assert result.exit_code == 1
    assert "green_g" in result.output
    assert "gren_g" in result.output


def test_a_planned_start_is_listed_and_dropped_by_stop(command: Command, chamber_file: Path) -> None:
    assert command("load", str(chamber_file.with_name("batch.toml"))).exit_code == 0
    planned = command("start", str(chamber_file.with_name("program.toml")), "--at", "2099-01-01T06:30")
    assert planned.exit_code == 0, planned.output
    assert "Planned: hot-two-step at 01 Jan 06:30 (by" in command("status").output
    dropped = command("stop")
    assert dropped.exit_code == 0
    assert "dropped" in dropped.output
    assert "Planned" not in command("status").output


def test_wrong_use_ends_with_two(command: Command, chamber_file: Path) -> None:
    assert command("weigh", "loin-1", "heavy").exit_code == 2
    assert command("start", str(chamber_file.with_name("program.toml")), "--at", "yesterday").exit_code == 2
    assert command("start", "missing.toml").exit_code == 2


def test_what_was_accepted_is_on_record_at_once(command: Command, chamber_file: Path, daemon: Daemon) -> None:
    from dryward.record.queries import Record

    begin(command, chamber_file)
    command("weigh", "neck-1", "700")
    with Record(chamber_file.with_name("record.db")) as record:
        run_id = record.runs()[0].run_id
        assert [(w.piece, w.weight_g) for w in record.weighings(run_id)] == [("neck-1", 700.0)]


def test_the_same_batch_can_be_dried_again(command: Command, chamber_file: Path) -> None:
    begin(command, chamber_file)
    assert command("stop").exit_code == 0
    while "STOPPING" in command("status").output:
        pass  # the heater goes off first, a tick later the run has stopped
    begin(command, chamber_file)
    assert "RUNNING" in command("status").output
