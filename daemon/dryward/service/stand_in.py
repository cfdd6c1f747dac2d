"""A simulated chamber to rehearse on: the owner's limits, control and outputs, the twin's sensors and cells."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path

from dryward.service.wiring import simulated
from dryward.settings import Settings, read_settings
from dryward.settings.starter import Kind, starter_files


def rehearsal_settings(named: Settings | None) -> Settings:
    """Return ``named`` when it is simulated already, else the example chamber with the owner's own figures in it.

    Nothing real gets hot, so that a chamber still being commissioned is rehearsed with heat.
    """
    if named is not None and named.chamber.limits.commissioning:
        limits = replace(named.chamber.limits, commissioning=False)
        named = replace(named, chamber=replace(named.chamber, limits=limits))
    if named is not None and named.devices and simulated(named):
        return named
    cool = named is not None and any(o.name == "cooler" for o in named.chamber.outputs)
    example = _example("twin-cabinet" if cool else "twin")
    if named is None:
        return example
    own = named.chamber
    outputs = tuple(replace(o, gpio=None) for o in own.outputs)
    chamber = replace(
        example.chamber,
        name=own.name,
        outputs=outputs,
        limits=own.limits,
        control=own.control,
        pressure_pa=own.pressure_pa,
    )
    return replace(example, chamber=chamber)


def _example(kind: Kind) -> Settings:
    with tempfile.TemporaryDirectory() as folder:
        for name, text in starter_files(kind).items():
            (Path(folder) / name).write_text(text)
        return read_settings(Path(folder) / "chamber.toml")
