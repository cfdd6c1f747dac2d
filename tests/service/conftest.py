"""One whole simulated run, made once, that many tests look at."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from dryward.core.commands import Commands
from dryward.core.inputs import Inputs, Reading
from dryward.core.program import Piece, Program
from dryward.core.state import State
from dryward.service.fast import Ended, run_fast, take_out_when_done
from dryward.service.foretell import Outlook
from dryward.settings import Settings, read_pieces, read_program, read_settings
from dryward.settings.starter import starter_files

PERIOD_S = 5.0


@dataclass(frozen=True, slots=True)
class WholeRun:
    """The demo's run: what was set, what came in, where it ended, where the record lies."""

    settings: Settings
    program: Program
    pieces: tuple[Piece, ...]
    ended: Ended
    record: Path
    readings: tuple[Reading, ...]
    told: tuple[str, ...]
    foretold: tuple[Outlook, ...]


@pytest.fixture(scope="session")
def twin_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder as ``dryward init`` writes it, with record and socket inside."""
    folder = tmp_path_factory.mktemp("chamber")
    write_twin(folder)
    return folder


def write_twin(folder: Path) -> Path:
    """Write the simulated dryer's starter files, with record and socket inside the folder; return the chamber file."""
    for name, text in starter_files("twin").items():
        text = text.replace("~/.local/share/dryward/twin-dryer.db", "record.db")
        text = text.replace("~/.local/share/dryward/twin-dryer.sock", "run/dryward.sock")
        (folder / name).write_text(text)
    return folder / "chamber.toml"


@pytest.fixture(scope="session")
def whole_run(twin_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> WholeRun:
    """Run the two-step program on the simulated dryer to its end."""
    settings = read_settings(twin_folder / "chamber.toml")
    program = read_program(twin_folder / "program.toml")
    pieces = read_pieces(twin_folder / "batch.toml", settings.chamber)
    record = tmp_path_factory.mktemp("record") / "record.db"
    readings: list[Reading] = []
    told: list[str] = []
    foretold: list[Outlook] = []

    def watch(tick: int, inputs: Inputs, commands: Commands, state: State) -> None:
        readings.extend(inputs.readings)
        told.extend(e.kind for e in commands.events)

    ended = run_fast(
        settings,
        program,
        pieces,
        run_id="demo-1",
        period_s=PERIOD_S,
        record=record,
        who="tester",
        watch=watch,
        owner=take_out_when_done,
        foresee=lambda outlook, state: foretold.append(outlook),
    )
    return WholeRun(settings, program, pieces, ended, record, tuple(readings), tuple(told), tuple(foretold))


Watcher = Callable[[int, Inputs, Commands, State], None]
