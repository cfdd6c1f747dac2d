"""Mutants of guard, its windows and alarms against their tests: ``python -m tests.faults.mutation [--matrix]``.

Each mutant changes one comparison, one logical word, one condition or one sum, in a copy of the project; the quick tests of core
run against it, and with ``--matrix`` those that survive meet the fault matrix too. Survivors are printed; each is explained in
survivors.md, in a line "- `what`: why". Ends with 1 when one survives that is not explained there, or when one is explained
that does not survive; with 2 when the tests fail without any change.
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
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

ROOT = Path(__file__).parents[2]
MODULES = ("guard", "watch", "alarms")
FIRST = {
    "guard": ("guard_air", "guard_run", "guard"),
    "watch": ("watch_follow", "watch_answers", "watch", "guard"),
    "alarms": ("alarms", "alarms_shelving"),
}
QUICK_S, SLOW_S = 300.0, 7200.0
THEN = ("faults", "asks", "engine", "engine_properties", "trust")
OTHER: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mutant:
    """One changed module. ``what``: the place and the change, as survivors.md names it; ``number``: of the place, or None."""

    module: str
    what: str
    number: int | None = None

    def source(self) -> str:
        """Return the changed module, or as it is where nothing is to be changed."""
        tree = ast.parse(source(self.module))
        if self.number is not None:
            mutate(*list(places(tree))[self.number])
        return ast.unparse(tree)


def source(module: str) -> str:
    """Return a module of core as it is."""
    return (ROOT / "daemon" / "dryward" / "core" / f"{module}.py").read_text()


def quick(module: str) -> tuple[str, ...]:
    """Return the quick tests of a module, those most likely to notice a change first."""
    return tuple(f"tests/core/test_{name}.py" for name in (*FIRST[module], *THEN))


def mutants(module: str) -> Iterator[Mutant]:
    """Yield every mutant of a module of core, each by a name of its own."""
    tree, named = ast.parse(source(module)), Counter[str]()
    inside = {n: f.name for f in ast.walk(tree) if isinstance(f, ast.FunctionDef) for n in ast.walk(f)}
    for number, (node, change) in enumerate(places(tree)):
        before = ast.unparse(node.test if isinstance(node, ast.If) else node)
        what = f"{module}.{inside.get(node, 'module')}: {before} -> {change}"
        named[what] += 1
        yield Mutant(module, what if named[what] == 1 else f"{what} ({named[what]})", number)


def places(tree: ast.AST) -> Iterator[tuple[ast.AST, str]]:
    """Yield every node that can be changed, with the change."""
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


def mutate(node: ast.AST, change: str) -> None:
    """Make the change, in place."""
    match node:
        case ast.Compare():
            node.ops[0] = getattr(ast, change)()
        case ast.BoolOp():
            node.op = getattr(ast, change)()
        case ast.If() | ast.IfExp():
            node.test = ast.UnaryOp(ast.Not(), node.test)
        case ast.BinOp():
            node.op = getattr(ast, change)()


def survives(mutant: Mutant, copy: Path, tests: tuple[str, ...], patience_s: float) -> bool:
    """Run ``tests`` in ``copy`` with the mutant in it; it survives when they pass. One that takes longer is caught."""
    if not tests:
        return True
    target = copy / "daemon" / "dryward" / "core" / f"{mutant.module}.py"
    original = target.read_text()
    target.write_text(mutant.source())
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


def unlike(left: list[str], explained: str) -> tuple[list[str], list[str]]:
    """Return the survivors without an explanation, and the explanations without a survivor."""
    known = re.findall(r"^- `(.+)`: \S", explained, re.MULTILINE)
    return [what for what in left if what not in known], [what for what in known if what not in left]


def main() -> int:
    asked = argparse.ArgumentParser(description="Mutants of guard, its windows and alarms.")
    asked.add_argument("--matrix", action="store_true", help="survivors meet the fault matrix too")
    slow = ("tests/faults/test_matrix.py",) if asked.parse_args().matrix else ()
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
                alive = survives(mutant, copy, quick(mutant.module), QUICK_S) and survives(mutant, copy, slow, SLOW_S)
            finally:
                copies.put(copy)
            return mutant if alive else None

        unchanged = Mutant("guard", "nothing")
        if not survives(unchanged, Path(folder) / "0", (*(t for m in MODULES for t in quick(m)), *slow), SLOW_S):
            print("the tests fail without any change: nothing can be learnt from them")
            return 2
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
