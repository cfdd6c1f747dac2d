"""Notes while the service runs: through the one writer, and judged first."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from dryward.record.moments import Mark
from dryward.record.notebook import BadNote, written
from dryward.service import notebook as module
from dryward.service.notebook import Notebook
from tests.record.batch import write_batch


class Loop:
    """Stands in for the loop: takes marks, or hangs."""

    def __init__(self, *, hangs: bool = False) -> None:
        self.marks: list[Mark] = []
        self._hangs = hangs

    def mark(self, mark: Mark) -> threading.Event:
        self.marks.append(mark)
        given = threading.Event()
        if not self._hangs:
            given.set()
        return given


def test_notes_are_handed_to_the_loop(tmp_path: Path) -> None:
    write_batch(tmp_path / "r.db")
    loop = Loop()
    notes = written("r1", "fine", who="ann", photos=("a.jpg", "b.jpg"))
    assert Notebook(tmp_path / "r.db", loop.mark).write(notes) == "Noted in run r1."
    assert loop.marks == list(notes)


def test_what_is_refused_never_reaches_the_loop(tmp_path: Path) -> None:
    write_batch(tmp_path / "r.db")
    loop = Loop()
    for path, run_id, why in (("r.db", "nope", "no run 'nope'"), ("none.db", "r1", "cannot be read")):
        with pytest.raises(BadNote, match=why):
            Notebook(tmp_path / path, loop.mark).write(written(run_id, "x", who="ann"))
    assert loop.marks == []


def test_a_loop_that_hangs_is_told_of(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_batch(tmp_path / "r.db")
    monkeypatch.setattr(module, "ANSWER_S", 0.05)
    with pytest.raises(BadNote, match="hang"):
        Notebook(tmp_path / "r.db", Loop(hangs=True).mark).write(written("r1", "x", who="ann"))
