"""Messages between the reader and the main process."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward_hardware.reader.messages import channel_pair, pack, unpack


@given(st.text(min_size=1), st.lists(st.one_of(st.none(), st.integers(), st.floats(allow_nan=False), st.text())))
def test_what_is_packed_is_unpacked(word: str, rest: list[object]) -> None:
    assert unpack(pack(word, *rest)) == [word, *rest]


@pytest.mark.parametrize("message", [b"", b"{}", b"[]", b"3", b"\xff", b"[1"])
def test_anything_else_is_no_message(message: bytes) -> None:
    with pytest.raises(ValueError, match=r"."):
        unpack(message)


def test_the_pipe_keeps_messages_apart_and_ends_with_its_other_end() -> None:
    ours, theirs = channel_pair()
    with ours:
        theirs.send(b"one")
        theirs.send(b"two")
        theirs.close()
        assert [ours.recv(100), ours.recv(100), ours.recv(100)] == [b"one", b"two", b""]
