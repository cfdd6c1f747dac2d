"""The option tables of config/README.md are made from the words in the code, and what it shows is what is said."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryward.settings import SettingsError, read_settings
from dryward.settings.layout import KINDS, NAMED, OWN, PARTS, Chamber, Piece, Program
from dryward.settings.options import options
from dryward.settings.page import option_tables, with_tables
from dryward.settings.schema import batch_schema

README = Path(__file__).parents[2] / "config" / "README.md"


def test_the_tables_in_the_readme_are_those_the_code_makes() -> None:
    """When this fails: python -m dryward.settings.schema."""
    text = README.read_text(encoding="utf-8")
    assert with_tables(text) == text


def test_every_option_of_every_table_has_its_row() -> None:
    rows = {line.split("|")[1].strip(" `") for line in option_tables().splitlines() if line.startswith("| `")}

    def keys(cls: type) -> set[str]:
        return {key for key, o in options(cls).items() if o.table is None} | {
            k for o in options(cls).values() if o.table for k in keys(o.table)
        }

    assert rows == {
        key
        for cls in (Chamber, Program, Piece, *NAMED.values(), *PARTS.values(), *OWN.values(), *KINDS.values())
        for key in keys(cls)
    }


def test_a_row_tells_key_limit_default_and_words() -> None:
    assert "| `gpio` | a whole number from 9 to 27 | - | BCM number of the line" in option_tables()
    assert "| `pace` | one of: calm, tight | `\"calm\"` | 'calm' swings less" in option_tables()
    assert "| `green_g` | a number above 0, at most 50000 | **needed** | Raw weight" in option_tables()


def test_the_note_at_the_top_of_a_batch_is_told_too() -> None:
    """It belongs to no table of core: a batch is its pieces."""
    below = option_tables().partition("### Batch file")[2]
    for key in batch_schema()["properties"].keys() - {"pieces"}:
        assert f"`{key}`" in below.partition("[[pieces]]")[0]


def test_headings_name_the_tables_as_the_file_writes_them() -> None:
    for heading in (
        "`[chamber]`",
        "`[sensors.NAME]`",
        "`[control.plant]`",
        "`[[steps]]`",
        "`[steps.ends]`",
        "`[at_end]`",
        "`[[pieces]]`",
    ):
        assert f"#### {heading}\n" in option_tables()


def test_the_mistakes_shown_in_the_readme_are_what_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    dryer = (README.parent / "dryer.toml").read_text(encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    path = Path("dryer.toml")
    path.write_text(
        dryer.replace("gpio = 17", "gpio = 4").replace("max_air_c = 88", "max_air_c = 176"), encoding="utf-8"
    )
    with pytest.raises(SettingsError) as error:
        read_settings(path)
    shown = README.read_text(encoding="utf-8").split("```")[1]
    assert "\n".join(line.removeprefix("   ") for line in shown.strip("\n").splitlines()).strip() == str(error.value)
