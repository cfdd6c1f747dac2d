"""The keeper's job file: there and back, whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryward_hardware.keeper.job import Job, read_job, write_job
from dryward_hardware.lines import LineSpec

JOB = Job(
    lines=(LineSpec(name="heater", gpio=17, min_on_s=5.0), LineSpec(name="fan", gpio=None, safe_on=True)),
    factory="mock",
    lease_s=3.0,
    trace_path="/run/x/trace",
    state_path="/run/x/state",
)


def test_it_comes_back_as_it_was_written(tmp_path: Path) -> None:
    path = tmp_path / "lines.json"
    write_job(str(path), JOB)
    assert read_job(str(path)) == JOB
    assert list(tmp_path.iterdir()) == [path]


def test_the_keepers_own_files_lie_beside_its_state() -> None:
    assert JOB.lock_path == "/run/x/state.lock"
    assert JOB.levels_path == "/run/x/trace.levels"
    assert JOB.pipes_path == "/run/x/state.pipes"


@pytest.mark.parametrize("text", ['{"lines": 3}', '{"lines": [{"name": "heater"}]}', "[]", "{}", "no json"])
def test_what_is_no_such_file_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "lines.json"
    path.write_text(text)
    with pytest.raises(ValueError, match=r"lines|JSON|Expecting|list|such"):
        read_job(str(path))
