"""Values: classes whose objects are never changed once they are made.

They are frozen where mypy reads them, and only there. A slotted dataclass that is frozen at run time as well takes
five times as long to make, and every tick makes a dozen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar, dataclass_transform

T = TypeVar("T")


@dataclass_transform(frozen_default=True)
def frozen(cls: type[T]) -> type[T]:
    """Make ``cls`` a slotted dataclass that compares and hashes by its fields; setting a field is a type error."""
    return dataclass(slots=True, unsafe_hash=True)(cls)
