"""The output lines through gpiozero, with the pin factory always named and no other one ever taken in its place.

Two habits of gpiozero are changed here, both through the hook ``Pin.output_with_state`` that it offers for this:

- Its lgpio pin is first claimed as an input, then as an output at a low level, then set. An active-low relay board
  pulses at that. Here the line is claimed once, as an output, with its level in the same system call.
- Closing a pin makes it an input without a pull. Here the pin stays driven at its safe level; the kernel decides
  what becomes of it when the process ends (``dtparam=strict_gpiod`` makes it an input, else it keeps its level).
"""

from __future__ import annotations

import importlib.machinery
import os
import sys
from collections.abc import Callable, Iterable, Sequence
from types import ModuleType

from dryward_hardware.lines import DeviceError, LineSpec

TYPE_CHECKING = False
if TYPE_CHECKING:  # typing alone would cost this process a megabyte
    from typing import Any

FACTORIES = ("lgpio", "mock")

Record = Callable[[str], None]


def slim_gpiozero() -> None:
    """Let gpiozero's modules be imported one by one. Only for a program of its own, before it imports gpiozero.

    gpiozero's front door imports every kind of device, and importlib.metadata (with the e-mail parser) to look for
    pin factories: 5 MB and half of the start time. The keeper names its factory and needs one kind of device. That
    the search for another factory now fails is welcome.
    """
    spec = importlib.machinery.PathFinder.find_spec("gpiozero")
    if "gpiozero" in sys.modules or spec is None or spec.submodule_search_locations is None:
        return
    package = ModuleType("gpiozero")
    package.__path__ = list(spec.submodule_search_locations)
    sys.modules["gpiozero"] = package
    metadata = ModuleType("importlib_metadata")
    metadata.entry_points = _no_search  # type: ignore[attr-defined]
    sys.modules["importlib_metadata"] = metadata


def _no_search(**_: object) -> Iterable[object]:
    raise DeviceError("keeper", "the search for another pin factory is refused")


class Pins:
    """The claimed lines, each driven at its safe level from the first moment on.

    ``record`` is told every level of a mock pin (``GPIO LEVEL claim`` or ``GPIO LEVEL write``). A line without a
    gpio is a simulated one and has no pin. Raises DeviceError naming the factory or the line.
    """

    def __init__(self, lines: Sequence[LineSpec], *, factory: str, record: Record) -> None:
        self._devices: dict[str, Any] = {}
        wired = [line for line in lines if line.gpio is not None]
        made = _factory(factory, record) if wired or factory not in FACTORIES else None
        errors = []
        for line in sorted(wired, key=lambda line: line.name != "heater"):  # heat is made safe first
            try:
                self._devices[line.name] = _claim(line, made)
            except Exception as error:
                errors.append(f"output {line.name} cannot have gpio {line.gpio}: {error}")
        if errors:
            raise DeviceError("keeper", "; ".join(errors))

    def switch(self, name: str, *, on: bool) -> None:
        """Drive an output. Raises what lgpio raises."""
        if name in self._devices:
            self._devices[name].value = on

    def reads_on(self, name: str) -> bool | None:
        """Return what the line itself reads as, or None for a simulated one."""
        return bool(self._devices[name].value) if name in self._devices else None


def _claim(line: LineSpec, factory: Any) -> Any:
    from gpiozero.output_devices import DigitalOutputDevice

    return DigitalOutputDevice(line.gpio, active_high=line.active_high, initial_value=line.safe_on, pin_factory=factory)


def _factory(kind: str, record: Record) -> Any:
    if kind not in FACTORIES:
        known = " or ".join(FACTORIES)
        raise DeviceError("keeper", f"pin factory {kind!r} is refused: it must be {known}; there is no fallback")
    try:
        factory = _lgpio_factory() if kind == "lgpio" else _mock_factory(record)
    except Exception as error:
        raise DeviceError(
            "keeper",
            f"pin factory {kind!r} cannot be had ({type(error).__name__}: {error}); no other one is tried. On a"
            " Raspberry Pi: install the package 'lgpio' and let this user read and write /dev/gpiochip0 (group gpio)."
            " Elsewhere: use the factory 'mock'",
        ) from error
    from gpiozero.devices import Device

    Device.pin_factory = factory  # nothing made later can pick a default
    return factory


def _lgpio_factory() -> Any:
    os.environ["LG_WD"] = os.getcwd()  # lgpio's library and its Python half must agree where its pipes are
    import lgpio
    from gpiozero.pins.lgpio import LGPIOFactory, LGPIOPin

    class SteadyPin(LGPIOPin):  # type: ignore[misc]
        def __init__(self, factory: Any, info: Any) -> None:
            super(LGPIOPin, self).__init__(factory, info)  # as LGPIOPin does, without claiming an input
            self._pwm = self._bounce = self._callback = None
            self._edges = lgpio.BOTH_EDGES

        def output_with_state(self, state: bool) -> None:
            lgpio.gpio_claim_output(self.factory._handle, self._number, int(state))

        def close(self) -> None:
            """Stay driven."""

    factory = LGPIOFactory()
    factory.pin_class = SteadyPin
    return factory


def _mock_factory(record: Record) -> Any:
    from gpiozero.pins.mock import MockFactory, MockPin

    class SteadyMockPin(MockPin):  # type: ignore[misc]
        def output_with_state(self, state: bool) -> None:
            self._state = state
            self._function = "output"
            self.clear_states()
            record(f"{self._number} {int(state)} claim")

        def _set_state(self, value: bool) -> None:
            super()._set_state(value)
            record(f"{self._number} {int(value)} write")

        def close(self) -> None:
            """Stay driven."""

    return MockFactory(revision="a02082", pin_class=SteadyMockPin)
