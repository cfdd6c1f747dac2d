"""``alerts test`` says of every address whether it took a message."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.doors.conftest import Command
from tests.doors.mqtt_keys import secret
from tests.doors.phone import phone


def add(chamber_file: Path, text: str) -> None:
    chamber_file.write_text(f"{chamber_file.read_text()}\n{text}\n")


def test_every_address_gets_a_test_message(chamber_file: Path, tmp_path: Path, command: Command) -> None:
    with phone() as one, phone() as two:
        secret(tmp_path / "people", one.address)
        secret(tmp_path / "urgent", two.address)
        add(chamber_file, '[alerts]\nto = "people"\nurgent_to = "urgent"')
        done = command("alerts", "test")
        assert done.exit_code == 0, done.output
        assert done.output.splitlines() == [
            "1 json: taken; look whether it arrives",
            "2 json (urgent): taken; look whether it arrives",
        ]
        for rings in (one, two):
            assert rings.got[0]["title"] == "twin-dryer: news (test)"
            assert "Nothing has happened" in rings.got[0]["message"]


def test_an_address_that_does_not_take_it_ends_with_one_and_no_secret(
    chamber_file: Path, tmp_path: Path, command: Command
) -> None:
    secret(tmp_path / "people", "json://S3CRET@127.0.0.1:1/x")
    add(chamber_file, '[alerts]\nto = "people"')
    done = command("alerts", "test")
    assert done.exit_code == 1
    assert "1 of 1 did not take it" in done.output
    assert "S3CRET" not in done.output


@pytest.mark.parametrize(("written", "said"), [(None, "Nobody is named"), ("# nobody", "holds no address")])
def test_nobody_to_call_is_said(
    chamber_file: Path, tmp_path: Path, command: Command, written: str | None, said: str
) -> None:
    if written is not None:
        secret(tmp_path / "people", written)
        add(chamber_file, '[alerts]\nto = "people"')
    done = command("alerts", "test")
    assert done.exit_code == 1
    assert said in done.output


def test_addresses_open_to_others_are_refused_with_the_cure(
    chamber_file: Path, tmp_path: Path, command: Command
) -> None:
    (tmp_path / "people").write_text("json://127.0.0.1:1/x\n")
    (tmp_path / "people").chmod(0o644)
    add(chamber_file, '[alerts]\nto = "people"')
    done = command("alerts", "test")
    assert done.exit_code == 1
    assert "chmod 600" in done.output
