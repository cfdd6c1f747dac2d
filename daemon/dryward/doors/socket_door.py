"""The daemon's side of the local socket: a thread for each caller, who posts requests and reads views.

An accepted request is answered only when the record has it on disk: an acknowledged weighing is never lost.
"""

from __future__ import annotations

import contextlib
import grp
import json
import logging
import os
import pwd
import socket
import socketserver
import struct
import threading
import uuid
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Protocol

from pydantic import Field, TypeAdapter, ValidationError

from dryward.core.commands import Reply
from dryward.core.inputs import Ask, Request, Start, Stop, Tune
from dryward.core.program import Program
from dryward.doors.wire import LONGEST_LINE
from dryward.record.moments import NoteWritten
from dryward.record.notebook import BadNote

log = logging.getLogger("dryward")

LAST_S = 253_402_300_799.0  # the end of the year 9999: no calendar here goes on
NOT_KEPT = " That counts, but could NOT be written to the record yet: look at 'dryward status'."
TURN_S = 10.0  # longer than any tick; an answer that takes longer means the loop hangs


class Pending(Protocol):
    """A request on its way; ``done`` is set when a tick has taken it."""

    done: threading.Event
    reply: Reply | None


class Plans(Protocol):
    """Starts for later."""

    def plan(self, *, program: Program, at_utc_s: float, who: str) -> str: ...

    def drop(self, who: str) -> int: ...


class Notes(Protocol):
    """What people write. Raises BadNote."""

    def write(self, notes: Sequence[NoteWritten]) -> str: ...


class SocketDoor:
    """Listens on a Unix socket. ``post`` hands a request to the loop, ``status`` makes a snapshot, ``flush`` waits for the record."""

    def __init__(
        self,
        path: Path,
        *,
        group: str,
        post: Callable[[Request], Pending],
        status: Callable[[], dict[str, Any]],
        flush: Callable[[], bool],
        plans: Plans,
        notes: Notes,
        name_run: Callable[[], str],
    ) -> None:
        self._path = path
        self._plans = plans
        self._notes = notes
        self._name_run = name_run
        self.post, self.status, self.flush = post, status, flush
        path.parent.mkdir(parents=True, exist_ok=True)
        with contextlib.suppress(FileNotFoundError):
            path.unlink()
        door = self

        class Caller(socketserver.StreamRequestHandler):
            timeout = TURN_S * 2

            def handle(self) -> None:
                who = _peer(self.connection)
                with contextlib.suppress(OSError):
                    for line in iter(lambda: self.rfile.readline(LONGEST_LINE), b""):
                        self.wfile.write(json.dumps(door.answer(line, who)).encode() + b"\n")

        class Server(socketserver.ThreadingMixIn, socketserver.UnixStreamServer):
            request_queue_size = 64  # a moment of the loop, with a phone page and scripts asking at once
            daemon_threads = True
            block_on_close = False

        self._server = Server(str(path), Caller)
        os.chmod(path, 0o660)
        if group:
            _give(path, group)
        self._thread = threading.Thread(target=self._server.serve_forever, name="socket-door", daemon=True)
        self._thread.start()

    def answer(self, line: bytes, who: str, origin: str = "socket") -> dict[str, Any]:
        """Answer one line; never raises for what a caller sends. Other doors judge by this too, each under its ``origin``."""
        try:
            message = json.loads(line)
        except (ValueError, RecursionError):
            return _refused("That was not one JSON object a line.")
        if not isinstance(message, dict):
            return _refused("That was not a JSON object.")
        if message.get("verb") == "status":
            return {"accepted": True, "status": self.status()}
        if message.get("verb") == "note":
            return self._write(message.get("notes"), who)
        try:
            sent = json.dumps(
                message.get("ask"), allow_nan=False
            )  # json.loads makes infinity of 1e400; no table would read it
        except (ValueError, RecursionError):
            return _refused(
                "A number in that request is no number, or endless. Give it in plain digits. Nothing was done."
            )
        try:
            ask: Any = _asks().validate_json(sent, strict=True)
        except (ValidationError, ValueError, RecursionError) as error:
            return _refused(f"That is no request dryward knows: {_first_line(error)}")
        name = message.get("who")
        who = name if isinstance(name, str) and name.strip() else who
        at_utc_s = message.get("at_utc_s")
        if at_utc_s is not None:
            # Whatever stands here, it must never be taken for "now".
            if not isinstance(ask, Start) or not _is_a_time(at_utc_s):
                return _refused(
                    f"at_utc_s is {at_utc_s!r}: it takes the time of a start in POSIX seconds. Nothing was done."
                )
            text = self._plans.plan(program=ask.program, at_utc_s=float(at_utc_s), who=who)
            return {"accepted": True, "text": text, "recorded": self.flush()}
        if isinstance(ask, Start):
            ask = replace(ask, run_id=self._name_run())
        if isinstance(ask, Tune):
            ask = replace(ask, run_id=f"tune-{self._name_run()}")
        dropped = self._plans.drop(who) if isinstance(ask, Stop) else 0
        answer = self._carry(
            Request(request_id=str(message.get("request_id") or uuid.uuid4()), ask=ask, who=who, origin=origin)
        )
        if dropped and not answer["accepted"]:
            return {
                "accepted": True,
                "text": "The planned start is dropped; nothing was running.",
                "recorded": self.flush(),
            }
        return answer

    def _write(self, sent: object, who: str) -> dict[str, Any]:
        try:
            notes = _notes().validate_json(json.dumps(sent), strict=True)
            text = self._notes.write([replace(note, who=note.who.strip() or who) for note in notes])
        except BadNote as error:
            return _refused(str(error))
        except (ValidationError, ValueError, RecursionError) as error:
            return _refused(f"That is no note: {_first_line(error)}")
        kept = self.flush()
        return {"accepted": True, "text": text + ("" if kept else NOT_KEPT), "recorded": kept}

    def _carry(self, request: Request) -> dict[str, Any]:
        pending = self.post(request)
        if not pending.done.wait(TURN_S):
            return _refused("The daemon did not take the request in time: it may hang. Look at 'dryward status'.")
        reply = pending.reply
        if reply is None:
            return _refused("The daemon is stopping: nothing was done.")
        if not reply.accepted:
            return _refused(reply.text)
        kept = self.flush()
        return {"accepted": True, "text": reply.text + ("" if kept else NOT_KEPT), "recorded": kept}

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(timeout=5.0)
        with contextlib.suppress(FileNotFoundError):
            self._path.unlink()


