"""What the main process makes of the reader's messages."""

from __future__ import annotations

import math

from hypothesis import given
from hypothesis import strategies as st

from dryward_hardware.ports import Sample
from dryward_hardware.reader.intake import Intake
from dryward_hardware.reader.messages import pack

NOW_S = 1000.0


def read(seconds: float, *values: list[object], device: str = "top") -> bytes:
    return pack("read", device, int(seconds * 1e9), list(values))


def heard(*messages: bytes) -> Intake:
    intake = Intake(["top", "rear"])
    for message in messages:
        intake.hear(message, NOW_S)
    return intake


def test_a_read_becomes_samples_of_the_moment_it_began() -> None:
    intake = heard(read(999.5, ["temperature", 61.5, ""], ["humidity", None, "no answer"]))
    assert intake.take("top") == (
        Sample("top/temperature", 61.5, 999.5),
        Sample("top/humidity", None, 999.5, "no answer"),
    )
    assert intake.take("top") == ()


def test_an_older_an_equally_old_and_a_future_reading_are_not_taken() -> None:
    intake = heard(*(read(s, ["temperature", s, ""]) for s in (990.0, 989.0, 990.0, 1002.0, 991.0)))
    assert [sample.sampled_s for sample in intake.take("top")] == [990.0, 991.0]
    intake.hear(read(990.5, ["temperature", 1.0, ""]), NOW_S)
    assert intake.take("top") == ()


def test_reads_and_failures_are_counted_by_their_reason() -> None:
    good, bad = ["temperature", 20.0, ""], ["temperature", None, "checksum failed"]
    intake = heard(
        read(1.0, good), read(2.0, bad, ["humidity", None, "checksum failed"]), read(3.0, bad), read(4.0, good)
    )
    counts = intake.counts["top"]
    assert (counts.reads, dict(counts.failures), counts.failed_in_a_row, counts.last_good_s) == (
        4,
        {"checksum failed": 2},
        0,
        4.0,
    )
    assert intake.status()["devices"]["rear"]["reads"] == 0  # type: ignore[index]


def test_ten_failures_in_a_row_are_told_once_with_the_cure() -> None:
    intake = heard(*(read(float(n), ["temperature", None, "no answer"]) for n in range(1, 26)))
    (note,) = intake.take_notes()
    assert "top: 10 reads in a row failed (no answer)" in note
    assert "sensor-power" in note


def test_the_end_of_a_reading_is_counted_each_time_and_told_once_until_it_goes_on() -> None:
    ended = pack("ended", ["top", "rear"], "died")
    intake = heard(ended, ended, ended)
    assert intake.take_notes() == ("top, rear: the reading ended (died). It is begun anew until it goes on.",)
    assert intake.counts["rear"].respawns == 3
    intake.hear(read(1.0, ["temperature", 20.0, ""]), NOW_S)
    intake.hear(ended, NOW_S)
    assert len(intake.take_notes()) == 1


def test_values_that_are_none_are_not_passed_on() -> None:
    odd = (
        [1, 2.0, ""],
        ["t", math.nan, ""],
        ["t", math.inf, ""],
        ["t", 1.0, "fault"],
        ["t", None, ""],
        ["t", "1", ""],
        "t",
        None,
    )
    assert heard(read(1.0, *odd)).take("top") == ()  # type: ignore[arg-type]


@given(
    st.binary(max_size=300)
    | st.recursive(
        st.none()
        | st.booleans()
        | st.integers()
        | st.floats()
        | st.text(max_size=5)
        | st.sampled_from(["read", "ended", "alive", "top"]),
        st.lists,
        max_leaves=12,
    ).map(lambda words: pack(*words) if isinstance(words, list) else pack(words))
)
def test_no_message_whatever_breaks_it(message: bytes) -> None:
    intake = heard(message)
    for sample in intake.take("top"):
        assert sample.value is None or math.isfinite(sample.value)
        assert sample.sampled_s <= NOW_S + 0.5
