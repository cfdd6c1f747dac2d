"""What the settings name, joined to what the hardware room offers."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryward.core.program import Piece
from dryward.service import wiring as module
from dryward.service.wiring import Devices, OnMachineTime, channels, lines, scale_calibrations, simulated
from dryward.settings import Settings, read_settings
from dryward_hardware.ports import Batch, DeviceError, Sample
from tests.faults_live.stand import GPIO, write_chamber


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return read_settings(write_chamber(tmp_path))


def test_every_sensor_and_scale_has_a_channel_of_its_own(settings: Settings) -> None:
    named = channels(settings.chamber)
    assert set(named.values()) == {s.name for s in (*settings.chamber.sensors, *settings.chamber.scales)}
    assert len(named) == len(settings.chamber.sensors) + len(settings.chamber.scales)
    assert named["twin/hook-1"] == "hook-1"


def test_a_line_is_as_the_chamber_file_says(settings: Settings) -> None:
    made = {line.name: line for line in lines(settings.chamber)}
    assert {name: made[name].gpio for name in GPIO} == GPIO
    assert (made["vent"].min_on_s, made["vent"].min_off_s, made["fan"].safe_on, made["heater"].safe_on) == (
        60.0,
        60.0,
        True,
        False,
    )


def test_a_simulated_chamber_is_known_as_one(settings: Settings, tmp_path: Path) -> None:
    assert simulated(settings)
    real = tmp_path / "real"
    write_chamber(
        real,
        extra='\n[devices.bell]\nkind = "w1"\nid = "28-000000000001"\n[sensors.bell]\nrole = "core"\ndevice = "bell"\n',
    )
    assert not simulated(read_settings(real / "chamber.toml"))


def test_a_batch_hangs_in_the_simulated_chamber_and_weighs(settings: Settings) -> None:
    devices = Devices(settings)
    devices.source.poll(0.0)
    devices.hang([Piece(name="loin", green_g=900.0, scale="hook-1", thickness_mm=60.0)])
    weights = [
        s.value for at in range(1, 70) for s in devices.source.poll(float(at)).samples if s.channel == "twin/hook-1"
    ]
    assert weights[-1] == pytest.approx(900.0, abs=5.0)
    devices.take_off("loin")
    weights = [
        s.value for at in range(70, 140) for s in devices.source.poll(float(at)).samples if s.channel == "twin/hook-1"
    ]
    assert weights[-1] == pytest.approx(0.0, abs=5.0)
    devices.source.close()


def test_simulated_outputs_are_those_of_the_twin(settings: Settings) -> None:
    devices = Devices(settings)
    outputs = devices.simulated_outputs()
    assert outputs is not None
    outputs.want(frozenset({"fan"}), 0.0)
    assert outputs.actual() == {"fan"}


class Machine:
    """A real source: it is asked by the monotonic clock and stamps by it."""

    def __init__(self) -> None:
        self.asked: list[float] = []

    def poll(self, now_s: float) -> Batch:
        self.asked.append(now_s)
        return Batch(
            (Sample("d/t", 20.0, now_s - 0.5), Sample("d/h", None, now_s + 5.0, "late")), notes=("n",), finished=True
        )

    def close(self) -> None:
        raise DeviceError("d", "closed")


def test_samples_of_a_real_source_are_moved_to_the_chamber_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module.time, "monotonic", lambda: 7000.0)
    inner = Machine()
    batch = OnMachineTime(inner).poll(100.0)
    assert inner.asked == [7000.0]
    assert [(s.sampled_s, s.value, s.fault) for s in batch.samples] == [
        (99.5, 20.0, ""),
        (100.0, None, "late"),
    ]  # never in the future
    assert (batch.notes, batch.finished) == (("n",), True)
    with pytest.raises(DeviceError):
        OnMachineTime(inner).close()


CELLS = """
[devices.cell]
kind = "hx711"
name = "outer"
zero_count = 8000
g_per_count = -0.01
calibration = "outer-20310402"
[devices.bare]
kind = "hx711"
name = "bare"
[scales.outer]
device = "cell"
[scales.bare]
device = "bare"
"""


def test_what_a_count_weighs_is_known_of_calibrated_load_cells_only(tmp_path: Path) -> None:
    (told,) = scale_calibrations(read_settings(write_chamber(tmp_path, extra=CELLS)))
    assert (told.scale, told.calibration, told.zero_count, told.g_per_count) == (
        "outer",
        "outer-20310402",
        8000.0,
        -0.01,
    )


def test_levels_for_mock_inputs_come_from_the_environment(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    given: list[str] = []
    really = module.open_devices

    def opened(specs: object, **more: str) -> object:
        given.append(more["mock_levels"])
        return really(specs, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(module, "open_devices", opened)
    Devices(settings)
    monkeypatch.setenv("DRYWARD_MOCK_LEVELS", "/some/file")
    Devices(settings)
    assert given == ["", "/some/file"]
