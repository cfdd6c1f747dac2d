"""The forecaster beside the loop: when it asks, what it passes on, what it survives."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from math import inf
from pathlib import Path
from typing import Any

import pytest

from dryward.core.curves import told
from dryward.core.inputs import Notice, Stop, Weigh
from dryward.record.moments import Stamp
from dryward.service import outlook as module
from dryward.service.foretell import Ahead, Outlook, Question
from dryward.service.loop import View
from dryward.service.outlook import EVERY_S, Forecaster, Prospect, figures, forecast_of, mark_of
from dryward.settings import AlertSettings
from tests.core.bench_chamber import Bench, piece
from tests.service.conftest import WholeRun
from tests.service.test_foretell import asked_at

UTC_S = 1_760_000_000.0


@dataclass
class Scene:
    """A chamber that runs, its forecaster (its thread is not started), and a child that only pretends."""

    bench: Bench
    forecaster: Forecaster
    asked: list[Question] = field(default_factory=list)
    shown: list[dict[str, float]] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    answers: Outlook | None = None

    def look(self) -> None:
        self.forecaster.look()


@pytest.fixture
def scene(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Scene]:
    bench = Bench.of()
    bench.begin(piece("a"), piece("b"), air_c=40.0)
    bench.turns(3, 40.0)
    made: Scene

    def show(figures: Mapping[str, float]) -> None:
        made.shown.append(dict(figures))

    forecaster = Forecaster(
        bench.layout, tmp_path / "r.db", AlertSettings(),
        view=lambda: View(bench.tick, bench.state, Stamp(utc_s=UTC_S), bench.last.on),
        flush=lambda: None, tell=lambda n: made.notices.append(n), show=show, settles_s=0.0,
    )  # fmt: skip
    made = Scene(bench, forecaster)

    def pretend(asked: Question) -> Outlook | None:
        made.asked.append(asked)
        return None if made.answers is None else replace(made.answers, made_s=asked.now)

    monkeypatch.setattr(forecaster, "_ask", pretend)
    made.answers = outlook(bench)
    yield made
    forecaster.close()


def outlook(bench: Bench, **more: Any) -> Outlook:
    now = bench.state.now
    a = Ahead(piece="a", last_s=now, last_g=800.0, finish_s=now + 9e4, lo_s=now + 8e4, hi_s=inf)
    return Outlook(run_id="r1", made_s=now, over_s=inf, pieces=(a, Ahead(piece="b", last_s=0.0, last_g=0.0, why="too few")), **more)  # fmt: skip


def test_it_asks_when_a_run_begins_after_a_weigh_in_and_every_quarter_of_an_hour(
    scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "REST", 0.0)
    scene.look()
    scene.look()
    assert len(scene.asked) == 1
    scene.bench.turn(40.0, asks=[Weigh(piece="a", weight_g=900.0)])
    scene.look()
    scene.look()
    assert len(scene.asked) == 2
    scene.bench.turns(int(EVERY_S) + 1, 40.0)
    scene.look()
    assert len(scene.asked) == 3


def test_it_rests_after_a_forecast_for_many_times_its_length(scene: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    scene.look()
    monkeypatch.setattr(scene.forecaster, "_rests_until_s", 1e12)
    scene.bench.turns(int(EVERY_S) + 1, 40.0)
    scene.look()
    assert len(scene.asked) == 1


def test_weigh_ins_in_a_row_are_waited_for(scene: Scene) -> None:
    scene.forecaster._settles_s = 1e9
    scene.bench.turn(40.0, asks=[Weigh(piece="a", weight_g=900.0)])
    scene.look()
    assert scene.asked == []


def test_a_forecast_is_shown_for_the_record_planned_with_and_its_warnings_are_told_once(scene: Scene) -> None:
    scene.answers = outlook(scene.bench, curves=(("stalled", "b"),))
    scene.look()
    assert [set(s) for s in scene.shown] == [{"finish_s:a", "finish_lo_s:a", "finish_hi_s:a"}]
    assert scene.notices == [told((("stalled", "b"),))]
    due = scene.forecaster.prospect.due(scene.bench.state, UTC_S)
    assert due is not None
    assert "b" in due.weigh
    scene.bench.turn(40.0, asks=[Weigh(piece="a", weight_g=900.0)])
    scene.look()
    assert len(scene.notices) == 1
    scene.answers = outlook(scene.bench)
    scene.bench.turn(40.0, asks=[Weigh(piece="a", weight_g=890.0)])
    scene.look()
    assert scene.notices[-1] == told(())


def test_what_was_learnt_is_asked_with_the_next_time(scene: Scene) -> None:
    scene.look()
    scene.bench.turn(40.0, asks=[Weigh(piece="a", weight_g=900.0)])
    scene.look()
    assert [q.learnt for q in scene.asked] == [False, True]


def test_a_failed_forecast_leaves_the_plan_by_the_clock_and_is_tried_again(
    scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    scene.answers = None
    scene.look()
    due = scene.forecaster.prospect.due(scene.bench.state, UTC_S)
    assert due is not None
    assert due.weigh == ("a", "b")
    scene.look()
    assert len(scene.asked) == 1  # not at once
    monkeypatch.setattr(scene.forecaster, "_rests_until_s", 0.0)
    scene.look()
    assert len(scene.asked) == 2


def test_with_the_run_the_forecast_is_over(scene: Scene) -> None:
    scene.look()
    scene.bench.turn(40.0, asks=[Stop()])
    scene.bench.turns(5, 40.0)
    scene.look()
    assert scene.forecaster.prospect == Prospect()
    assert scene.shown[-1] == {}


def test_never_is_recorded_as_zero_and_what_is_not_known_not_at_all(scene: Scene) -> None:
    found = figures(outlook(scene.bench))
    assert found["finish_hi_s:a"] == 0.0
    assert found["finish_s:a"] == round(scene.bench.state.now + 9e4)
    assert not any(name.endswith(":b") for name in found)


def test_a_snapshot_has_no_infinite_times() -> None:
    never = Ahead(piece="a", last_s=0.0, last_g=900.0, finish_s=inf, lo_s=5.0, hi_s=inf)
    prospect = Prospect(Outlook(run_id="r", made_s=1.0, over_s=9.0, pieces=(never,)))
    told_of = forecast_of(prospect, "a")
    assert (told_of["finish_s"], told_of["finish_lo_s"], told_of["finish_never"]) == (None, 5.0, True)
    unknown = forecast_of(Prospect(), "a")
    assert set(unknown) == set(told_of)
    assert unknown["finish_never"] is False


def test_the_thread_ends_with_its_child(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A child that would take for ever is killed at the end."""
    bench = Bench.of()
    bench.begin(piece("a"), air_c=40.0)
    children = []
    begun = threading.Event()
    real = module.subprocess.Popen

    def slow() -> Any:
        child = real(["sleep", "600"], stdin=-1, stdout=-1, stderr=-1)
        children.append(child)
        begun.set()
        return child

    monkeypatch.setattr(module, "start_child", slow)
    monkeypatch.setattr(module, "LOOK_S", 0.01)
    forecaster = Forecaster(
        bench.layout, tmp_path / "r.db", AlertSettings(),
        view=lambda: View(bench.tick, bench.state, Stamp(utc_s=UTC_S), bench.last.on),
        flush=lambda: None, tell=lambda n: None, show=lambda f: None, settles_s=0.0,
    )  # fmt: skip
    forecaster.start()
    assert begun.wait(10.0)
    forecaster.close()
    assert [c.poll() is not None for c in children] == [True]
    assert not any(t.name == "forecast" for t in threading.enumerate())


