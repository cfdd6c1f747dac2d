"""What worker, reader and main process say to each other: one JSON list a message, its first word tells what it is.

From the main process, once:    ["job", {"devices": [[NAME, KIND, OPTIONS], ...], "pin_factory": ..., "mock_levels": ...}]
From a worker, passed on:       ["read", DEVICE, NS, [[WHAT, VALUE or null, FAULT], ...]]   NS: CLOCK_MONOTONIC, read began
From the reader:                ["ended", [DEVICE, ...], WHY]     a worker is gone, a new one comes
                                ["alive", LOST]                   every second; messages the main process did not take
From a worker, not passed on:   ["open", LIMIT_S]                 its devices are open; longest silence from now on
"""

from __future__ import annotations

import json
import socket

MESSAGE_BYTES = 65536


def pack(*words: object) -> bytes:
    """Make a message."""
    return json.dumps(words, separators=(",", ":")).encode()


def unpack(message: bytes) -> list[object]:
    """Read a message. Raises ValueError for anything that is none."""
    words = json.loads(message)
    if not isinstance(words, list) or not words:
        raise ValueError("not a message")
    return words


def channel_pair() -> tuple[socket.socket, socket.socket]:
    """Return both ends of a pipe of whole messages."""
    return socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
