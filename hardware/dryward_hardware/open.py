"""Open devices by their kind. The only module that knows drivers and twin; each is imported when it is first needed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from dryward_hardware.ports import Batch, DeviceError, DevicesError, DeviceSpec, Source

TYPE_CHECKING = False
if TYPE_CHECKING:
    from dryward_hardware.reader.driver import Driver


def _twin(spec: DeviceSpec) -> Source:
    from dryward_hardware.twin import Twin

    return Twin(spec.name, spec.options)


def _recorded(spec: DeviceSpec) -> Source:
    from dryward_hardware.recorded import Recorded

    return Recorded(spec.name, spec.options)


OPENERS: dict[str, Callable[[DeviceSpec], Source]] = {
    "twin": _twin,
    "recorded": _recorded,
}


READ_APART = ("dht22", "dht11", "w1", "iio", "hwmon", "hx711", "nau7802", "input")
"""Kinds that are read by the reader process: they may block, or take over signal handlers."""


def open_driver(spec: DeviceSpec, *, pin_factory: str, mock_levels: str = "") -> Driver:
    """Open a device of one of the kinds in READ_APART. Only for a worker of the reader. Raises OSError, ImportError."""
    from dryward_hardware.drivers.kinds import make

    return make(spec, pin_factory=pin_factory, mock_levels=mock_levels)


def prepare_drivers(kinds: Iterable[str]) -> None:
    """Import what workers of the reader can share."""
    from dryward_hardware.drivers.kinds import prepare

    prepare(kinds)


class Together:
    """Several sources polled as one; finished when every one that can finish has."""

    def __init__(self, sources: Mapping[str, Source]) -> None:
        self.sources = dict(sources)
        self._finished: set[str] = set()

    def poll(self, now_s: float) -> Batch:
        """Poll all and join what arrived, in the order of the sources."""
        batches = {name: source.poll(now_s) for name, source in self.sources.items()}
        self._finished |= {name for name, batch in batches.items() if batch.finished}
        return Batch(
            samples=tuple(sample for batch in batches.values() for sample in batch.samples),
            weights=tuple(weight for batch in batches.values() for weight in batch.weights),
            notes=tuple(note for batch in batches.values() for note in batch.notes),
            finished=bool(self.sources) and len(self._finished) == len(self.sources),
        )

    def close(self) -> None:
        """Close all, whatever happens to one; raises DevicesError afterwards."""
        errors: list[DeviceError] = []
        for name, source in self.sources.items():
            try:
                source.close()
            except (OSError, DeviceError) as wrong:
                errors.append(wrong if isinstance(wrong, DeviceError) else DeviceError(name, f"did not close: {wrong}"))
        if errors:
            raise DevicesError(errors)


def open_devices(
    specs: Sequence[DeviceSpec], *, pin_factory: str = "lgpio", mock_levels: str = ""
) -> dict[str, Source]:
    """Open every device, keyed by its name. Where some fail, the others are closed and DevicesError names all that failed.

    Those that are read apart share one reader process; ``pin_factory`` and ``mock_levels`` are for its digital inputs.
    """
    opened: dict[str, Source | None] = {}
    apart: list[DeviceSpec] = []
    errors: list[DeviceError] = []
    for spec in specs:
        try:
            if spec.kind in READ_APART:
                apart.append(_checked(spec))
                opened[spec.name] = None
            elif spec.kind in OPENERS:
                opened[spec.name] = OPENERS[spec.kind](spec)
            else:
                errors.append(
                    DeviceError(spec.name, f"kind is {spec.kind!r}; use one of {', '.join((*OPENERS, *READ_APART))}")
                )
        except DeviceError as wrong:
            errors.append(wrong)
        except (OSError, ImportError) as wrong:
            errors.append(DeviceError(spec.name, f"{spec.kind} did not open: {wrong}"))
    if errors:
        for source in opened.values():
            if source is not None:
                source.close()
        raise DevicesError(errors)
    read = _read_apart(apart, pin_factory, mock_levels) if apart else {}
    return {name: source or read[name] for name, source in opened.items()}


def _checked(spec: DeviceSpec) -> DeviceSpec:
    from dataclasses import asdict

    from dryward_hardware.checked import checked
    from dryward_hardware.drivers.options import OPTIONS

    return DeviceSpec(
        name=spec.name, kind=spec.kind, options=asdict(checked(OPTIONS[spec.kind], spec.name, spec.options))
    )


def _read_apart(specs: Sequence[DeviceSpec], pin_factory: str, mock_levels: str) -> dict[str, Source]:
    from dryward_hardware.reader.client import ReaderClient

    return ReaderClient(specs, pin_factory=pin_factory, mock_levels=mock_levels).sources()
