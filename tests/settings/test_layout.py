"""The list of tables is whole: what can be read is what is listed."""

from __future__ import annotations

from dataclasses import fields

from dryward.core.chamber import Chamber
from dryward.settings.chamber import Settings
from dryward.settings.layout import KINDS, NAMED, OWN, PARTS, TABLES
from dryward.settings.options import options


def test_every_part_of_a_chamber_has_its_table() -> None:
    assert {key for key, o in options(Chamber).items() if o.table} == {*NAMED, *PARTS}
    assert {key: o.table for key, o in options(Chamber).items() if o.table} == {**NAMED, **PARTS}


def test_every_other_table_is_a_field_of_the_settings() -> None:
    assert {f.name for f in fields(Settings)} == {"chamber", "devices", "path", *OWN}


def test_every_table_is_listed_once() -> None:
    assert sorted(TABLES) == sorted({"chamber", "devices", *NAMED, *PARTS, *OWN})


def test_tables_other_than_those_keyed_by_name_may_be_left_out_whole() -> None:
    for cls in (*PARTS.values(), *OWN.values()):
        assert not any(o.required for o in options(cls).values()), cls


def test_no_option_of_a_device_is_called_kind() -> None:
    assert not any("kind" in options(cls) for cls in KINDS.values())
