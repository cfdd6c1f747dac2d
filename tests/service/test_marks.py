"""What became of the run in a tick, for the record."""

from __future__ import annotations

from dryward.core.inputs import Load, Pull, Stop, Weigh
from dryward.core.program import Ends
from dryward.core.state import State
from dryward.record.moments import Mark, PieceNotReached, PieceOut, PieceReached, RunBegan, RunEnded, StepBegan
from dryward.service.marks import KEEPING_WARM, marks
from tests.core.bench_chamber import Bench, hot, piece, program


def after(bench: Bench, before: State) -> tuple[Mark, ...]:
    return marks(before, bench.state)


def begun(*pieces: str) -> Bench:
    bench = Bench.of()
    steps = (hot("first", ends=Ends(dwell_h=10.0 / 3600.0)), hot("second"))
    bench.begin(*(piece(name) for name in pieces or ("a",)), with_program=program(*steps))
    return bench


def test_nothing_happened() -> None:
    bench = begun()
    before = bench.state
    bench.turn(22.0)
    assert after(bench, before) == ()
    assert marks(before, before) == ()


def test_a_run_began_with_its_pieces_and_the_state_before_it() -> None:
    bench = Bench.of()
    before = bench.state
    bench.begin(piece("a"), piece("b"))
    (mark,) = after(bench, before)
    assert isinstance(mark, RunBegan)
    assert (mark.run_id, [p.name for p in mark.pieces], mark.state_before) == ("r1", ["a", "b"], before)


def test_the_next_step_began_and_why() -> None:
    bench = begun()
    while bench.state.run.step_index == 0:
        before = bench.state
        bench.turn(80.0)
    (mark,) = after(bench, before)
    assert isinstance(mark, StepBegan)
    assert (mark.run_id, mark.step_no, mark.name) == ("r1", 1, "second")
    assert "in the band are over" in mark.why


def test_a_piece_reached_its_target_and_a_piece_came_out() -> None:
    bench = begun("a", "b")
    bench.turns(5, 22.0)
    before = bench.state
    bench.turn(22.0, asks=[Weigh(piece="a", weight_g=649.0)])
    (reached,) = after(bench, before)
    assert isinstance(reached, PieceReached)
    assert (reached.piece, reached.weight_g, reached.run_id) == ("a", 649.0, "r1")
    before = bench.state
    bench.turn(22.0, asks=[Pull(piece="a", weight_g=640.0)])
    assert after(bench, before) == (PieceOut(run_id="r1", piece="a", weight_g=640.0),)


def test_a_finish_by_a_wrong_weight_is_taken_back() -> None:
    bench = begun("a", "b")
    for ask in (Weigh(piece="a", weight_g=950.0), Pull(piece="a", weight_g=950.0)):
        for _ in range(2):  # a strange weight counts for done when it is said again
            bench.ask(Weigh(piece="a", weight_g=300.0), 22.0)
        before = bench.state
        bench.ask(ask, 22.0)
        assert after(bench, before)[0] == PieceNotReached(run_id="r1", piece="a")


def test_a_piece_taken_out_with_a_weight_at_its_target_has_reached_it_and_one_above_has_not() -> None:
    bench = begun("a", "b", "c")
    bench.turns(5, 22.0)
    before = bench.state
    bench.turn(22.0, asks=[Pull(piece="a", weight_g=650.0), Pull(piece="b", weight_g=651.0)])
    reached, *out = after(bench, before)
    assert isinstance(reached, PieceReached)
    assert (reached.piece, reached.weight_g, reached.crossed_s) == ("a", 650.0, bench.state.pieces[0].weighed_s)
    assert out == [PieceOut(run_id="r1", piece="a", weight_g=650.0), PieceOut(run_id="r1", piece="b", weight_g=651.0)]


def test_a_run_ended_with_the_last_weights() -> None:
    bench = begun("a", "b")
    bench.turn(22.0, asks=[Weigh(piece="b", weight_g=900.0)])
    bench.turn(22.0, asks=[Stop(reason="enough")])
    while bench.state.run.phase != "stopped":
        before = bench.state
        bench.turn(22.0)
    (ended,) = after(bench, before)
    assert isinstance(ended, RunEnded)
    assert (ended.end_state, ended.last_g) == ("stopped", {"b": 900.0})
    assert "enough" in ended.end_reason


def test_clearing_an_ended_run_is_no_second_end() -> None:
    bench = begun("a")
    bench.turn(22.0, asks=[Stop()])
    bench.turns(5, 22.0)
    before = bench.state
    bench.turn(22.0, asks=[Load(pieces=(piece("c"),))])
    assert not any(isinstance(m, RunEnded | PieceOut) for m in after(bench, before))


def test_keeping_warm_is_a_step_of_its_own_name() -> None:
    assert KEEPING_WARM == "keep-warm"