def test_a_real_child_answers_and_its_forecast_is_taken(whole_run: WholeRun) -> None:
    asked = asked_at(whole_run, 48.0)
    state = replace(whole_run.ended.state, run=asked.run, pieces=asked.pieces, now=asked.now)
    shown: list[Mapping[str, float]] = []
    forecaster = Forecaster(
        whole_run.ended.layout, whole_run.record, AlertSettings(),
        view=lambda: View(1, state, Stamp(utc_s=UTC_S), frozenset()),
        flush=lambda: None, tell=lambda n: None, show=shown.append, settles_s=0.0,
    )  # fmt: skip
    forecaster.look()
    found = forecaster.prospect.outlook
    assert found is not None
    assert {p.piece for p in found.pieces if p.finish_s is not None} == {p.piece.name for p in state.pieces}
    assert len(shown[0]) == 3 * len(state.pieces)
    assert forecaster.prospect.due(state, UTC_S) is not None


def test_only_what_people_do_and_steps_ask_for_a_new_forecast(scene: Scene) -> None:
    before = mark_of(scene.bench.state)
    scene.bench.turns(100, 40.0)
    assert mark_of(scene.bench.state) == before
    scene.bench.turn(40.0, asks=[Weigh(piece="a", weight_g=900.0)])
    assert mark_of(scene.bench.state) != before
