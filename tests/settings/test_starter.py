"""What init writes reads without a mistake and belongs together."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from dryward.settings import check_program_on_chamber, read_pieces, read_program, read_settings
from dryward.settings.schema import files
from dryward.settings.starter import STARTERS, Kind, examples, starter, starter_files


@pytest.mark.parametrize("kind", STARTERS)
def test_the_files_of_a_starter_read_clean_and_suit_each_other(tmp_path: Path, kind: Kind) -> None:
    for name, text in starter_files(kind).items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    settings = read_settings(tmp_path / "chamber.toml")
    program = read_program(tmp_path / "program.toml")
    check_program_on_chamber(program, settings.chamber)
    assert read_pieces(tmp_path / "batch.toml", settings.chamber)


@pytest.mark.parametrize("kind", STARTERS)
def test_the_schemas_named_in_the_first_lines_come_along(kind: Kind) -> None:
    written = starter_files(kind)
    assert {name: text for name, text in written.items() if name.endswith(".json")} == files()
    for name, text in written.items():
        if name.endswith(".toml"):
            assert text.startswith("#:schema ./")
            assert text.partition("\n")[0].removeprefix("#:schema ./") in written


@pytest.mark.parametrize("kind", STARTERS)
def test_a_starter_is_the_text_of_its_chamber_file(kind: Kind) -> None:
    assert starter(kind) == starter_files(kind)["chamber.toml"]


def test_a_wired_starter_gives_no_heat_before_its_owner_says_so(tmp_path: Path) -> None:
    (tmp_path / "chamber.toml").write_text(starter("dryer"), encoding="utf-8")
    assert read_settings(tmp_path / "chamber.toml").chamber.limits.commissioning


@pytest.mark.parametrize("kind", STARTERS)
def test_every_option_in_a_starter_stands_below_a_comment_at_its_first_use(kind: Kind) -> None:
    """A comment above the line, above its neighbours, or above the table's first line; repeated tables need none."""
    told: set[str] = set()
    near = False
    for line in starter(kind).splitlines():
        if line.startswith("#"):
            near = True
        elif not line.strip():
            near = False
        elif "=" in line:
            key = line.partition("=")[0].strip()
            if key not in ("kind", "role", "device"):
                assert near or key in told, f"{key} is not explained"
            told.add(key)


def test_the_examples_are_found_where_they_lie() -> None:
    assert (examples() / "twin-dryer.toml").is_file()


def test_the_wheel_carries_the_examples_beside_this_module() -> None:
    """An installed dryward has no config/ folder to look into."""
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"] == {
        "config": "dryward/settings/examples"
    }
