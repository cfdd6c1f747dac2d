"""Recordings played as devices: the leaf data on one clock, and files that are wrong in every way."""

from __future__ import annotations

import csv
from contextlib import suppress
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dryward_hardware.ports import Batch, DeviceError, PieceWeight, Sample, Source
from dryward_hardware.recorded import Recorded, slug

DATA = Path(__file__).parent.parent / "data"
START = "2019-03-26T08:30:00Z"
LEAVES = {
    "file": str(DATA / "leaf_weighings.csv"),
    "holds": "weighings",
    "time_column": "time_utc",
    "piece_columns": ["treatment", "sample"],
    "weight_column": "fresh.weight",
}
ROOM = {
    "file": str(DATA / "leaf_room.csv"),
    "time_column": "time_utc",
    "columns": {"temperature": "temperature", "humidity": "humidity"},
}


def played(options: dict[str, object], *, until_s: float = 1e9, step_s: float = 1e9, device: str = "dev") -> Batch:
    """Play a recording in steps; everything it gave as one batch."""
    source = Recorded(device, options)
    batches, now_s = [source.poll(0.0)], 0.0
    while now_s < until_s and not batches[-1].finished:
        now_s += step_s
        batches.append(source.poll(now_s))
    return Batch(
        samples=tuple(s for b in batches for s in b.samples),
        weights=tuple(w for b in batches for w in b.weights),
        notes=tuple(n for b in batches for n in b.notes),
        finished=batches[-1].finished,
    )


def written(tmp_path: Path, text: str) -> str:
    path = tmp_path / "log.csv"
    path.write_text(text)
    return str(path)


def refused(options: dict[str, object]) -> str:
    with pytest.raises(DeviceError) as caught:
        Recorded("dev", options)
    assert caught.value.device == "dev"
    return str(caught.value)


def test_every_leaf_weighing_arrives_once_in_order_of_time() -> None:
    """Source: R package pvldcurve 1.2.6, MIT (tests/data/LICENCE.md); 12 leaves, 172 weighings."""
    batch = played({**LEAVES, "starts_at": START}, step_s=300.0)
    with (DATA / "leaf_weighings.csv").open() as stream:
        rows = list(csv.DictReader(stream))
    assert len(batch.weights) == len(rows) == 172
    assert len({w.piece for w in batch.weights}) == 12
    assert [w.sampled_s for w in batch.weights] == sorted(w.sampled_s for w in batch.weights)
    start = datetime.fromisoformat(START)
    wanted = {
        (
            slug(r["treatment"], r["sample"]),
            (datetime.fromisoformat(r["time_utc"]) - start).total_seconds(),
            float(r["fresh.weight"]),
        )
        for r in rows
    }
    assert {(w.piece, w.sampled_s, w.weight_g) for w in batch.weights} == wanted
    assert batch.finished
    moments = sorted(time_s for _, time_s, _ in wanted)
    gaps = [b - a for a, b in pairwise(moments) if b - a > 3600.0]
    assert [note.split("no row for ")[1].split(" s,")[0] for note in batch.notes] == [f"{gap:.0f}" for gap in gaps]


def test_leaf_room_and_leaf_weighings_line_up_on_one_clock() -> None:
    """A row written at the same moment in both files arrives in the same second of the playing."""
    room = played({**ROOM, "starts_at": START, "gap_s": 1e6})
    leaves = played({**LEAVES, "starts_at": START})
    with (DATA / "leaf_room.csv").open() as stream:
        rows = {r["time_utc"]: r for r in csv.DictReader(stream)}
    start = datetime.fromisoformat(START).timestamp()
    by_time = {s.sampled_s: s.value for s in room.samples if s.channel == "dev/temperature"}
    later = [
        (datetime.fromisoformat(t).timestamp() - start, float(r["temperature"]))
        for t, r in rows.items()
        if datetime.fromisoformat(t).timestamp() >= start
    ]
    assert len(later) > 100
    assert all(by_time[t] == value for t, value in later)
    assert leaves.weights[0].sampled_s == 18 * 60.0  # 08:48
    assert any("values before" in note for note in room.notes)


def test_a_poll_gives_only_what_has_happened_and_finished_comes_with_the_last(tmp_path: Path) -> None:
    source = Recorded(
        "dev", {"file": written(tmp_path, "t_min,a\n0,1\n1,2\n3,4\n"), "time_column": "t_min", "gap_s": 100}
    )
    assert isinstance(source, Source)
    assert source.poll(500.0) == Batch(samples=(Sample("dev/a", 1.0, 500.0),))
    assert source.poll(559.9) == Batch()
    assert source.poll(560.0) == Batch(samples=(Sample("dev/a", 2.0, 560.0),))
    assert source.poll(700.0) == Batch(
        samples=(Sample("dev/a", 4.0, 680.0),),
        notes=("dev: no row for 120 s, more than 100 s, up to second 180 of the playing",),
        finished=True,
    )
    assert source.poll(701.0) == Batch(finished=True)
    source.close()


