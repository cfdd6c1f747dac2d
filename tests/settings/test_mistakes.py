"""Mistakes are told by place, value, limit and cure."""

from __future__ import annotations

import pytest

from dryward.settings.mistakes import NOTHING, Findings, Mistake, SettingsError, meant, shown


def test_the_error_lists_every_mistake_with_place_value_limit_and_cure() -> None:
    found = Findings("shed.toml")
    found.add("outputs.heater.gpio", 3, limit="9 to 27", cure="Take another line.")
    found.add("chamber.name", NOTHING, limit="needed", cure="Add it.")
    with pytest.raises(ValueError, match="2 mistakes") as error:
        found.stop_if_any({"chamber": {}, "outputs": {"heater": {"gpio": 3}}})
    assert str(error.value) == (
        "2 mistakes to mend:\n"
        "shed.toml: chamber.name is missing\n  limit: needed\n  cure:  Add it.\n"
        "shed.toml: outputs.heater.gpio = 3\n  limit: 9 to 27\n  cure:  Take another line."
    )


def test_mistakes_stand_in_the_order_of_the_file_and_missing_ones_last() -> None:
    raw = {"b": {"y": 1, "x": 2}, "a": [{"name": "second", "k": 1}]}
    found = Findings("f")
    for key in ("zzz", "a.second.k", "b.x", "b.gone", "b.y"):
        found.add(key, 1, limit="", cure="")
    with pytest.raises(SettingsError) as error:
        found.stop_if_any(raw)
    assert [m.key for m in error.value.mistakes] == ["b.y", "b.x", "b.gone", "a.second.k", "zzz"]


def test_the_first_mistake_of_a_key_is_the_one_told() -> None:
    found = Findings("f")
    found.add("a.b", 1, limit="first", cure="")
    found.add("a.b", 2, limit="second", cure="")
    assert [m.limit for m in found.mistakes.values()] == ["first"]
    assert found.spoils("a")
    assert found.spoils("x", "a.b")
    assert not found.spoils("a.bc", "b")


def test_nothing_is_raised_where_nothing_was_found() -> None:
    Findings("f").stop_if_any({})


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (True, "true"),
        ("70", '"70"'),
        ("", '""'),
        (80.0, "80"),
        (0.1, "0.1"),
        (17, "17"),
        ({"a": 1}, "a table"),
        ([1, "b"], '[1, "b"]'),
        (NOTHING, NOTHING),
        (None, ""),
        ("x" * 100, '"' + "x" * 56 + "..."),
    ],
)
def test_a_value_is_shown_as_the_file_writes_it(value: object, text: str) -> None:
    assert shown(value) == text


def test_a_mistake_of_the_whole_file_names_only_the_file() -> None:
    mistake = Mistake(file="shed.toml", key="", value="", limit="must exist", cure="Look.")
    assert str(mistake) == "shed.toml\n  limit: must exist\n  cure:  Look."


@pytest.mark.parametrize(
    ("word", "told"),
    [
        ("heatr", "Did you mean 'heater'?"),
        ("min-on-s", "Did you mean 'min_on_s'?"),
        ("Heater", "Did you mean 'heater'?"),
        ("qqq", "Known here: heater, min_on_s."),
    ],
)
def test_a_near_word_is_offered_and_else_all_known_ones(word: str, told: str) -> None:
    assert meant(word, ("heater", "min_on_s")) == told


def test_where_nothing_is_known_it_says_to_take_it_out() -> None:
    assert meant("x", ()) == "Nothing can stand here: take it out."
