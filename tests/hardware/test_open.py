"""Opening devices: lazily, all failures at once, several as one."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from dryward_hardware.open import OPENERS, Together, open_devices
from dryward_hardware.ports import Batch, DeviceError, DevicesError, DeviceSpec, PieceWeight, Sample, Source

CSV = "t_s,temperature\n0,20.0\n10,21.0\n"


def spec(name: str, kind: str, **options: object) -> DeviceSpec:
    return DeviceSpec(name=name, kind=kind, options=options)


class Scripted:
    """A source that plays batches."""

    def __init__(self, *batches: Batch, fails: Exception | None = None) -> None:
        self.batches = list(batches)
        self.closed = False
        self.fails = fails

    def poll(self, now_s: float) -> Batch:
        return self.batches.pop(0) if self.batches else Batch(finished=True)

    def close(self) -> None:
        self.closed = True
        if self.fails:
            raise self.fails


def test_devices_are_opened_by_their_kind(tmp_path: Path) -> None:
    (tmp_path / "room.csv").write_text(CSV)
    opened = open_devices([spec("sim", "twin"), spec("room", "recorded", file=str(tmp_path / "room.csv"))])
    assert list(opened) == ["sim", "room"]
    assert all(isinstance(source, Source) for source in opened.values())


def test_everything_that_fails_is_told_at_once_and_what_opened_is_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    good = Scripted()
    monkeypatch.setitem(OPENERS, "scripted", lambda spec: good)

    def missing_library(spec: DeviceSpec) -> Source:
        raise ImportError("No module named 'somewhere'")

    monkeypatch.setitem(OPENERS, "bare", missing_library)
    with pytest.raises(DevicesError) as caught:
        open_devices(
            [
                spec("ok", "scripted"),
                spec("sim", "twin", seed=-1),
                spec("x", "toaster"),
                spec("room", "recorded", file="nowhere.csv"),
                spec("y", "bare"),
            ]
        )
    assert [error.device for error in caught.value.errors] == ["sim", "x", "room", "y"]
    for part in (
        "seed is -1",
        "kind is 'toaster'; use one of twin, recorded",
        "nowhere.csv cannot be read",
        "bare did not open: No module named 'somewhere'",
    ):
        assert part in str(caught.value)
    assert good.closed


def test_drivers_are_imported_only_when_they_are_used() -> None:
    code = "import sys, dryward_hardware.open; print([m for m in sys.modules if m.startswith(('dryward_hardware.twin', 'dryward_hardware.recorded', 'dryward_hardware.drivers'))])"
    done = subprocess.run(
        [sys.executable, "-c", code], env={"PYTHONPATH": ":".join(sys.path)}, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_together_joins_batches_in_order_and_is_finished_when_all_are() -> None:
    one = Scripted(Batch(samples=(Sample("a/x", 1.0, 0.0),), notes=("n1",)), Batch(finished=True))
    two = Scripted(
        Batch(weights=(PieceWeight("p", 5.0, 0.0),), notes=("n2",), finished=True),
        Batch(samples=(Sample("b/x", 2.0, 1.0),)),
    )
    both = Together({"one": one, "two": two})
    assert isinstance(both, Source)
    assert both.poll(0.0) == Batch(
        samples=(Sample("a/x", 1.0, 0.0),), weights=(PieceWeight("p", 5.0, 0.0),), notes=("n1", "n2")
    )
    assert both.poll(1.0) == Batch(samples=(Sample("b/x", 2.0, 1.0),), finished=True)


def test_nothing_together_is_never_finished() -> None:
    assert Together({}).poll(0.0) == Batch()


def test_closing_goes_on_past_a_device_that_does_not_close() -> None:
    bad, worse, good = Scripted(fails=OSError("gone")), Scripted(fails=DeviceError("worse", "is stuck")), Scripted()
    with pytest.raises(DevicesError, match="bad: did not close: gone; worse: is stuck"):
        Together({"bad": bad, "worse": worse, "good": good}).close()
    assert good.closed
    Together({"good": good}).close()
