"""A batch file becomes pieces, or all its mistakes at once, the likely slip named."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from dryward.core.chamber import Chamber, Scale
from dryward.core.program import Piece
from dryward.settings import SettingsError, read_pieces
from tests.settings.conftest import BATCH, Told

Mistakes = Callable[..., Told]
CHAMBER = Chamber(
    name="shed",
    sensors=(),
    scales=(
        Scale(name="hook", device="cell", max_g=2000.0, tare_g=50.0),
        Scale(name="rack", device="frame", carries="rack"),
    ),
)


def test_a_batch_is_read_with_and_without_a_chamber(file: Callable[[str], Path]) -> None:
    pieces = (Piece(name="loin", green_g=905.0), Piece(name="neck", green_g=731.0, scale="hook"))
    assert read_pieces(file('note = "autumn"\n' + BATCH)) == pieces
    assert read_pieces(file(BATCH), CHAMBER) == pieces


def test_pieces_as_light_as_leaves_are_pieces(file: Callable[[str], Path]) -> None:
    """The leaf weighings in tests/data begin at 4.2 to 7.3 g."""
    assert read_pieces(file('[[pieces]]\nname = "leaf"\ngreen_g = 4.2186\n'))[0].green_g == 4.2186


@pytest.mark.parametrize(
    ("text", "key", "value", "limit", "cure"),
    [
        ("", "pieces", "(missing)", "at least one table [[pieces]]", "double brackets"),
        (
            BATCH.replace("green_g = 905", ""),
            "pieces.loin.green_g",
            "(missing)",
            "needed: a number above 0, at most 50000",
            "Raw weight",
        ),
        (BATCH.replace("905", "0"), "pieces.loin.green_g", "0", "a number above 0, at most 50000", "Raw weight"),
        (
            BATCH.replace("905", "0.905"),
            "pieces.loin.green_g",
            "0.905",
            "grams, at least 4",
            "0.905 looks like kg: write 905.",
        ),
        (
            BATCH.replace("905", '"905 g"'),
            "pieces.loin.green_g",
            '"905 g"',
            "a number above 0",
            "Take the quotes away: green_g = 905.",
        ),
        (
            BATCH.replace("905", "905\ntarget_loss_pct = 0.35"),
            "pieces.loin.target_loss_pct",
            "0.35",
            "a number from 1 to 90",
            "0.35 looks like a fraction: write 35.",
        ),
        (
            BATCH.replace("905", "905\nsalt_pct = 0.025"),
            "pieces.loin.salt_pct",
            "0.025",
            "per cent: 0, or at least 0.2",
            "0.025 looks like a fraction: write 2.5.",
        ),
        (
            BATCH.replace("905", "905\nsalt_pct = 25"),
            "pieces.loin.salt_pct",
            "25",
            "a number from 0 to 15",
            "25 looks like g per kg: write 2.5.",
        ),
        (
            BATCH.replace("905", "905\nthickness_mm = 7"),
            "pieces.loin.thickness_mm",
            "7",
            "mm; 905 g so thin would be wider than 30 x 30 cm",
            "7 looks like cm: write 70.",
        ),
        (
            BATCH.replace("905", "905\nthickness_mm = 300"),
            "pieces.loin.thickness_mm",
            "300",
            "at most 130 mm: even a ball of 905 g is no thicker",
            "not along the piece",
        ),
        (
            BATCH.replace('"neck"', '"loin"'),
            "pieces.2.name",
            '"loin"',
            "a name that stands only once",
            "Rename one of the two",
        ),
        (
            BATCH.replace('"neck"', '"Neck 1"'),
            "pieces.Neck 1.name",
            '"Neck 1"',
            "1 to 32 lower-case letters",
            '"neck-1"',
        ),
        (
            BATCH.replace("green_g = 905", "green_g = 905\nweight = 5"),
            "pieces.loin.weight",
            "5",
            "no such option",
            "Known here: target_loss_pct",
        ),
        (
            BATCH.replace("905", '905\nscale = "hook"'),
            "pieces.neck.scale",
            '"hook"',
            "one piece on each scale; pieces.loin hangs on it already",
            "weigh by hand",
        ),
        (
            BATCH.replace('"hook"', '"hok"'),
            "pieces.neck.scale",
            '"hok"',
            "the name of a [scales.NAME] table of chamber 'shed'",
            "Did you mean 'hook'?",
        ),
        (
            BATCH.replace('"hook"', '"rack"'),
            "pieces.neck.scale",
            '"rack"',
            'a scale with carries = "piece"; this one weighs the whole rack',
            "Leave the line out",
        ),
        (
            BATCH.replace("731", "1960"),
            "pieces.neck.green_g",
            "1960",
            "at most 1950 g, what scale 'hook' carries beside its tare",
            "cut it",
        ),
        ("note = 5\n" + BATCH, "note", "5", "text in quotes", "left out"),
        ("nte = 'x'\n" + BATCH, "nte", '"x"', "no such option", "Did you mean 'note'?"),
    ],
)
def test_each_mistake_of_a_batch_is_told(
    mistakes: Mistakes, text: str, key: str, value: str, limit: str, cure: str
) -> None:
    told = mistakes(read_pieces, text, CHAMBER)
    assert list(told) == [key]
    assert told[key].value == value
    assert told[key].limit.startswith(limit)
    assert cure in told[key].cure


def test_a_piece_is_at_most_as_thick_as_a_ball_of_its_weight(file: Callable[[str], Path]) -> None:
    """905 g at 1.04 g/cm3 (Choi and Okos 1986) is 870 cm3, a ball of 118 mm; a tenth is left for its shape."""
    with pytest.raises(SettingsError, match="at most 130 mm"):
        read_pieces(file(BATCH.replace("905", "905\nthickness_mm = 131")))
    assert read_pieces(file(BATCH.replace("905", "905\nthickness_mm = 130")))[0].thickness_mm == 130.0


def test_every_mistake_of_a_batch_is_told_at_once_in_its_order(mistakes: Mistakes) -> None:
    text = BATCH.replace("905", "0.905\nsalt_pct = 25").replace('"neck"', '"loin"')
    assert list(mistakes(read_pieces, text)) == ["pieces.loin.green_g", "pieces.loin.salt_pct", "pieces.2.name"]
