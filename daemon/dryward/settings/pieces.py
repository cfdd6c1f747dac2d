"""A batch file -> pieces, with the slips people make at the kitchen scale named as such."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

from dryward.core.chamber import Chamber
from dryward.core.program import Piece
from dryward.settings.mistakes import Findings, meant
from dryward.settings.shape import Table, build_list
from dryward.settings.text import read_toml

MEAT_G_PER_CM3 = 1.04  # raw lean meat by its composition, about 1040 kg/m3 (Choi and Okos 1986)
WIDEST_CM2 = 900.0  # a slab larger than 30 x 30 cm: its thickness was meant in cm
LIGHTEST_G = 4.0  # below, it was meant in kg


def read_pieces(path: Path, chamber: Chamber | None = None) -> tuple[Piece, ...]:
    """Read a batch file; raise SettingsError with all its mistakes at once. With a chamber its scales are checked too."""
    return judge_pieces(read_toml(path), chamber, where=str(path))


def judge_pieces(raw: Table, chamber: Chamber | None = None, *, where: str) -> tuple[Piece, ...]:
    """Make pieces of the tables of their file, or of a request; raise SettingsError with all mistakes at once."""
    found = Findings(where)
    for key in raw.keys() - {"pieces", "note"}:
        found.add(key, raw[key], limit="no such option", cure=meant(key, ("pieces", "note")))
    if not isinstance(raw.get("note", ""), str):
        found.add("note", raw["note"], limit="text in quotes", cure="A line for yourself; it may be left out.")
    pieces = build_list(Piece, raw, "pieces", found=found)
    for place, piece in pieces.items():
        _check_slips(piece, place, found)
    _check_scales(pieces, chamber, found)
    found.stop_if_any(raw)
    return tuple(pieces.values())


def _check_slips(piece: Piece, place: str, found: Findings) -> None:
    green = piece.green_g
    if green < LIGHTEST_G:
        found.add(
            f"{place}.green_g",
            green,
            limit=f"grams, at least {LIGHTEST_G:g}",
            cure=f"{green:g} looks like kg: write {green * 1000:g}.",
        )
        return
    if piece.salt_pct is not None and 0.0 < piece.salt_pct < 0.2:
        found.add(
            f"{place}.salt_pct",
            piece.salt_pct,
            limit="per cent: 0, or at least 0.2",
            cure=f"{piece.salt_pct:g} looks like a fraction: write {piece.salt_pct * 100:g}.",
        )
    if piece.thickness_mm is None:
        return
    volume_cm3 = green / MEAT_G_PER_CM3
    thickest_mm = 1.1 * 10.0 * (6.0 * volume_cm3 / math.pi) ** (1.0 / 3.0)  # a ball, and a tenth for its shape
    if volume_cm3 / (piece.thickness_mm / 10.0) > WIDEST_CM2:
        found.add(
            f"{place}.thickness_mm",
            piece.thickness_mm,
            limit=f"mm; {green:g} g so thin would be wider than 30 x 30 cm",
            cure=f"{piece.thickness_mm:g} looks like cm: write {piece.thickness_mm * 10:g}.",
        )
    elif piece.thickness_mm > thickest_mm:
        found.add(
            f"{place}.thickness_mm",
            piece.thickness_mm,
            limit=f"at most {thickest_mm:.0f} mm: even a ball of {green:g} g is no thicker",
            cure="Measure across the thickest place, not along the piece, and look at the weight again.",
        )


def _check_scales(pieces: Mapping[str, Piece], chamber: Chamber | None, found: Findings) -> None:
    scales = {s.name: s for s in chamber.scales} if chamber else {}
    hung: dict[str, str] = {}
    for place, piece in pieces.items():
        if piece.scale is None:
            continue
        key = f"{place}.scale"
        if piece.scale in hung:
            found.add(
                key,
                piece.scale,
                limit=f"one piece on each scale; {hung[piece.scale]} hangs on it already",
                cure="Give each its own scale, or leave the line out and weigh by hand.",
            )
        hung.setdefault(piece.scale, place)
        if chamber is None:
            continue
        scale = scales.get(piece.scale)
        if scale is None:
            found.add(
                key,
                piece.scale,
                limit=f"the name of a [scales.NAME] table of chamber '{chamber.name}'",
                cure=meant(piece.scale, scales),
            )
        elif scale.carries == "rack":
            found.add(
                key,
                piece.scale,
                limit='a scale with carries = "piece"; this one weighs the whole rack',
                cure="Leave the line out: the rack's weight is shared out by itself.",
            )
        elif piece.green_g + scale.tare_g > scale.max_g:
            found.add(
                f"{place}.green_g",
                piece.green_g,
                limit=f"at most {scale.max_g - scale.tare_g:g} g, what scale '{scale.name}' carries beside its tare",
                cure="Hang it on a stronger scale, cut it, or weigh it by hand.",
            )
