"""Branch coverage of guard, its windows and alarms by their tests: ``python -m tests.faults.coverage_of_guard``. Ends with 1 below 100 %."""

from __future__ import annotations

import subprocess
import sys

MODULES = ("dryward.core.guard", "dryward.core.watch", "dryward.core.alarms")


def main() -> int:
    watched = [f"--cov={module}" for module in MODULES]
    tests = ["tests/core", "tests/faults/test_matrix.py"]
    command = [sys.executable, "-m", "pytest", "-q", *tests, *watched, "--cov-branch", "--cov-report=term-missing"]
    return subprocess.run([*command, "--cov-fail-under=100"], check=False).returncode


if __name__ == "__main__":
    raise SystemExit(main())
