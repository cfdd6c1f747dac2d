"""What a keeper is told at its start: a small JSON file that also serves whoever must make the lines safe later."""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass

from dryward_hardware.lines import LineSpec


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """The lines to keep, and where the keeper's files lie."""

    lines: tuple[LineSpec, ...]
    factory: str
    lease_s: float
    trace_path: str
    state_path: str

    @property
    def lock_path(self) -> str:
        """Held by the keeper as long as it lives; its text is the keeper's process id."""
        return f"{self.state_path}.lock"

    @property
    def levels_path(self) -> str:
        """Levels of the mock pins, one line for each write."""
        return f"{self.trace_path}.levels"

    @property
    def pipes_path(self) -> str:
        """A directory of the keeper's own: lgpio leaves pipes where it is imported."""
        return f"{self.state_path}.pipes"


def write_job(path: str, job: Job) -> None:
    """Write the file, whole or not at all. Raises OSError."""
    fresh = f"{path}.new"
    with open(fresh, "w", encoding="utf-8") as file:
        json.dump(asdict(job), file, indent=1)
    os.replace(fresh, path)


def read_job(path: str) -> Job:
    """Read the file. Raises OSError, or ValueError when it is not such a file."""
    with open(path, encoding="utf-8") as file:
        told = json.load(file)
    try:
        return Job(**{**told, "lines": tuple(LineSpec(**line) for line in told["lines"])})
    except (TypeError, KeyError) as error:
        raise ValueError(f"{path} does not list output lines as the keeper writes them: {error}") from error
