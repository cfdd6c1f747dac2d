"""Digital inputs through gpiozero: door, fan feedback, contactor feedback, acknowledge button."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from typing import Any

from dryward_hardware.reader.driver import Value

REPEAT_S = 2.0
PULLS = {"up": True, "down": False, "none": None}


class Contact:
    """One contact: 1 or 0. It must show twice in a row before it is told, at once when it changed, else every 2 s."""

    reads = ("state",)
    period_s = 0.05
    deadline_s = 4.0

    def __init__(
        self,
        *,
        gpio: int,
        pull: str = "up",
        active_high: bool = False,
        factory: Any,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        from gpiozero.input_devices import InputDevice

        free = PULLS[pull] is None
        self._device = InputDevice(gpio, pull_up=PULLS[pull], active_state=True if free else None, pin_factory=factory)
        self._active_high = active_high
        self._clock = clock
        self._seen: bool | None = None
        self._told: bool | None = None
        self._told_s = clock()

    def read(self) -> tuple[Value, ...]:
        state = bool(self._device.pin.state) == self._active_high
        twice, self._seen = state == self._seen, state
        if not twice or (state == self._told and self._clock() - self._told_s < REPEAT_S):
            return ()
        self._told, self._told_s = state, self._clock()
        return (Value("state", float(state)),)

    def close(self) -> None:
        """Let go of the line."""
        self._device.close()


def input_factory(kind: str, mock_levels: str = "") -> Any:
    """Return the pin factory named; no other one is tried. ``mock_levels`` names a file of ``GPIO LEVEL`` lines for mock pins."""
    if kind == "lgpio":
        return _lgpio_factory(f"/tmp/dryward-inputs-{os.getpid()}")
    if kind != "mock":
        raise OSError(f"pin factory {kind!r} is refused: it must be lgpio or mock")
    from gpiozero.pins.mock import MockFactory, MockPin

    class FiledPin(MockPin):  # type: ignore[misc]
        def _get_state(self) -> bool:
            return _filed_level(mock_levels, self._number, otherwise=super()._get_state())

    return MockFactory(revision="a02082", pin_class=FiledPin)


def _lgpio_factory(folder: str) -> Any:
    """Make the factory from within a folder of its own: lgpio leaves a pipe where it is imported, needed only till opened."""
    os.mkdir(folder, 0o700)
    os.chdir(folder)
    os.environ["LG_WD"] = folder  # its library and its Python half must agree where that is
    try:
        from gpiozero.pins.lgpio import LGPIOFactory

        return LGPIOFactory()
    finally:
        for pipe in os.listdir(folder):
            os.unlink(pipe)
        os.chdir("/")
        os.rmdir(folder)


def _filed_level(path: str, number: int, *, otherwise: bool) -> bool:
    if not path:
        return otherwise
    try:
        with open(path, encoding="ascii") as file:
            levels = dict(line.split() for line in file)
    except (OSError, ValueError):  # not there yet, or just being written
        return otherwise
    return levels.get(str(number), str(int(otherwise))) == "1"
