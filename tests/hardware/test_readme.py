"""hardware/README.md keeps up with the drivers: reasons, ratings, options, kinds."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from dryward.settings.devices import KINDS
from dryward_hardware.open import READ_APART
from dryward_hardware.reader import driver

HARDWARE = Path(__file__).parents[2] / "hardware"
README = (HARDWARE / "README.md").read_text()


def reasons() -> set[str]:
    """Return every fixed text that a driver can give for a read that failed."""
    found = {value for name, value in vars(driver).items() if name.isupper() and isinstance(value, str)}
    found |= set(driver.WORDS.values())
    for path in (HARDWARE / "dryward_hardware" / "drivers").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if (
                isinstance(node, ast.Call)
                and ast.unparse(node.func) == "Missed"
                and isinstance(node.args[0], ast.Constant)
            ):
                found.add(node.args[0].value)
            if (
                isinstance(node, ast.Assign)
                and isinstance(node.value, ast.Constant)
                and ast.unparse(node.targets[0]) in ("STUCK", "BROKEN_WIRE")
            ):
                found.add(node.value.value)
    return found


@pytest.mark.parametrize("reason", sorted(reasons()))
def test_every_reason_for_a_failed_read_is_explained(reason: str) -> None:
    assert reason.partition(":")[0] in README


@pytest.mark.parametrize("kind", READ_APART)
def test_every_kind_is_in_the_list_of_what_to_buy(kind: str) -> None:
    assert kind in KINDS
    assert f"`{kind}`" in README or (kind == "dht11" and "DHT11" in README)
