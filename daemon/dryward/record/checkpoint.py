"""Values of core as JSON text and back without loss: floats bit for bit, infinities and NaN included."""

from __future__ import annotations

import json
from functools import lru_cache
from typing import TYPE_CHECKING, Any, TypeVar, cast

if TYPE_CHECKING:
    from pydantic import TypeAdapter

T = TypeVar("T")


class NotReadable(ValueError):
    """A text that does not describe what it should: damaged, or of a version that knew other limits."""


@lru_cache(maxsize=64)
def _adapter(cls: Any) -> TypeAdapter[Any]:
    from pydantic import TypeAdapter  # costs 8 MB and 60 ms: only who needs it pays

    return TypeAdapter(cls)


def to_json(value: object) -> str:
    """Return ``value`` (a frozen dataclass of core, at any depth) as compact JSON.

    Python writes the shortest text that reads back as the same float; pydantic's own writer would turn NaN into null.
    """
    plain = _adapter(cast(Any, type(value))).dump_python(value, mode="json", warnings=False)
    return json.dumps(plain, ensure_ascii=False, separators=(",", ":"))


def from_json(cls: type[T], text: str) -> T:
    """Return the value of class ``cls`` (or of a union, such as ``Ask``) that ``to_json`` wrote.

    Fields that ``cls`` no longer has are ignored and new ones take their defaults, so that an older checkpoint can be
    read. Raises NotReadable when the text does not describe a ``cls``.
    """
    from pydantic import ValidationError

    try:
        return cast(T, _adapter(cast(Any, cls)).validate_json(text))
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        raise NotReadable(f"{'.'.join(map(str, first['loc'])) or 'the whole'}: {first['msg']}") from None
