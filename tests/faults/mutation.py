"""Mutants of guard and alarms against their tests: ``python -m tests.faults.mutation [--matrix]``.

Each mutant changes one comparison, one logical word, one condition or one sum, in a copy of the project; the quick tests of core
run against it, and with ``--matrix`` those that survive meet the fault matrix too. Survivors are printed; each is explained in
survivors.md, in a line "- `what`: why". Ends with 1 when one survives that is not explained there, or when one is explained
that does not survive.
"""

from __future__ import annotations

import argparse
import ast
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

ROOT = Path(__file__).parents[2]
MODULES = ("guard", "alarms")
QUICK = ("guard_air", "guard_run", "guard", "alarms", "faults", "asks", "engine", "engine_properties", "watch", "trust")
OTHER: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mutant:
    """One changed module. ``what``: the place and the change, as survivors.md names it."""

    module: str
    what: str
    source: str


def mutants(module: str) -> Iterator[Mutant]:
    """Yield every mutant of a module of core, each by a name of its own."""
    named: Counter[str] = Counter()
    text = (ROOT / "daemon" / "dryward" / "core" / f"{module}.py").read_text()
    count = sum(1 for _ in _places(ast.parse(text)))
    for number in range(count):
        tree = ast.parse(text)
        node, change = list(_places(tree))[number]
        before = ast.unparse(node.test if isinstance(node, ast.If) else node)
        _mutate(node, change)
        what = f"{module}.{_function(tree, node)}: {before} -> {change}"
        named[what] += 1
        yield Mutant(module, what if named[what] == 1 else f"{what} ({named[what]})", ast.unparse(tree))


def _places(tree: ast.AST) -> Iterator[tuple[ast.AST, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            yield node, OTHER[type(node.ops[0])].__name__
        elif isinstance(node, ast.BoolOp):
            yield node, "Or" if isinstance(node.op, ast.And) else "And"
        elif isinstance(node, ast.If | ast.IfExp) and not isinstance(node.test, ast.Compare | ast.BoolOp):
            yield node, "not"
        elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add | ast.Sub) and not _is_text(node):
            yield node, "Sub" if isinstance(node.op, ast.Add) else "Add"


def _is_text(node: ast.BinOp) -> bool:
    return any(
        isinstance(part, ast.Constant | ast.JoinedStr) and not _is_number(part) for part in (node.left, node.right)
    )


def _is_number(part: ast.AST) -> bool:
    return isinstance(part, ast.Constant) and isinstance(part.value, int | float)


def _mutate(node: ast.AST, change: str) -> None:
    match node:
        case ast.Compare():
            node.ops[0] = getattr(ast, change)()
        case ast.BoolOp():
            node.op = getattr(ast, change)()
        case ast.If() | ast.IfExp():
            node.test = ast.UnaryOp(ast.Not(), node.test)
        case ast.BinOp():
            node.op = getattr(ast, change)()


def _function(tree: ast.AST, wanted: ast.AST) -> str:
    names = [f.name for f in ast.walk(tree) if isinstance(f, ast.FunctionDef) and any(n is wanted for n in ast.walk(f))]
    return names[-1] if names else "module"


def survives(mutant: Mutant, copy: Path, tests: tuple[str, ...], patience_s: float) -> bool:
    """Run ``tests`` in ``copy`` with the mutant in it; it survives when they pass. One that takes longer is caught."""
    target = copy / "daemon" / "dryward" / "core" / f"{mutant.module}.py"
    original = target.read_text()
    target.write_text(mutant.source)
    try:
        environ = {
            **os.environ,
            "PYTHONPATH": os.pathsep.join(str(copy / part) for part in ("daemon", "hardware", ".")),
        }
        command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *tests]
        return (
            subprocess.run(
                command, cwd=copy, env=environ, capture_output=True, check=False, timeout=patience_s
            ).returncode
            == 0
        )
    except subprocess.TimeoutExpired:
        return False
    finally:
        target.write_text(original)


def unlike(left: Iterable[str], explained: str) -> tuple[list[str], list[str]]:
    """Return the survivors without an explanation, and the explanations without a survivor."""
    known = re.findall(r"^- `(.+)`: \S", explained, re.MULTILINE)
    return [what for what in left if what not in known], [what for what in known if what not in set(left)]


def main() -> int:
    asked = argparse.ArgumentParser(description="Mutants of guard and alarms.")
    asked.add_argument("--matrix", action="store_true", help="survivors meet the fault matrix too")
    matrix = asked.parse_args().matrix
    every = [mutant for module in MODULES for mutant in mutants(module)]
    explained = (Path(__file__).parent / "survivors.md").read_text()
    copies: SimpleQueue[Path] = SimpleQueue()
    with tempfile.TemporaryDirectory() as folder:
        for number in range(os.cpu_count() or 1):
            copy = Path(folder) / str(number)
            for part in ("daemon", "hardware", "tests", "config"):
                shutil.copytree(ROOT / part, copy / part, ignore=shutil.ignore_patterns("__pycache__", "*.db"))
            shutil.copy(ROOT / "pyproject.toml", copy)
            copies.put(copy)

        def judged(mutant: Mutant) -> Mutant | None:
            copy = copies.get()
            try:
                alive = survives(mutant, copy, tuple(f"tests/core/test_{name}.py" for name in QUICK), 300.0)
                if alive and matrix:
                    alive = survives(mutant, copy, ("tests/faults/test_matrix.py",), 7200.0)
            finally:
                copies.put(copy)
            return mutant if alive else None

        with ThreadPoolExecutor(os.cpu_count()) as workers:
            left = [mutant for mutant in workers.map(judged, every) if mutant is not None]
    unexplained, stale = unlike([mutant.what for mutant in left], explained)
    for mutant in left:
        print("survived", "UNEXPLAINED" if mutant.what in unexplained else "", mutant.what)
    for what in stale:
        print("explained in survivors.md, but does not survive:", what)
    print(f"{len(every)} mutants, {len(left)} survived, {len(unexplained)} of them not explained in survivors.md")
    return 1 if unexplained or stale else 0


if __name__ == "__main__":
    raise SystemExit(main())
