"""The schemas say what the reader accepts, stand in config/ as made, and let the examples pass."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft7Validator
from pydantic import TypeAdapter

from dryward.core.chamber import Limits
from dryward.core.program import Piece
from dryward.settings.layout import KINDS, NAMED, OWN, PARTS, AtEnd, Program, Step
from dryward.settings.mistakes import Findings
from dryward.settings.options import options
from dryward.settings.schema import batch_schema, chamber_schema, files, main, program_schema, table_schema
from dryward.settings.shape import RULES, build

CONFIG = Path(__file__).parents[2] / "config"
EXAMPLES = sorted(CONFIG.glob("*.toml"))


def test_the_schemas_in_config_are_those_the_code_makes() -> None:
    """When this fails: python -m dryward.settings.schema."""
    assert {p.name: p.read_text(encoding="utf-8") for p in CONFIG.glob("*.schema.json")} == files()


def test_the_schemas_are_sound_by_the_rules_of_json_schema() -> None:
    for schema in (chamber_schema(), program_schema(), batch_schema()):
        Draft7Validator.check_schema(schema)


def test_writing_makes_the_schemas_and_leaves_other_folders_alone(tmp_path: Path) -> None:
    main(tmp_path)
    assert {p.name for p in tmp_path.iterdir()} == set(files())
    (tmp_path / "README.md").write_text("a\n<!-- nothing here -->\n")
    main(tmp_path)
    assert "### Batch file" in (tmp_path / "README.md").read_text()


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.name)
def test_every_example_passes_the_schema_its_first_line_names(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    first = text.partition("\n")[0]
    assert first.startswith("#:schema ./")
    schema = json.loads((CONFIG / first.removeprefix("#:schema ./")).read_text(encoding="utf-8"))
    assert [f"{e.json_path}: {e.message}" for e in Draft7Validator(schema).iter_errors(tomllib.loads(text))] == []


@pytest.mark.parametrize(
    "spoil",
    [
        {"outputs": {"heatr": {}}},
        {"outputs": {"heater": {"gpio": 4}}},
        {"sensors": {"Top": {"role": "core", "device": "a"}}},
        {"sensors": {"top": {"role": "core"}}},
        {"devices": {"top": {"kind": "dht22"}}},
        {"devices": {"top": {"kind": "dht22", "gpio": 4, "name": "x"}}},
        {"limits": {"max_air_c": "80"}},
        {"chamber": {"name": "a", "sensors": []}},
        {"recrd": {}},
    ],
)
def test_what_the_reader_refuses_the_schema_refuses(spoil: dict[str, Any]) -> None:
    assert Draft7Validator(chamber_schema()).is_valid({"chamber": {"name": "a"}})
    assert not Draft7Validator(chamber_schema()).is_valid({"chamber": {"name": "a"}} | spoil)


@given(
    st.dictionaries(
        st.sampled_from([*options(Piece), "weight"]),
        st.one_of(
            st.floats(-1.0, 1e5), st.integers(-1, 10**5), st.text("ab-C", max_size=70), st.booleans(), st.just("loin")
        ),
    )
)
def test_schema_and_reader_judge_any_table_alike(table: dict[str, Any]) -> None:
    found = Findings("f")
    build(Piece, table, place="piece", found=found)
    assert Draft7Validator(table_schema(Piece)).is_valid(table) is not bool(found.mistakes)


@pytest.mark.parametrize(
    "cls", [Limits, Piece, Program, Step, AtEnd, *NAMED.values(), *PARTS.values(), *OWN.values(), *KINDS.values()]
)
def test_ranges_choices_and_needs_are_those_pydantic_finds(cls: type) -> None:
    """Against pydantic's own schema of the same dataclass, an independent reading of the annotations."""
    theirs = TypeAdapter(list[cls], config=RULES).json_schema()  # type: ignore[valid-type]
    defs = theirs["$defs"]

    def resolved(node: dict[str, Any]) -> dict[str, Any]:
        if "$ref" in node:
            return resolved(defs[node["$ref"].removeprefix("#/$defs/")])
        if "anyOf" in node:
            return resolved(next(n for n in node["anyOf"] if n.get("type") != "null"))
        return node

    def same(ours: dict[str, Any], node: dict[str, Any]) -> None:
        node = resolved(node)
        for key in (
            "minimum",
            "maximum",
            "exclusiveMinimum",
            "exclusiveMaximum",
            "minLength",
            "maxLength",
            "minItems",
            "maxItems",
            "type",
            "enum",
        ):
            assert ours.get(key) == (node.get(key) if key != "enum" or "const" not in node else [node["const"]]), key
        if ours.get("type") == "object" and "properties" in ours:
            assert set(ours["properties"]) == set(node["properties"])
            assert set(ours["required"]) == set(node.get("required", []))
            for key, inner in ours["properties"].items():
                same(inner, node["properties"][key])
        if ours.get("type") == "array":
            same(ours["items"], node["items"])

    same(table_schema(cls), defs[cls.__name__])
