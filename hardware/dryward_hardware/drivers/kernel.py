"""Files in which the kernel shows a sensor: found by name, read strictly, every failure in fixed words.

A number in a directory's name (hwmon2, iio:device0) depends on which driver loaded first: it is never relied on.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress

from dryward_hardware.reader.driver import ABSENT, GONE, NO_ANSWER, NOT_A_NUMBER, Missed

PAGE_BYTES = 4096  # no such file is longer than a page
NUMBER = frozenset("0123456789+-.eE")


def read_text(path: str) -> str:
    """Read a small file whole. Raises OSError; blocks as long as the kernel does."""
    fd = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    try:
        return os.read(fd, PAGE_BYTES).decode("ascii", "replace")
    finally:
        os.close(fd)


def read_number(path: str) -> float:
    """Read a file that holds one number. Raises OSError, or Missed for anything else."""
    text = read_text(path).strip()
    if not text:
        raise Missed(NO_ANSWER)
    if set(text) <= NUMBER:
        with suppress(ValueError):
            value = float(text)
            if abs(value) < float("inf"):
                return value
    raise Missed(NOT_A_NUMBER)


def read_number_if_there(path: str, otherwise: float) -> float:
    """Read a file that not every driver has. Raises OSError, Missed."""
    try:
        return read_number(path)
    except FileNotFoundError:
        return otherwise


def find_named(folder: str, name: str) -> str:
    """Return the one directory in ``folder`` whose device is called ``name``. Raises OSError, or Missed for none or several.

    A device is called by its ``name`` file (a unit as in ``dht11@4`` may be left out), by its ``label``, or by what the
    device tree says it is compatible with: the kernel calls all thermocouple chips of one maker by one name.
    """
    found = [place for place in sorted(_places(folder)) if name in names_of(place)]
    if not found:
        raise Missed(ABSENT)
    if len(found) > 1:
        raise Missed("several devices of that name: give them labels")
    return found[0]


def _places(folder: str) -> Iterator[str]:
    try:
        entries = os.listdir(folder)
    except OSError as error:
        if error.errno in GONE:
            return
        raise
    for entry in entries:
        place = os.path.join(folder, entry)
        if os.path.isdir(place):
            yield place


def names_of(place: str) -> set[str]:
    """Return everything that a device is called. Raises nothing: one that has just gone is called nothing."""
    names: set[str] = set()
    for file in ("name", "label", "of_node/compatible", "../of_node/compatible"):
        with suppress(OSError):
            path = os.path.join(os.path.realpath(place), file)
            text = read_text(path)
            names |= (
                {word.partition(",")[2] or word for word in text.split("\0")}
                if "compatible" in file
                else {text.strip()}
            )
    return names | {name.partition("@")[0] for name in names}
