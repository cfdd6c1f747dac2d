"""The memory of switching times: what it keeps, and that doubt means forgetting."""

from __future__ import annotations

from math import inf
from pathlib import Path

import pytest

from dryward_hardware.keeper.memory import recall, remember, this_boot
from dryward_hardware.keeper.rules import Standing

STANDINGS = {"cooler": Standing(True, 12.345678901), "heater": Standing(False, -inf)}


@pytest.fixture
def path(tmp_path: Path) -> str:
    return str(tmp_path / "state")


def test_what_is_remembered_is_recalled_to_the_digit(path: str) -> None:
    remember(path, "boot-1", STANDINGS)
    assert recall(path, "boot-1") == STANDINGS


def test_another_boot_knows_nothing(path: str) -> None:
    """Its clocks began anew, and a Pi's wall clock cannot tell how long the power was gone."""
    remember(path, "boot-1", STANDINGS)
    assert recall(path, "boot-2") == {}


def test_a_missing_memory_is_empty(path: str) -> None:
    assert recall(path, "boot-1") == {}


def test_no_cut_of_the_file_is_taken_for_the_whole(path: str) -> None:
    remember(path, "boot-1", STANDINGS)
    whole = Path(path).read_bytes()
    for length in range(len(whole) - 1):
        Path(path).write_bytes(whole[:length])
        assert recall(path, "boot-1") == {}


@pytest.mark.parametrize(
    "text", ["boot b\ncooler 2 1.0\nend\n", "boot b\ncooler 1\nend\n", "boot b\ncooler 1 x\nend\n", "\xff"]
)
def test_a_damaged_memory_is_empty(path: str, text: str) -> None:
    Path(path).write_text(text, encoding="latin-1")
    assert recall(path, "b") == {}


def test_a_memory_that_cannot_be_renewed_is_forgotten(path: str, tmp_path: Path) -> None:
    """An old one would say that a compressor has rested while it runs."""
    remember(path, "boot-1", STANDINGS)
    (tmp_path / "state.new").mkdir()
    with pytest.raises(OSError, match=r"state\.new"):
        remember(path, "boot-1", {})
    assert recall(path, "boot-1") == {}


def test_the_boot_has_an_id_that_stays() -> None:
    assert len(this_boot()) == 36
    assert this_boot() == this_boot()
