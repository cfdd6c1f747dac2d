"""The text for a label."""

from __future__ import annotations

from dryward.science.heat_statement import HeatFacts
from dryward.science.label import label_lines
from dryward.science.lethality import Heat
from dryward.science.statement import PieceFacts

PIECE = PieceFacts(name="loin-1", green_g=1000.0, weight_g=648.0, target_loss_pct=35.0, salt_pct=2.5, cut="pork loin")


def test_a_label_carries_weights_loss_dates_run_program_and_the_marked_estimate() -> None:
    lines = label_lines(
        PIECE,
        HeatFacts(),
        run_id="2025-11-09-a",
        program="hot-two-step",
        salted_on="2025-11-05",
        dried_from="2025-11-09",
        dried_to="2025-11-12",
    )
    assert lines == (
        "loin-1, pork loin",
        "1000 g raw, 648 g dried, 35.2 % lost",
        "Salted 2025-11-05",
        "Dried 2025-11-09 to 2025-11-12",
        "Run 2025-11-09-a, program hot-two-step",
        "Salt 2.5 % of the raw weight",
        "Water activity about 0.96 (estimate, 0.87 to 0.97)",
        "Not shelf stable unless a laboratory says so",
        "Treat as raw meat",
        "Keep it at or below 4.4 degC, or freeze it.",
    )


def test_what_is_not_known_is_left_out() -> None:
    bare = PieceFacts(name="p", green_g=1000.0, weight_g=100.0, target_loss_pct=35.0)
    lines = label_lines(bare, HeatFacts(), run_id="r", program="p")
    assert lines[0] == "p"
    assert not any(line.startswith(("Salt", "Dried", "Water activity")) for line in lines)


def test_credited_heat_stands_on_the_label_as_measured() -> None:
    heat = HeatFacts(core_probe=True, most_rh_pct=95.0, heat=Heat(logs=7.4, share_6_5=1.1, share_7=1.02))
    assert "Core heat credited: 7.4 logs (FSIS Appendix A, measured)" in label_lines(
        PIECE, heat, run_id="r", program="p"
    )


def test_a_piece_weighed_by_hand_has_no_run_on_its_label() -> None:
    assert not any("rogram" in line or "Run" in line for line in label_lines(PIECE, HeatFacts(), run_id="", program=""))
    assert "Program hot" in label_lines(PIECE, HeatFacts(), run_id="", program="hot")
    assert "Run 7" in label_lines(PIECE, HeatFacts(), run_id="7", program="")
