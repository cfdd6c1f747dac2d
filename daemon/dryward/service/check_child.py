"""A main process in miniature for the kill test: it heats through a keeper of its own until it is killed.

``python -m dryward.service.check_child CHAMBER OUTPUT``: claims the lines of the chamber file, keeps OUTPUT on (with fan
and contactor, without which the keeper gives no heat) and prints ``on`` once the keeper says so. Started by
``check_lines``, never by hand.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

from dryward.core.chamber import Output
from dryward.service.hands import start_keeper
from dryward.settings import Settings, read_settings

HELPERS = frozenset({"fan", "contactor"})
PACE_S = 0.2
LONGEST_S = 60.0  # nobody killed it: it ends by itself


def unhurried(settings: Settings) -> Settings:
    """Return the settings without shortest times, which a test of seconds need not keep; a compressor keeps its own."""
    chamber = settings.chamber
    return replace(
        settings,
        chamber=replace(chamber, outputs=tuple(o if o.name == "cooler" else _at_once(o) for o in chamber.outputs)),
    )


def _at_once(output: Output) -> Output:
    return replace(output, min_on_s=0.0, min_off_s=0.0)


def main(config: Path, output: str) -> None:
    """Hold ``output`` on until killed."""
    keeper = start_keeper(unhurried(read_settings(config)))
    if keeper is None:
        sys.exit("no output of this chamber has a gpio")
    end_s = time.monotonic() + LONGEST_S
    told = False
    try:
        while time.monotonic() < end_s and keeper.alive():
            keeper.want(frozenset({output}) | HELPERS)
            if output in keeper.actual() and not told:
                told = True
                print("on", flush=True)
            time.sleep(PACE_S)
    finally:
        keeper.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])
