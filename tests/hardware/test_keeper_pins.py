"""The lines through gpiozero: no pulse at the start, no other pin factory, no letting go.

The lgpio half runs against a stand-in for the ``lgpio`` module that notes every call, under gpiozero's own lgpio
factory; what each call means for a line is from lgpio's documentation (abyz.me.uk/lg/py_lgpio.html).
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from types import ModuleType

import gpiozero.pins.local
import pytest
from gpiozero.devices import Device

from dryward_hardware.keeper.pins import Pins
from dryward_hardware.ports import DeviceError, LineSpec

HEATER = LineSpec(name="heater", gpio=17)
LOW_HEATER = LineSpec(name="heater", gpio=17, active_high=False)
FAN = LineSpec(name="fan", gpio=18, safe_on=True)
LOW_FAN = LineSpec(name="fan", gpio=18, active_high=False, safe_on=True)
SIMULATED = LineSpec(name="vent", gpio=None)


class FakeLgpio(ModuleType):
    """Stands in for lgpio: notes the calls that touch a line."""

    SET_PULL_NONE = SET_PULL_UP = SET_PULL_DOWN = 0
    BOTH_EDGES, RISING_EDGE, FALLING_EDGE = 3, 1, 2
    error = RuntimeError

    def __init__(self) -> None:
        super().__init__("lgpio")
        self.calls: list[tuple[str, int, int]] = []
        self.busy: set[int] = set()

    def gpiochip_open(self, chip: int) -> int:
        return 7

    def gpiochip_close(self, handle: int) -> None:
        self.calls.append(("close", handle, 0))

    def gpio_claim_input(self, handle: int, gpio: int, flags: int = 0) -> None:
        self.calls.append(("claim_input", gpio, flags))

    def gpio_claim_output(self, handle: int, gpio: int, level: int = 0, flags: int = 0) -> None:
        if gpio in self.busy:
            raise RuntimeError("GPIO busy")
        self.calls.append(("claim_output", gpio, level))

    def gpio_write(self, handle: int, gpio: int, level: int) -> None:
        self.calls.append(("write", gpio, int(level)))

    def gpio_get_mode(self, handle: int, gpio: int) -> int:
        return 1 << 1  # an output

    def gpio_read(self, handle: int, gpio: int) -> int:
        return [level for _, line, level in self.calls if line == gpio][-1]


@pytest.fixture
def lgpio(monkeypatch: pytest.MonkeyPatch) -> Iterator[FakeLgpio]:
    fake = FakeLgpio()
    monkeypatch.setitem(sys.modules, "lgpio", fake)
    monkeypatch.delitem(sys.modules, "gpiozero.pins.lgpio", raising=False)
    monkeypatch.setattr(gpiozero.pins.local, "get_pi_revision", lambda: 0xC03111)  # a Pi 4B, from memory
    monkeypatch.setattr(gpiozero.pins.local.LocalPiFactory, "pins", {})
    monkeypatch.setenv("LG_WD", "/")
    yield fake
    sys.modules.pop("gpiozero.pins.lgpio", None)


@pytest.fixture(autouse=True)
def _no_default_factory(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Device, "pin_factory", None)


def no_record(_: str) -> None:
    """Mock levels are not looked at here."""


@pytest.mark.parametrize(
    ("line", "level"),
    [(HEATER, 0), (LOW_HEATER, 1), (FAN, 1), (LOW_FAN, 0)],
    ids=["high", "low", "safe-on", "low-safe-on"],
)
def test_lgpio_claims_a_line_once_with_its_safe_level(lgpio: FakeLgpio, line: LineSpec, level: int) -> None:
    """Claimed as an input first, or low and then set, an active-low board pulses."""
    Pins([line], factory="lgpio", record=no_record)
    assert lgpio.calls == [("claim_output", line.gpio, level)]


def test_lgpio_switches_with_the_polarity_of_the_board(lgpio: FakeLgpio) -> None:
    pins = Pins([LOW_HEATER, FAN], factory="lgpio", record=no_record)
    del lgpio.calls[:]
    pins.switch("heater", on=True)
    pins.switch("fan", on=False)
    assert lgpio.calls == [("write", 17, 0), ("write", 18, 0)]
    assert pins.reads_on("heater") is True
    assert pins.reads_on("fan") is False


def test_lgpio_lines_are_never_let_go(lgpio: FakeLgpio) -> None:
    """gpiozero turns a closed pin into an input without a pull; ours stays driven at its safe level."""
    Pins([HEATER], factory="lgpio", record=no_record)
    del lgpio.calls[:]
    factory = Device.pin_factory
    factory.close()
    assert [call for call in lgpio.calls if call[0] == "claim_input"] == []


def test_heat_is_made_safe_before_the_other_lines(lgpio: FakeLgpio) -> None:
    Pins([FAN, HEATER], factory="lgpio", record=no_record)
    assert [gpio for _, gpio, _ in lgpio.calls] == [17, 18]


def test_a_line_that_another_program_holds_is_named_and_the_rest_is_safe(lgpio: FakeLgpio) -> None:
    lgpio.busy = {17}
    with pytest.raises(DeviceError, match="output heater cannot have gpio 17: GPIO busy"):
        Pins([HEATER, FAN], factory="lgpio", record=no_record)
    assert lgpio.calls == [("claim_output", 18, 1)]


def test_a_mock_line_tells_every_level_it_gets() -> None:
    told: list[str] = []
    pins = Pins([LOW_HEATER], factory="mock", record=told.append)
    pins.switch("heater", on=True)
    pins.switch("heater", on=False)
    assert told == ["17 1 claim", "17 0 write", "17 1 write"]


def test_a_simulated_line_needs_no_pin() -> None:
    pins = Pins([SIMULATED], factory="mock", record=no_record)
    pins.switch("vent", on=True)
    assert pins.reads_on("vent") is None


@pytest.mark.parametrize("factory", ["native", "rpigpio", "pigpio", "", "LGPIO"])
@pytest.mark.parametrize("line", [HEATER, SIMULATED], ids=["wired", "simulated"])
def test_any_other_factory_is_refused(factory: str, line: LineSpec) -> None:
    with pytest.raises(DeviceError, match="is refused: it must be lgpio or mock"):
        Pins([line], factory=factory, record=no_record)


def test_a_factory_that_cannot_be_had_is_told_with_the_cure(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "lgpio", None)
    with pytest.raises(DeviceError, match=r"'lgpio' cannot be had \(.*install the package 'lgpio'"):
        Pins([HEATER], factory="lgpio", record=no_record)
    assert Device.pin_factory is None


def test_slim_gpiozero_has_what_is_needed_and_no_way_to_another_factory() -> None:
    script = """
import sys
from dryward_hardware.keeper.pins import slim_gpiozero
slim_gpiozero()
from gpiozero.output_devices import DigitalOutputDevice
from gpiozero.pins.mock import MockFactory
assert "gpiozero.boards" not in sys.modules and "importlib.metadata" not in sys.modules
try:
    DigitalOutputDevice(17)
except Exception as error:
    print(error)
"""
    env = {"PYTHONPATH": ":".join(filter(None, sys.path)), "GPIOZERO_PIN_FACTORY": "mock"}
    done = subprocess.run([sys.executable, "-P", "-c", script], env=env, capture_output=True, text=True, check=True)
    assert done.stdout == "keeper: the search for another pin factory is refused\n"
