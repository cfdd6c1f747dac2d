"""JSON Schemas of the three kinds of file, for editors that check while one types.

``python -m dryward.settings.schema [FOLDER]`` writes them, and the option tables of README.md, into ``config/``.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from dataclasses import is_dataclass
from pathlib import Path
from typing import Any, get_args

from dryward.core.chamber import Output, OutputName
from dryward.settings.layout import KINDS, NAMED, OWN, PARTS, Chamber, Piece, Program
from dryward.settings.options import NAME_PATTERN, Option, options
from dryward.settings.page import with_tables

Schema = dict[str, Any]
_TYPES: Mapping[object, str] = {float: "number", int: "integer", str: "string", bool: "boolean", dict: "object"}


def table_schema(cls: type, *, leave_out: frozenset[str] = frozenset(), put: Schema | None = None) -> Schema:
    """Describe one table: its options, what is needed, nothing else allowed. ``put`` adds or replaces options."""
    wanted = {key: option for key, option in options(cls).items() if key not in leave_out}
    return {
        "type": "object",
        "description": (cls.__doc__ or "").partition("\n")[0],
        "properties": {key: option_schema(option) for key, option in wanted.items()} | (put or {}),
        "required": [key for key, option in wanted.items() if option.required],
        "additionalProperties": False,
    }


def option_schema(option: Option) -> Schema:
    """Describe one option: type, range, words, default."""
    one: Schema = {"type": _TYPES[option.kind]} if option.table is None else table_schema(option.table)
    if option.choices:
        one["enum"] = list(option.choices)
    if option.is_name:
        one["pattern"] = NAME_PATTERN
    if option.many:
        one = {"type": "array", "items": one} | _range(option, "minItems", "maxItems")
    elif option.kind is str:
        one |= _range(option, "minLength", "maxLength")
    elif option.kind in (int, float):
        one |= _range(
            option,
            "exclusiveMinimum" if option.low_open else "minimum",
            "exclusiveMaximum" if option.high_open else "maximum",
        )
    if option.words:
        one["description"] = option.words
    if not (option.required or option.default is None or is_dataclass(option.default)):
        one["default"] = list(option.default) if isinstance(option.default, tuple) else option.default
    return one


def _range(option: Option, low: str, high: str) -> Schema:
    ends = ((low, option.low), (high, option.high))
    return {key: int(value) if value == int(value) else value for key, value in ends if value is not None}


def _file(title: str, body: Schema) -> Schema:
    return {"$schema": "http://json-schema.org/draft-07/schema#", "title": title} | body


def _by_name(cls: type, names: str = NAME_PATTERN) -> Schema:
    return {
        "type": "object",
        "patternProperties": {names: table_schema(cls, leave_out=frozenset({"name"}))},
        "additionalProperties": False,
    }


def chamber_schema() -> Schema:
    """Return the schema of chamber.toml."""
    devices = [table_schema(cls, put={"kind": {"const": kind}}) for kind, cls in KINDS.items()]
    for device in devices:
        device["required"].insert(0, "kind")
    properties: Schema = {
        "chamber": table_schema(Chamber, leave_out=frozenset({*NAMED, *PARTS})),
        "devices": {
            "type": "object",
            "patternProperties": {NAME_PATTERN: {"oneOf": devices}},
            "additionalProperties": False,
        },
    }
    for key, cls in NAMED.items():
        properties[key] = _by_name(cls, f"^({'|'.join(get_args(OutputName))})$" if cls is Output else NAME_PATTERN)
    properties |= {key: table_schema(cls) for key, cls in {**PARTS, **OWN}.items()}
    return _file(
        "A chamber of dryward",
        {"type": "object", "properties": properties, "required": ["chamber"], "additionalProperties": False},
    )


def program_schema() -> Schema:
    """Return the schema of a program file."""
    return _file("A drying program of dryward", table_schema(Program))


def batch_schema() -> Schema:
    """Return the schema of a batch file."""
    pieces = {"type": "array", "items": table_schema(Piece), "minItems": 1}
    note = {"type": "string", "description": "A line for yourself."}
    return _file(
        "A batch of dryward",
        {
            "type": "object",
            "properties": {"note": note, "pieces": pieces},
            "required": ["pieces"],
            "additionalProperties": False,
        },
    )


def files() -> dict[str, str]:
    """Return the text of each schema file by its name."""
    made = {"chamber": chamber_schema(), "program": program_schema(), "batch": batch_schema()}
    return {
        f"{name}.schema.json": json.dumps(schema, indent=2, ensure_ascii=False) + "\n" for name, schema in made.items()
    }


def main(folder: Path) -> None:
    """Write the schema files, and the option tables into README.md, where it stands."""
    for name, text in files().items():
        (folder / name).write_text(text, encoding="utf-8")
    readme = folder / "README.md"
    if readme.exists():
        readme.write_text(with_tables(readme.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "config"))
