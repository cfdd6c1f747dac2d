"""The house as it was designed: rooms, sizes, imports, a test for every module."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent
ROOMS = {
    "daemon/dryward": TOP / "daemon" / "dryward",
    "hardware/dryward_hardware": TOP / "hardware" / "dryward_hardware",
}
MODULES = sorted(p for room in ROOMS.values() for p in room.rglob("*.py") if "__pycache__" not in p.parts)
FIXED = {"README.md", "DEVELOPERS.md", "pyproject.toml", "daemon", "hardware", "config", "tests", "systemd"}
PURE = {
    "__future__", "annotated_types", "bisect", "collections", "dataclasses", "dryward", "enum", "functools", "itertools",
    "math", "statistics", "types", "typing",
}  # fmt: skip
FUNCTION_LINES = 60
FILE_LINES = 400


def named(path: Path) -> str:
    return str(path.relative_to(TOP))


def test_the_top_level_holds_what_the_owner_fixed_and_dot_files() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True, check=False).stdout.split()
    if not listed:
        pytest.skip("not a git checkout")
    top = {Path(name).parts[0] for name in listed}
    assert {t for t in top if not t.startswith(".")} <= FIXED


def test_nothing_generic_lands_in_site_packages() -> None:
    assert not (TOP / "daemon" / "__init__.py").exists()
    assert not (TOP / "hardware" / "__init__.py").exists()


@pytest.mark.parametrize("path", MODULES, ids=named)
def test_a_module_is_short(path: Path) -> None:
    text = path.read_text()
    assert text.count("\n") <= FILE_LINES
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            length = (node.end_lineno or node.lineno) - node.lineno + 1
            assert length <= FUNCTION_LINES + 1, f"{node.name} has {length} lines"


@pytest.mark.parametrize("path", [p for p in MODULES if p.name != "__init__.py"], ids=named)
def test_a_module_has_its_test(path: Path) -> None:
    """tests/ mirrors the rooms: test_<module>.py, or test_<package>_<module>.py for a package inside a room."""
    inside = path.relative_to(
        ROOMS["daemon/dryward"] if "dryward" in path.parts else ROOMS["hardware/dryward_hardware"]
    )
    if inside.name == "__main__.py":
        return  # started as a process by other tests
    room = "hardware" if "dryward_hardware" in path.parts else (inside.parts[0] if len(inside.parts) > 1 else ".")
    folder = TOP / "tests" / room
    inner = inside.parts[:-1] if room == "hardware" else inside.parts[1:-1]
    wanted = {f"test_{inside.stem}.py", f"test_{'_'.join([*inner, inside.stem])}.py"}
    assert any((folder / name).exists() for name in wanted), (
        f"no {' or '.join(sorted(wanted))} in {folder.relative_to(TOP)}"
    )


@pytest.mark.parametrize("path", [p for p in MODULES if {"core", "science"} & set(p.parts)], ids=named)
def test_core_and_science_import_nothing_but_what_is_pure(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text())):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [a.name for a in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
        for name in names:
            allowed = PURE | ({"psychrolib"} if path.name == "air.py" else set())
            assert name.split(".")[0] in allowed, f"{name} in {named(path)}"


def test_the_rooms_import_each_other_in_one_direction_only() -> None:
    tool = Path(sys.executable).parent / "lint-imports"
    done = subprocess.run([str(tool)], cwd=TOP, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-3000:]


def test_nothing_needs_numpy_at_run_time() -> None:
    """A 512 MB Pi has no room for it (and sqlite-utils imports it by itself where it finds it)."""
    script = (
        "import sys; sys.modules.update(numpy=None, pandas=None, scipy=None); "
        "import dryward.service.serve, dryward.doors.cli, dryward.record.queries, dryward.doors.simulate, "
        "dryward.service.rehearsal, dryward_hardware.twin"
    )
    subprocess.run([sys.executable, "-c", script], check=True, cwd=TOP)
