"""The option tables of config/README.md, made from the words of the options."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import is_dataclass

from dryward.settings.layout import KINDS, NAMED, OWN, PARTS, Chamber, Piece, Program
from dryward.settings.mistakes import shown
from dryward.settings.options import Option, options

BEGIN, END = "<!-- option tables: begin (made by python -m dryward.settings.schema) -->", "<!-- option tables: end -->"


def with_tables(readme: str) -> str:
    """Return a README with the tables between the two marks renewed."""
    before, _, rest = readme.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n\n{option_tables()}\n{END}{after}"


def option_tables() -> str:
    """Return every table of every file as Markdown."""
    return "\n".join(_lines())


def _lines() -> Iterator[str]:
    yield "### Chamber file\n"
    yield from _table("[chamber]", Chamber, leave_out={*NAMED, *PARTS})
    for cls in dict.fromkeys(KINDS.values()):
        kinds = [kind for kind, its in KINDS.items() if its is cls]
        yield from _table("[devices.NAME] with kind = " + " or ".join(f'"{kind}"' for kind in kinds), cls)
    for key, cls in NAMED.items():
        yield from _table(f"[{key}.NAME]", cls, leave_out={"name"})
    for key, cls in {**PARTS, **OWN}.items():
        yield from _table(f"[{key}]", cls)
    yield "### Program file\n"
    yield from _table("At the top", Program)
    yield "### Batch file\n"
    yield "At the top a `note`, text in quotes, may stand: a line for yourself.\n"
    yield from _table("[[pieces]]", Piece)


def _table(heading: str, cls: type, leave_out: Iterable[str] = ()) -> Iterator[str]:
    wanted = [o for key, o in options(cls).items() if key not in leave_out]
    yield f"#### `{heading}`\n" if heading.startswith("[") else f"#### {heading}\n"
    yield f"{(cls.__doc__ or '').partition(chr(10))[0].replace('``', '`')}\n"
    plain = [o for o in wanted if o.table is None]
    if plain:
        yield "| option | what may stand there | left out | how to choose it |"
        yield "|---|---|---|---|"
        yield from map(_row, plain)
        yield ""
    above = heading.strip("[]") if heading.startswith("[") else ""
    for option in wanted:
        if option.table is not None:
            inner = f"{above}.{option.key}" if above else option.key
            yield from _table(f"[[{inner}]]" if option.many else f"[{inner}]", option.table)


def _row(option: Option) -> str:
    cells = (f"`{option.key}`", option.limit, _left_out(option), option.words)
    return "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in cells) + " |"


def _left_out(option: Option) -> str:
    if option.required:
        return "**needed**"
    if option.default is None or option.default == () or is_dataclass(option.default):
        return "-"
    return f"`{shown(option.default)}`"
