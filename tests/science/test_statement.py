"""What a person reads when a piece is done."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.science.heat_statement import HeatFacts
from dryward.science.label import label_lines
from dryward.science.lethality import Heat
from dryward.science.statement import PieceFacts, finish_message, finish_statement, shelf_life, state_of

COMMON = PieceFacts(name="loin-1", green_g=1000.0, weight_g=650.0, target_loss_pct=35.0, salt_pct=2.5, cut="pork loin")


def test_the_common_case_learns_that_it_is_not_shelf_stable_and_what_to_do() -> None:
    """35 % loss (common practice, no source), 2.5 % salt: the message alone must do."""
    message = finish_message(COMMON, HeatFacts())
    assert "650 g of 1000 g, 35.0 % lost (measured)" in message.text
    assert "not shelf stable" in message.meaning
    assert "estimated water activity 0.96" in message.meaning
    assert "treat it as raw meat" in message.meaning
    assert message.advice.startswith("Keep it at or below 4.4 degC, or freeze it.")
    assert "throw it away" in message.advice


def test_a_weight_that_was_only_estimated_is_called_so_with_its_doubt() -> None:
    piece = PieceFacts(name="loin-1", green_g=1000.0, weight_g=640.0, target_loss_pct=35.0, doubt_g=9.0)
    assert "36.0 % lost (estimated from the rack's sum, give or take 9 g)" in finish_message(piece, HeatFacts()).text
    weight = next(one for one in finish_statement(piece, HeatFacts()) if one.text.startswith("Weight"))
    assert weight.basis == "estimate"
    assert "give or take 9 g" in weight.text


def test_the_statement_begins_with_what_matters_and_marks_every_sentence() -> None:
    said = finish_statement(COMMON, HeatFacts())
    assert "not shelf stable" in said[0].text
    assert "4.4 degC" in said[1].text
    bases = {one.basis for one in said}
    assert bases == {"measured", "estimate", "not credited", "caution"}
    assert any("Loss is no proof of safety" in one.text for one in said)
    assert any("not to be used for food safety" in one.text for one in said)


pieces = st.builds(
    PieceFacts,
    name=st.just("p"),
    green_g=st.floats(100.0, 5000.0),
    weight_g=st.floats(20.0, 5200.0),
    target_loss_pct=st.floats(1.0, 90.0),
    salt_pct=st.one_of(st.none(), st.floats(0.0, 15.0)),
    cut=st.sampled_from(["", "pork loin", "duck breast", "venison"]),
)
heats = st.builds(
    HeatFacts,
    core_probe=st.booleans(),
    most_rh_pct=st.one_of(st.none(), st.floats(0.0, 100.0)),
    poultry=st.booleans(),
    heat=st.builds(
        Heat,
        logs=st.floats(0.0, 20.0),
        share_6_5=st.floats(0.0, 3.0),
        share_7=st.floats(0.0, 3.0),
        hottest_c=st.one_of(st.none(), st.floats(0.0, 90.0)),
    ),
)


@given(pieces, heats)
def test_nothing_is_ever_called_safe_and_cold_is_always_advised(piece: PieceFacts, heat: HeatFacts) -> None:
    message = finish_message(piece, heat)
    label = label_lines(piece, heat, run_id="r", program="p")
    everything = " ".join(
        [message.text, message.meaning, message.advice, *(one.text for one in finish_statement(piece, heat)), *label]
    ).lower()
    assert "safe to eat" not in everything
    assert "is shelf stable" not in everything
    assert "not shelf stable" in message.meaning.lower()
    assert "4.4 degc" in message.advice.lower()
    assert "4.4 degC" in label[-1]
    assert "nan" not in everything.split()


def test_an_interval_on_both_sides_of_the_line_is_treated_as_not_shelf_stable() -> None:
    saltier = PieceFacts(name="p", green_g=1000.0, weight_g=560.0, target_loss_pct=44.0, salt_pct=3.5, cut="pork loin")
    assert shelf_life(saltier).text.startswith("Treat it as not shelf stable: ")


def test_a_low_estimate_is_still_an_estimate() -> None:
    dry = PieceFacts(name="p", green_g=1000.0, weight_g=400.0, target_loss_pct=60.0, salt_pct=6.0, cut="pork loin")
    assert "until a laboratory has measured it" in shelf_life(dry).text


def test_salt_not_given_counts_as_none_and_says_so() -> None:
    plain = PieceFacts(name="p", green_g=1000.0, weight_g=650.0, target_loss_pct=35.0)
    state = state_of(plain)
    assert state is not None
    assert state.water_activity == 1.0
    said = " ".join(one.text for one in finish_statement(plain, HeatFacts()))
    assert "salt not given, counted as none" in said
    assert "wettest row listed" in said


def test_the_owners_own_water_figure_is_used() -> None:
    own = PieceFacts(name="p", green_g=1000.0, weight_g=650.0, target_loss_pct=35.0, salt_pct=2.5, water_pct=70.0)
    state = state_of(own)
    assert state is not None
    assert state.water_g == pytest.approx(325.0)
    assert any("as the owner gave it" in one.text for one in finish_statement(own, HeatFacts()))


def test_a_weight_that_leaves_no_water_gives_no_estimate() -> None:
    gone = PieceFacts(name="p", green_g=1000.0, weight_g=200.0, target_loss_pct=35.0, cut="pork loin")
    assert state_of(gone) is None
    assert "cannot be estimated" in shelf_life(gone).text


def test_poultry_is_told_to_be_cooked() -> None:
    """USDA: poultry to 165 degF, 73.9 degC."""
    assert "73.9 degC" in finish_message(COMMON, HeatFacts(poultry=True)).advice
    assert "73.9" not in finish_message(COMMON, HeatFacts()).advice


def test_the_protein_of_a_stand_in_row_names_no_product() -> None:
    """Only a row that fits the cut says how much protein is in it; `calc drying` leaves the ratio out too."""
    nameless = PieceFacts(name="p", green_g=1000.0, weight_g=650.0, target_loss_pct=35.0, cut="venison")
    assert not any("protein" in one.text for one in finish_statement(nameless, HeatFacts()))
    assert any("Moisture to protein 1.6" in one.text for one in finish_statement(COMMON, HeatFacts()))
