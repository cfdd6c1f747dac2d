"""The files ``dryward init`` writes: the commented examples of config/, which the wheel carries with it (pyproject)."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Literal, get_args

Kind = Literal["twin", "twin-cabinet", "dryer", "cabinet"]
STARTERS: tuple[Kind, ...] = get_args(Kind)
_FILES: Mapping[Kind, tuple[str, str, str]] = MappingProxyType(
    {
        "twin": ("twin-dryer.toml", "hot-two-step.toml", "batch-invented.toml"),
        "twin-cabinet": ("twin-cabinet.toml", "cool-cabinet.toml", "batch-invented.toml"),
        "dryer": ("dryer.toml", "hot-two-step.toml", "batch-invented.toml"),
        "cabinet": ("cabinet.toml", "cool-cabinet.toml", "batch-cabinet.toml"),
    }
)
_NAMES = ("chamber.toml", "program.toml", "batch.toml")
_SCHEMAS = ("chamber.schema.json", "program.schema.json", "batch.schema.json")


def starter(kind: Kind) -> str:
    """Return the text of a commented chamber file of this kind."""
    return _text(_FILES[kind][0])


def starter_files(kind: Kind) -> dict[str, str]:
    """Return what a folder of one's own begins with, text by file name: chamber, program, batch, the schemas for editors."""
    named = zip(_NAMES, _FILES[kind], strict=True)
    return {name: _text(example) for name, example in named} | {name: _text(name) for name in _SCHEMAS}


def examples() -> Path:
    """Return the folder of the examples: beside this module when installed, config/ in a checkout."""
    packed = Path(__file__).parent / "examples"
    return packed if packed.is_dir() else Path(__file__).parents[3] / "config"


def _text(name: str) -> str:
    return (examples() / name).read_text(encoding="utf-8")
