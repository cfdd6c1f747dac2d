"""What a mistake in a settings file is, and how it is told: the place, the value, the limit, the cure."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

NOTHING = "(missing)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """One thing to mend. ``key`` is the path in the file (``outputs.heater.gpio``), ``value`` what stands there."""

    file: str
    key: str
    value: str
    limit: str
    cure: str

    def __str__(self) -> str:
        return f"{self.found}\n  limit: {self.limit}\n  cure:  {self.cure}"

    @property
    def found(self) -> str:
        """The place and what stands there."""
        place = f"{self.file}: {self.key}" if self.key else self.file
        return place + {NOTHING: " is missing", "": ""}.get(self.value, f" = {self.value}")


class SettingsError(ValueError):
    """All mistakes of a file at once; ``str()`` is the list as a person reads it."""

    def __init__(self, mistakes: Iterable[Mistake]) -> None:
        self.mistakes = tuple(mistakes)
        count = "1 mistake" if len(self.mistakes) == 1 else f"{len(self.mistakes)} mistakes"
        super().__init__(f"{count} to mend:\n" + "\n".join(map(str, self.mistakes)))


class Findings:
    """Collects the mistakes of one file while it is being read; the first mistake of a key is the one that is told."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.mistakes: dict[str, Mistake] = {}

    def add(self, key: str, value: object, *, limit: str, cure: str) -> None:
        """Note a mistake. ``value`` is shown as TOML would write it; NOTHING for an absent key, None for the file itself."""
        self.mistakes.setdefault(key, Mistake(file=self.file, key=key, value=shown(value), limit=limit, cure=cure))

    def spoils(self, *keys: str) -> bool:
        """Tell whether one of these keys, or anything below it, is mistaken already: nothing more can be said of it."""
        return any(told == key or told.startswith(f"{key}.") for told in self.mistakes for key in keys)

    def stop_if_any(self, raw: Mapping[str, Any]) -> None:
        """Raise SettingsError if anything was found, in the order of the file's tables ``raw``."""
        if self.mistakes:
            raise SettingsError(sorted(self.mistakes.values(), key=lambda m: _position(raw, m.key)))


def _position(raw: Any, key: str) -> tuple[int, ...]:
    """Return where a key path stands in the file; what is missing comes last in its table."""
    place = []
    for part in key.split("."):
        if isinstance(raw, list):
            raw = {_called(table, number): table for number, table in enumerate(raw, 1)}
        names = list(raw) if isinstance(raw, Mapping) else []
        place.append(names.index(part) if part in names else len(names))
        raw = raw.get(part) if isinstance(raw, Mapping) else None
    return tuple(place)


def _called(table: Any, number: int) -> str:
    name = table.get("name") if isinstance(table, Mapping) else None
    return name if isinstance(name, str) else str(number)


def shown(value: object) -> str:
    """Write a value the way it stands in a TOML file, shortened to what fits a line."""
    if value is None or value is NOTHING:
        return str(value or "")
    if isinstance(value, bool | str):
        text = json.dumps(value, ensure_ascii=False)
    elif isinstance(value, float):
        text = f"{value:.10g}"
    elif isinstance(value, Mapping):
        text = "a table"
    elif isinstance(value, list | tuple):
        text = "[" + ", ".join(map(shown, value)) + "]"
    else:
        text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that was probably meant, if one is near."""
    words = {w.replace("_", "-"): w for w in known}
    near = get_close_matches(word.lower().replace("_", "-"), words, n=1, cutoff=0.6)
    return words[near[0]] if near else None


def meant(word: str, known: Iterable[str]) -> str:
    """Say which known word was probably meant, or list them all."""
    words = list(known)
    near = nearest(word, words)
    if near is not None:
        return f"Did you mean '{near}'?"
    return "Known here: " + ", ".join(words) + "." if words else "Nothing can stand here: take it out."
