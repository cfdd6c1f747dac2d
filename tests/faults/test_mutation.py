"""The command that makes mutants: each is another program, by a name of its own, and its survivors are all explained."""

from __future__ import annotations

import ast

import pytest

from tests.faults.mutation import MODULES, ROOT, mutants, unlike

EXPLAINED = "# Mutants\n\n- `guard.a: x > 1 -> GtE`: x is whole.\n- `guard.b: y -> not`:\n"


@pytest.mark.parametrize("module", MODULES)
def test_every_mutant_is_another_program_by_a_name_of_its_own(module: str) -> None:
    original = ast.unparse(ast.parse((ROOT / "daemon" / "dryward" / "core" / f"{module}.py").read_text()))
    made = list(mutants(module))
    assert len(made) > 50
    assert len({m.what for m in made}) == len(made)
    assert len({m.source for m in made} | {original}) == len(made) + 1
    assert not any("\n" in m.what for m in made)


def test_a_survivor_needs_an_explanation_and_an_explanation_a_survivor() -> None:
    assert unlike(["guard.a: x > 1 -> GtE"], EXPLAINED) == ([], [])
    assert unlike(["guard.c: z -> not"], EXPLAINED) == (["guard.c: z -> not"], ["guard.a: x > 1 -> GtE"])
    assert unlike(["guard.b: y -> not"], EXPLAINED)[0] == ["guard.b: y -> not"]  # a name alone explains nothing
