"""Requests from afar: what may be asked, and why one is turned away at the door.

One topic a verb, so that a broker's access list can give a phone the right to stop and not the right to start. A request
is JSON with a nonce ``id`` that is used once, the name ``run`` of the run it is meant for and the moment ``expires``
until which it is meant. Whoever passes here is judged by the same rules as somebody at the command line.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple

LONGEST = 65_536  # bytes; a program of 24 steps has about 8000
LONGEST_LIFE_S = 600.0
ID = r"[A-Za-z0-9._-]{8,64}"
_ID = re.compile(ID)
SAID = 80  # characters of what somebody sent that are repeated in an answer or on record
LONGEST_TEXT = 400  # characters of a reason or a name that go on; the options of the files take no more either


class Field(NamedTuple):
    """One field of a request, for the documents."""

    type: str
    words: str
    needed: bool = True


COMMON: Mapping[str, Field] = {
    "id": Field(
        "string", "A nonce of 8 to 64 letters, digits, dots, hyphens or underscores. Each is taken once, ever."
    ),
    "run": Field("string", "program/run-id as it stands now; empty before the first run."),
    "expires": Field(
        "string", "Until when it is meant, RFC 3339 with zone, at most ten minutes ahead: 2030-05-01T06:30:00Z."
    ),
    "who": Field("string", "Your name, for the record."),
}
VERBS: Mapping[str, Mapping[str, Field]] = {
    "stop": {"reason": Field("string", "Why.", False)},
    "hold": {"reason": Field("string", "Why.", False)},
    "ack": {"alarm": Field("string", "Key of the alarm; left out: all.", False)},
    "weigh": {"piece": Field("string", "Name of the piece."), "weight_g": Field("number", "Its weight, g.")},
    "pull": {
        "piece": Field("string", "Name of the piece."),
        "weight_g": Field("number", "Its weight, g; left out: the last known.", False),
    },
    "resume": {},
    "shelve": {"alarm": Field("string", "Key of the alarm."), "hours": Field("number", "How long it stays silent, h.")},
    "load": {"pieces": Field("array", "The pieces, as in a batch file.")},
    "start": {"program": Field("object", "The program, as in a program file.")},
    "reset": {},
}


class Malformed(ValueError):
    """Not one JSON object, or one that can be read in two ways."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A request that may be handed in. ``ask`` is for the engine, not yet checked against it."""

    id: str
    ask: dict[str, Any]
    who: str


@dataclass(frozen=True, slots=True)
class TurnedAway:
    """A request that goes no further, and why. ``id``: what it called itself, if that can be told."""

    why: str
    id: str = ""
    who: str = ""


def judge(
    verb: str,
    payload: bytes,
    *,
    retained: bool,
    rights: Collection[str],
    run_id: str,
    seen: Collection[str],
    now_utc_s: float,
) -> Asked | TurnedAway:
    """Say whether a request may be handed in. Never raises for what somebody sends. ``seen``: nonces that were used."""
    try:
        message = read(payload)
    except Malformed as error:
        return TurnedAway(str(error))
    nonce, who = message.get("id"), message.get("who")
    if not isinstance(nonce, str) or not _ID.fullmatch(nonce):
        return TurnedAway(f"id is {shown(nonce)}: it takes 8 to 64 letters, digits, dots, hyphens or underscores.")
    if not isinstance(who, str) or not who.strip() or len(who) > 60:
        return TurnedAway(f"who is {shown(who)}: give your name, at most 60 characters.", nonce)
    why = (
        _no_right(verb, rights)
        or (
            "It is a retained message: it would come again with every connection. Send it without the retain flag."
            if retained
            else ""
        )
        or (
            f"A request with the id {nonce} has been here before: each needs an id of its own." if nonce in seen else ""
        )
        or _too_late(message.get("expires"), now_utc_s)
        or _other_run(message.get("run"), run_id)
        or _unknown_fields(verb, message)
    )
    if why:
        return TurnedAway(why, nonce, who.strip())
    ask = {key: value for key, value in message.items() if key not in COMMON}
    if verb == "start":
        ask["run_id"] = ""  # the daemon names the run
    return Asked(nonce, {"verb": verb, **ask}, who.strip())


def read(payload: bytes) -> dict[str, Any]:
    """Read one JSON object as RFC 8259 has it: no key twice, no NaN; its texts short, on one line. Raises Malformed."""
    if len(payload) > LONGEST:
        raise Malformed(f"It has {len(payload)} bytes: at most {LONGEST} are read.")
    try:
        value = _plain(json.loads(payload.decode("utf-8"), object_pairs_hook=_once, parse_constant=_no_number))
    except Malformed:
        raise
    except (ValueError, RecursionError):
        raise Malformed("It is not one JSON object in UTF-8.") from None
    if not isinstance(value, dict):
        raise Malformed("It is not a JSON object.")
    return value


def shown(value: object) -> str:
    """Return something that was sent so that it can be repeated: short, on one line, without control characters."""
    text = _printable("missing" if value is None else repr(value))
    return text if len(text) <= SAID else text[: SAID - 3] + "..."


def _plain(value: Any) -> Any:
    """Return what was sent with its texts short and on one line: they go on record and are shown on the owner's terminal."""
    match value:
        case str():
            return _printable(value)[:LONGEST_TEXT]
        case list():
            return [_plain(item) for item in value]
        case dict():
            return {_plain(key): _plain(item) for key, item in value.items()}
        case _:
            return value


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text)


def _no_right(verb: str, rights: Collection[str]) -> str:
    if verb not in VERBS:
        return f"There is no request called {shown(verb)}. There are: {', '.join(VERBS)}."
    if verb not in rights:
        allowed = ", ".join(v for v in VERBS if v in rights) or "nothing"
        return f"{verb} may not be asked for from afar, only: {allowed}. The owner can change that in [mqtt] requests."
    return ""


def _too_late(expires: object, now_utc_s: float) -> str:
    try:
        moment = datetime.fromisoformat(expires) if isinstance(expires, str) and len(expires) < 40 else None
        until_s = moment.timestamp() if moment is not None and moment.tzinfo is not None else None
    except (ValueError, OverflowError):
        until_s = None
    if until_s is None:
        return f"expires is {shown(expires)}: give a time with its zone, such as 2030-05-01T06:30:00Z."
    if until_s <= now_utc_s:
        return f"It has expired {now_utc_s - until_s:.0f} s ago. If the clocks agree, send it again."
    if until_s > now_utc_s + LONGEST_LIFE_S:
        return f"It would be valid for {until_s - now_utc_s:.0f} s: at most {LONGEST_LIFE_S:.0f} s ahead, by the chamber's clock."
    return ""


def _other_run(run: object, run_id: str) -> str:
    if isinstance(run, str) and run == run_id:
        return ""
    return f"It is meant for run {shown(run)}; the run here is {shown(run_id)}. Look at program/run-id."


def _unknown_fields(verb: str, message: Mapping[str, Any]) -> str:
    fields = {**COMMON, **VERBS[verb]}
    unknown = [key for key in message if key not in fields]
    missing = [key for key, field in fields.items() if field.needed and key not in message]
    if unknown:
        return f"{verb} takes no {shown(unknown[0])}. It takes: {', '.join(fields)}."
    return f"{missing[0]} is missing: {fields[missing[0]].words}" if missing else ""


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) < len(pairs):
        raise Malformed("A key stands twice in it: which one counts?")
    return made


def _no_number(word: str) -> float:
    raise Malformed(f"{word} is no number in JSON.")
