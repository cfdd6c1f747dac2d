"""What raw meat is made of, by cut: the start of every water balance."""

from __future__ import annotations

from dataclasses import dataclass

SOURCE = "USDA National Nutrient Database for Standard Reference, release 26"


@dataclass(frozen=True, slots=True, kw_only=True)
class Composition:
    """Per cent of the raw weight. ``known`` is False where no row fits the cut and the wettest one stands in."""

    cut: str
    water_pct: float
    protein_pct: float
    fat_pct: float
    ash_pct: float
    source: str = SOURCE
    known: bool = True


def _row(cut: str, water_pct: float, protein_pct: float, fat_pct: float, ash_pct: float) -> Composition:
    return Composition(cut=cut, water_pct=water_pct, protein_pct=protein_pct, fat_pct=fat_pct, ash_pct=ash_pct)


CUTS = (
    _row("pork shoulder butt", 69.18, 17.42, 12.36, 0.83),
    _row("pork shoulder butt, lean", 74.31, 18.73, 5.71, 0.88),
    _row("pork loin, lean", 72.23, 21.43, 5.66, 1.05),
    _row("beef eye of round, lean", 73.43, 23.37, 3.04, 1.10),
    _row("beef top round, lean", 72.96, 23.59, 2.94, 1.12),
    _row("duck, meat only", 73.77, 18.28, 5.95, 1.06),
)

WETTEST = max(CUTS, key=lambda row: row.water_pct)


def of_cut(cut: str) -> Composition:
    """Find the row whose words all stand in the owner's name of the cut, or the other way round. The same words win, then the most words, then the wettest.

    No row fits: the wettest one, since more water is the careful side, with ``known`` False.
    """
    wanted = _words(cut)
    fits = [row for row in CUTS if wanted and (wanted <= _words(row.cut) or _words(row.cut) - {"lean"} <= wanted)]
    if not fits:
        return Composition(
            cut=cut or "cut not named", water_pct=WETTEST.water_pct, protein_pct=WETTEST.protein_pct,
            fat_pct=WETTEST.fat_pct, ash_pct=WETTEST.ash_pct, source=f"{SOURCE}, wettest row listed", known=False,
        )  # fmt: skip
    return max(fits, key=lambda row: (wanted == _words(row.cut), len(wanted & _words(row.cut)), row.water_pct))


def _words(cut: str) -> frozenset[str]:
    return frozenset(cut.lower().replace(",", " ").replace("-", " ").split()) - {"of", "meat", "only", "raw"}
