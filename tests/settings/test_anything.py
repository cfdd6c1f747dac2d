"""Whatever stands in a file: it is read, or refused with mistakes that each have a limit and a cure."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dryward.settings import Mistake, SettingsError, read_pieces, read_program, read_settings
from tests.settings.conftest import BATCH, CHAMBER, PROGRAM

Reader = Callable[[Path], object]
KEYS = st.sampled_from(
    ["name", "kind", "gpio", "role", "ends", "steps", "limits", "twin", "air_c", "x y", "", "dwell_h", "hook"]
)
LEAVES = st.one_of(
    st.integers(-(2**40), 2**40),
    st.floats(),
    st.booleans(),
    st.text(max_size=5),
    st.dates(),
    st.just("twin"),
    st.just("control-air"),
)
VALUES = st.recursive(
    LEAVES, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3), max_leaves=6
)


def _toml(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)} = {_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, str | bool):
        return json.dumps(value).replace("\\ud", "\\ue").replace("\x7f", "\\u007f")
    if isinstance(value, float) and value == value and abs(value) != float("inf"):
        return repr(value) if "." in repr(value) or "e" in repr(value) else f"{value!r}.0"
    return str(value)


def _places(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inner = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [p for key, value in inner for p in ((*path, key), *_places(value, (*path, key)))]


def _spoiled(text: str, draw: Callable[..., Any]) -> str:
    raw = tomllib.loads(text)
    for _ in range(draw(st.integers(1, 3))):
        *above, last = draw(st.sampled_from(_places(raw)))
        node: Any = raw
        for key in above:
            node = node[key]
        match draw(st.sampled_from(["replace", "remove", "add"])):
            case "replace":
                node[last] = draw(VALUES)
            case "remove":
                del node[last]
            case "add" if isinstance(node, dict):
                node[draw(KEYS)] = draw(VALUES)
        if not _places(raw):
            break
    return "\n".join(f"{json.dumps(key)} = {_toml(value)}" for key, value in raw.items())


def _mistakes(reader: Reader, path: Path) -> tuple[Mistake, ...]:
    try:
        reader(path)
    except SettingsError as error:
        return error.mistakes
    return ()


@pytest.mark.parametrize(("reader", "text"), [(read_settings, CHAMBER), (read_program, PROGRAM), (read_pieces, BATCH)])
@settings(max_examples=100, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_spoiled_file_is_read_or_refused_in_words(
    tmp_path: Path, reader: Reader, text: str, data: st.DataObject
) -> None:
    path = tmp_path / "any.toml"
    path.write_text(_spoiled(text, data.draw), encoding="utf-8")
    tomllib.loads(path.read_text(encoding="utf-8"))
    for mistake in _mistakes(reader, path):
        assert mistake.limit
        assert mistake.cure
