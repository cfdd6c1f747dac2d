"""TOML text -> plain tables, or the line and column of what is not TOML."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from dryward.settings.mistakes import Findings, SettingsError


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file, or raise SettingsError with line and column of what is not TOML."""
    found = Findings(str(path))
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        found.add(
            "",
            None,
            limit="the file must exist",
            cure="Check the name and the folder, or let 'dryward init' write one.",
        )
    except UnicodeDecodeError as error:
        found.add(
            "", None, limit="the file must be text in UTF-8", cure=f"Byte {error.start + 1} is not: save it as UTF-8."
        )
    except OSError as error:
        found.add(
            "",
            None,
            limit="the file must be readable",
            cure=f"It could not be read ({error.strerror}): mend its place or its rights.",
        )
    except tomllib.TOMLDecodeError as error:
        at = re.search(r"\(at (line \d+, column \d+|end of document)\)", str(error))
        what = str(error).partition(" (at ")[0]
        found.add(
            at[1] if at else "",
            None,
            limit=f"the file must be TOML; {what[:1].lower()}{what[1:]}",
            cure="Look at that place and just before it: a missing quote, bracket or '=', a key or table written twice, a comma in a number.",
        )
    raise SettingsError(found.mistakes.values())