@pytest.mark.parametrize(
    ("column", "unit", "times"),
    [
        ("t_s", None, ("10", "70.5")),
        ("t_h", None, ("1", "1.0168055555555555")),
        ("epoch_s", None, ("1553590080.0", "1553590140.5")),
        ("time_utc", None, ("2019-03-26T08:48:00Z", "2019-03-26T08:49:00.5Z")),
        ("when", "rfc3339", ("2019-03-26T10:48:00+02:00", "2019-03-26T08:49:00.5Z")),
        ("when", "rfc3339", ("2019-03-26 08:48:00", "2019-03-26 08:49:00.5")),
        ("minute", "min", ("0", "1.0083333333333333")),
    ],
)
def test_times_may_be_written_in_many_ways(
    tmp_path: Path, column: str, unit: str | None, times: tuple[str, str]
) -> None:
    options: dict[str, object] = {
        "file": written(tmp_path, f"{column},a\n{times[0]},1\n{times[1]},2\n"),
        "time_column": column,
    }
    if unit:
        options["time_unit"] = unit
    assert [s.sampled_s for s in played(options).samples] == pytest.approx([0.0, 60.5], abs=1e-6)


def test_semicolons_and_decimal_commas_of_a_spreadsheet_are_understood(tmp_path: Path) -> None:
    batch = played({"file": written(tmp_path, "t_s;temperature\n0;20,5\n\n10;21,25\n")})
    assert [s.value for s in batch.samples] == [20.5, 21.25]


def test_empty_cells_are_silence_and_columns_may_be_renamed(tmp_path: Path) -> None:
    batch = played(
        {
            "file": written(tmp_path, "\ufefft_s,Air top,Note\n0,20.5,x\n10,,y\n20,21,z\n"),
            "columns": {"Air top": "temperature"},
        }
    )
    assert [(s.channel, s.value, s.sampled_s) for s in batch.samples] == [
        ("dev/temperature", 20.5, 0.0),
        ("dev/temperature", 21.0, 20.0),
    ]


def test_left_out_columns_play_under_their_own_names(tmp_path: Path) -> None:
    batch = played({"file": written(tmp_path, "t_s,Air Top (C),rh\n0,20.5,40\n")})
    assert [s.channel for s in batch.samples] == ["dev/air-top-c", "dev/rh"]


def test_a_column_without_a_heading_is_not_played(tmp_path: Path) -> None:
    """A spreadsheet's comma at the end, or the row numbers that some programs write in front."""
    batch = played({"file": written(tmp_path, ",t_s,rh,\n0,0,40,\n1,5,41,\n")})
    assert batch.samples == (Sample("dev/rh", 40.0, 0.0), Sample("dev/rh", 41.0, 5.0))


def test_every_bad_reading_is_named_with_its_row(tmp_path: Path) -> None:
    text = refused(
        {"file": written(tmp_path, "t_s,a,b\n0,1,2\n10,x,2\n20,1,nan\n15,1,2\n30,1\nlater,1,2\n40,y,inf\n50,1,2\n")}
    )
    for part in (
        "a is no number in rows 3, 8 (row 3: 'x')",
        "b is no number in rows 4, 8 (row 4: 'nan')",
        "earlier than the row before in row 5 (row 5: '15'): sort the rows by time",
        "not 3 cells in row 6 (row 6: 2)",
        "t_s is no time in row 7 (row 7: 'later'): a time in s is needed",
    ):
        assert part in text


def test_every_bad_weighing_is_named_with_its_row(tmp_path: Path) -> None:
    rows = "t_s,piece,weight_g\n0,a,700\n0,b,\n10,a,heavy\n5,b,690\n5,a,650\n20,,600\n30,a,-5\n30,B,600\n40,a,600\n50,c,1\n51,c,x\n52,c,x\n53,c,x\n"
    text = refused({"file": written(tmp_path, rows), "holds": "weighings"})
    for part in (
        "weight_g is no number in rows 3-4, 12-14",
        "earlier than the row of its piece before in row 6",
        "the piece has no name in row 7",
        "weight_g is not above 0 in row 8",
        "a second piece would be called b in row 9",
    ):
        assert part in text


