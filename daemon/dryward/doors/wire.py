"""What travels over the local socket: one JSON object a line, there and back.

Asks are the engine's own dataclasses as JSON with their ``verb``; ``{"verb": "status"}`` is answered from the newest
view without waiting for a tick.
"""

from __future__ import annotations

import json
import socket
from pathlib import Path
from typing import Any

ANSWER_S = 15.0
LONGEST_LINE = 1 << 20


class Unreachable(Exception):
    """No daemon answers on the socket. The text says what to do."""


def ask(path: Path, message: dict[str, Any], *, answer_s: float = ANSWER_S) -> dict[str, Any]:
    """Send one message to the daemon at ``path`` and return its answer. Raises Unreachable."""
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as line:
            line.settimeout(answer_s)
            line.connect(str(path))
            line.sendall(json.dumps(message).encode() + b"\n")
            with line.makefile("rb") as stream:
                text = stream.readline(LONGEST_LINE)
    except FileNotFoundError:
        raise Unreachable(
            f"No dryward is running for this chamber (no socket at {path}). Start it with 'dryward serve'."
        ) from None
    except ConnectionRefusedError:
        raise Unreachable(
            f"dryward is not running any more (nobody listens at {path}). Start it with 'dryward serve'."
        ) from None
    except PermissionError:
        raise Unreachable(f"You may not talk to dryward at {path}: you are not in the group of the socket.") from None
    except OSError as error:
        raise Unreachable(f"dryward at {path} does not answer: {error}.") from None
    if not text:
        raise Unreachable(f"dryward at {path} closed the line without an answer. It may be stopping.")
    answer: dict[str, Any] = json.loads(text)
    return answer
