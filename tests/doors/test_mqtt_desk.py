"""Where requests are handed in: one after the other, bounded, each answered; nothing that was sent ends it."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from typing import Any

import pytest

from dryward.core.inputs import Notice
from dryward.doors.mqtt import desk as module
from dryward.doors.mqtt.asks import Asked, TurnedAway
from dryward.doors.mqtt.desk import MOST_TURNED_AWAY, MOST_WAITING, NONCES, Desk
from tests.faults_live.stand import until


class House:
    """Stands in for the socket's judgement."""

    def __init__(self) -> None:
        self.given: list[tuple[dict[str, Any], str, str]] = []
        self.notices: list[Notice] = []
        self.open = threading.Event()
        self.open.set()
        self.outcome: dict[str, Any] | Exception = {"accepted": True, "text": "done"}
        self.unfit = ""
        self.desk = Desk(
            answer=self.answer, tell=self.notices.append, check=lambda ask: self.unfit, answered=lambda: None
        )

    def answer(self, line: bytes, who: str, origin: str) -> dict[str, Any]:
        self.open.wait(10.0)
        self.given.append((json.loads(line), who, origin))
        if isinstance(self.outcome, Exception):
            raise self.outcome
        return self.outcome

    def answered(self, count: int) -> list[dict[str, Any]]:
        until(lambda: len(self.desk.answers) >= count, within_s=5.0, what=f"{count} answers")
        return list(self.desk.answers)


@pytest.fixture
def house() -> Iterator[House]:
    made = House()
    yield made
    made.open.set()
    made.desk.close()


def asked(number: int = 1, **ask: Any) -> Asked:
    return Asked(f"nonce-{number:05}", ask or {"verb": "stop"}, "Ines")


def test_a_request_is_judged_as_one_from_the_socket_under_a_name_of_its_own(house: House) -> None:
    assert house.desk.hand_in(asked(verb="weigh", piece="a", weight_g=612))
    (answer,) = house.answered(1)
    assert (answer["id"], answer["accepted"], answer["text"]) == ("nonce-00001", True, "done")
    message = {
        "ask": {"verb": "weigh", "piece": "a", "weight_g": 612},
        "who": "Ines",
        "request_id": "broker:nonce-00001",
    }
    assert house.given == [(message, "Ines", "broker")]
    assert "nonce-00001" in house.desk.seen


def test_a_program_that_does_not_suit_the_chamber_is_refused_before_it_is_handed_on(house: House) -> None:
    house.unfit = "max_air_c is 60"
    house.desk.hand_in(asked(verb="start", program={"name": "hot"}))
    assert house.answered(1)[0]["text"] == "max_air_c is 60"
    assert house.given == []


def test_when_too_many_wait_the_next_is_turned_away_and_may_come_again(house: House) -> None:
    house.open.clear()
    taken = [house.desk.hand_in(asked(n)) for n in range(MOST_WAITING + 5)]
    assert taken.count(False) in (4, 5)  # one may be in hand already
    assert asked(MOST_WAITING + 4).id not in house.desk.seen
    house.open.set()
    assert len(house.answered(taken.count(True))) == taken.count(True)


def test_whatever_goes_wrong_with_one_the_next_is_carried(house: House) -> None:
    house.outcome = RuntimeError("boom")
    house.desk.hand_in(asked(1))
    assert "stumbled" in house.answered(1)[0]["text"]
    house.outcome = {"accepted": False, "text": "no"}
    house.desk.hand_in(asked(2))
    assert house.answered(2)[1]["text"] == "no"


def test_nonsense_without_end_fills_neither_record_nor_broker(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    now = module.monotonic()
    monkeypatch.setattr(module, "monotonic", lambda: now)
    for _ in range(500):
        house.desk.turn_away("stop", TurnedAway("no"))
    assert len(house.notices) == len(house.desk.answers) <= MOST_TURNED_AWAY
    now += 61.0
    house.desk.turn_away("stop", TurnedAway("no", "nonce-1", "Ines"))
    assert house.notices[-1].text == "Ines asked through the broker for stop; refused: no"


def test_the_nonces_remembered_are_bounded(house: House) -> None:
    for n in range(NONCES + 50):
        while not house.desk.hand_in(asked(n)):
            until(lambda: len(house.given) >= n - 5, within_s=5.0, what="room")  # noqa: B023
    assert len(house.desk.seen) == NONCES
    assert asked(NONCES + 49).id in house.desk.seen