def test_pieces_may_follow_each_other_in_the_file(tmp_path: Path) -> None:
    batch = played(
        {"file": written(tmp_path, "t_s,piece,weight_g\n0,a,700\n20,a,690\n0,b,500\n10,b,495\n"), "holds": "weighings"}
    )
    assert batch.weights == (
        PieceWeight("a", 700.0, 0.0),
        PieceWeight("b", 500.0, 0.0),
        PieceWeight("b", 495.0, 10.0),
        PieceWeight("a", 690.0, 20.0),
    )


@pytest.mark.parametrize(
    ("text", "options", "part"),
    [
        ("t_s,a\n", {}, "has no rows"),
        ("", {}, "has no rows"),
        ("t_s,a\n0,1\n", {"columns": {"b": "temperature"}}, "has no column b; its columns are t_s, a"),
        ("t_s,a\n0,1\n", {"time_column": "when", "time_unit": "s"}, "has no column when"),
        ("t_s,a,a\n0,1,2\n", {"columns": {"a": "temperature"}}, "has the column a twice"),
        ("t_s,a,a\n0,1,2\n", {}, "would play a and a under one name, a: name in 'columns'"),
        ("t_s,Top C,top-c\n0,1,2\n", {}, "would play Top C and top-c under one name, top-c"),
        ("t_s,a,b\n0,1,2\n", {"columns": {"a": "x", "b": "x"}}, "would play a and b under one name, x"),
        ("t_s,(*)\n0,1\n", {}, "would play (*) under no name"),
        ("t_h,a\n1,20\n1e308,21\n", {"time_column": "t_h"}, "t_h is no time in row 3"),
        ("t_s,a\n0,1\n", {"time_column": "a"}, "the unit of time_column 'a' is not known; set time_unit"),
        ("t_s,a\n0,1\n", {"holds": "weighings"}, "has no column piece and has no column weight_g"),
        ("t_s,a\n0,1\n", {"starts_at": "noon"}, "starts_at is 'noon'; write it as in the column t_s (s)"),
        ("t_s,a\n0,1\n", {"starts_at": "99"}, "lies before starts_at 99"),
        ("t_s,a\n0,\n", {}, "holds no value at all"),
        ("t_s,a\n0,1\n", {"gap_s": 0}, "gap_s is 0, it must be above 0.0"),
    ],
)
def test_a_file_that_cannot_be_played_says_why_and_what_to_do(
    tmp_path: Path, text: str, options: dict[str, object], part: str
) -> None:
    assert part in refused({"file": written(tmp_path, text), **options})


def test_a_missing_file_and_a_file_that_is_no_text_are_told(tmp_path: Path) -> None:
    assert "cannot be read (No such file or directory); check the name" in refused({"file": str(tmp_path / "none.csv")})
    (tmp_path / "bin.csv").write_bytes(b"t_s,a\n0,\xff\xfe\n")
    assert "is no CSV text in UTF-8" in refused({"file": str(tmp_path / "bin.csv")})


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    rows=st.lists(st.tuples(st.floats(0.0, 1e6), st.floats(-50.0, 150.0)), min_size=1, max_size=30),
    step_s=st.floats(1e3, 1e6),
)
def test_nothing_is_lost_and_nothing_comes_early_however_it_is_polled(
    tmp_path: Path, rows: list[tuple[float, float]], step_s: float
) -> None:
    rows.sort(key=lambda row: row[0])
    source = Recorded("dev", {"file": written(tmp_path, "t_s,a\n" + "".join(f"{t!r},{v!r}\n" for t, v in rows))})
    seen, now_s, finished = [], 0.0, False
    while not finished:
        batch = source.poll(now_s)
        assert all(s.sampled_s <= now_s + 1e-6 for s in batch.samples)
        seen += [s.value for s in batch.samples]
        finished = batch.finished
        now_s += step_s
    assert seen == [value for _, value in rows]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.binary(max_size=200))
def test_no_file_whatever_is_in_it_raises_anything_but_a_device_error(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "any.csv"
    path.write_bytes(content)
    for options in ({"time_unit": "rfc3339", "time_column": "t"}, {}, {"holds": "weighings"}):
        with suppress(DeviceError):
            Recorded("dev", {"file": str(path), **options}).poll(0.0)


@given(st.text(max_size=60), st.text(max_size=10))
def test_names_of_pieces_can_stand_anywhere(one: str, other: str) -> None:
    name = slug(one, other)
    assert len(name) <= 32
    assert set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert not name.startswith("-")
    assert not name.endswith("-")


def test_leaf_pieces_are_called_by_treatment_and_sample() -> None:
    assert slug("10%", "1") == "10-1"
