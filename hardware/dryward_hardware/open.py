"""Open devices by their kind. The only module that knows drivers and twin; each is imported when it is first needed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from dryward_hardware.ports import Batch, DeviceError, DevicesError, DeviceSpec, Source


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


def open_devices(specs: Sequence[DeviceSpec]) -> dict[str, Source]:
    """Open every device, keyed by its name. Where some fail, the others are closed and DevicesError names all that failed."""
    opened: dict[str, Source] = {}
    errors: list[DeviceError] = []
    for spec in specs:
        opener = OPENERS.get(spec.kind)
        if opener is None:
            errors.append(DeviceError(spec.name, f"kind is {spec.kind!r}; use one of {', '.join(OPENERS)}"))
            continue
        try:
            opened[spec.name] = opener(spec)
        except DeviceError as wrong:
            errors.append(wrong)
        except (OSError, ImportError) as wrong:
            errors.append(DeviceError(spec.name, f"{spec.kind} did not open: {wrong}"))
    if errors:
        for source in opened.values():
            source.close()
        raise DevicesError(errors)
    return opened
