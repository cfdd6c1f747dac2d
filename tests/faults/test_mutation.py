"""The command that makes mutants: each is another program, by a name of its own, and its survivors are all explained."""

from __future__ import annotations

import ast
import sys

import pytest

from tests.faults import mutation
from tests.faults.mutation import MODULES, ROOT, Mutant, mutants, mutate, places, quick, source, unlike

EXPLAINED = "# Mutants\n\n- `guard.a: x > 1 -> GtE`: x is whole.\n- `guard.b: y -> not`:\n"


@pytest.mark.parametrize("module", MODULES)
def test_every_mutant_is_another_program_by_a_name_of_its_own(module: str) -> None:
    made, tree = list(mutants(module)), ast.parse(source(module))
    assert len(made) > 50
    assert len({m.what for m in made}) == len(made) == len(list(places(tree)))
    assert not any("\n" in m.what for m in made)
    for node, change in list(places(tree)):
        before = ast.unparse(node)
        mutate(node, change)
        assert ast.unparse(node) != before
    assert made[0].source() != Mutant(module, "nothing").source() == ast.unparse(ast.parse(source(module)))


def test_a_survivor_needs_an_explanation_and_an_explanation_a_survivor() -> None:
    assert unlike(["guard.a: x > 1 -> GtE"], EXPLAINED) == ([], [])
    assert unlike(["guard.c: z -> not"], EXPLAINED) == (["guard.c: z -> not"], ["guard.a: x > 1 -> GtE"])
    assert unlike(["guard.b: y -> not"], EXPLAINED)[0] == ["guard.b: y -> not"]  # a name alone explains nothing


@pytest.mark.parametrize("module", MODULES)
def test_the_tests_that_mutants_meet_exist(module: str) -> None:
    assert all((ROOT / name).is_file() for name in quick(module))


def known() -> set[str]:
    """What survivors.md explains."""
    return set(unlike([], (ROOT / "tests" / "faults" / "survivors.md").read_text())[1])


def ends_with(monkeypatch: pytest.MonkeyPatch, survivors: set[str]) -> int:
    """How the command ends when these, and nothing else, get past the tests."""
    monkeypatch.setattr(sys, "argv", ["mutation"])
    monkeypatch.setattr(mutation, "survives", lambda mutant, *_: mutant.what in survivors)
    return mutation.main()


def test_the_command_fails_for_a_survivor_unexplained_an_explanation_outlived_and_tests_that_fail_anyway(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """And every explanation names a mutant that there is: code that has changed since is noticed here."""
    nothing = {"nothing"}
    assert known()
    assert ends_with(monkeypatch, nothing | known()) == 0
    new = next(m.what for m in mutants("alarms") if m.what not in known())
    assert ends_with(monkeypatch, nothing | known() | {new}) == 1
    assert f"UNEXPLAINED {new}" in capsys.readouterr().out
    gone = sorted(known())[0]
    assert ends_with(monkeypatch, nothing | known() - {gone}) == 1
    assert f"does not survive: {gone}" in capsys.readouterr().out
    assert ends_with(monkeypatch, known()) == 2