def _give(path: Path, group: str) -> None:
    """Let a group talk too; says so in the journal where that cannot be."""
    try:
        wanted = grp.getgrnam(group).gr_gid
        if path.stat().st_gid != wanted:
            os.chown(path, -1, wanted)
    except (KeyError, PermissionError) as error:
        why = "there is no such group" if isinstance(error, KeyError) else error.strerror
        has = path.stat().st_gid
        log.warning(
            "members of the group %s (socket_group) cannot give commands: %s; only root, this service and group %d can",
            group, why, has,
        )  # fmt: skip


@cache
def _asks() -> TypeAdapter[Any]:
    return TypeAdapter(Annotated[Ask, Field(discriminator="verb")])


@cache
def _notes() -> TypeAdapter[list[NoteWritten]]:
    return TypeAdapter(list[NoteWritten])


def _is_a_time(at_utc_s: object) -> bool:
    return isinstance(at_utc_s, int | float) and not isinstance(at_utc_s, bool) and 0 <= at_utc_s <= LAST_S


def _refused(text: str) -> dict[str, Any]:
    return {"accepted": False, "text": text}


def _first_line(error: Exception) -> str:
    if isinstance(error, ValidationError):
        first = error.errors()[0]
        return f"{'.'.join(str(p) for p in first['loc'])}: {first['msg']}"
    return str(error).splitlines()[0]


def _peer(connection: socket.socket) -> str:
    """Name the user at the other end of the socket."""
    try:
        raw = connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
        uid = struct.unpack("3i", raw)[1]
        return pwd.getpwuid(uid).pw_name
    except (OSError, KeyError):
        return "unknown"
