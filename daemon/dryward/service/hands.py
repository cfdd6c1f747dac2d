"""The loop's hold on the outputs: through the keeper process in real life, through its rules alone in simulated time."""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Protocol

from dryward.core.inputs import Notice
from dryward.service.wiring import lines
from dryward.settings import Settings
from dryward_hardware.keeper.client import KeeperClient
from dryward_hardware.ports import Outputs

log = logging.getLogger("dryward")


def trace_path(settings: Settings) -> Path:
    """Return the file in which the keeper writes down every switching: beside the socket, on RAM under systemd."""
    return Path(settings.service.socket).parent / f"{settings.chamber.name}.outputs.trace"


def start_keeper(settings: Settings) -> KeeperClient | None:
    """Start the keeper where there are real lines (or mock pins); simulated lines need none. Raises DeviceError.

    Its files lie beside the socket: ``lines.json`` is what ExecStopPost of the service unit reads.
    """
    real = [line for line in lines(settings.chamber) if line.gpio is not None]
    if not real:
        return None
    trace = trace_path(settings)
    state = trace.with_name(f"{settings.chamber.name}.outputs.json")
    return KeeperClient(real, factory=settings.service.pin_factory, trace_path=trace, state_path=state)


class Hands(Protocol):
    """Switches outputs and tells what went wrong with that."""

    def want(self, on: frozenset[str], now: float) -> tuple[Notice, ...]: ...

    def actual(self) -> frozenset[str]: ...

    def close(self) -> None: ...


class KeptHands:
    """Outputs through a keeper process. ``mirror`` are simulated outputs that follow what the keeper really switches."""

    def __init__(self, keeper: KeeperClient, mirror: Outputs | None = None) -> None:
        self._keeper = keeper
        self._mirror = mirror
        self._told = ""

    def want(self, on: frozenset[str], now: float) -> tuple[Notice, ...]:
        notices: tuple[Notice, ...] = ()
        text = self._keeper.trouble()
        if not self._keeper.alive():
            text = self._keeper.trouble()
            self._keeper.respawn()
            notices = (Notice("keeper-lost", float(self._keeper.losses()), text),)
        if text and text != self._told:
            log.warning("keeper: %s", text)
        self._told = text
        self._keeper.want(on, now)
        if self._mirror is not None:
            self._mirror.want(self._keeper.actual(), now)
        return notices

    def actual(self) -> frozenset[str]:
        return self._keeper.actual()

    def close(self) -> None:
        self._keeper.close()
        if self._mirror is not None:
            self._mirror.want(self._keeper.actual(), 0.0)


class SimulatedHands:
    """Outputs in simulated time: the keeper's rules round the twin, or nothing at all."""

    def __init__(self, outputs: Outputs | None = None) -> None:
        self._outputs = outputs
        self._on: frozenset[str] = frozenset()

    def want(self, on: frozenset[str], now: float) -> tuple[Notice, ...]:
        self._on = on
        if self._outputs is not None:
            self._outputs.want(on, now)
        return ()

    def actual(self) -> frozenset[str]:
        return self._on if self._outputs is None else self._outputs.actual()

    def close(self) -> None:
        if self._outputs is not None:
            self._outputs.close()
