"""A search for a way round the guard: whatever is asked, read, lost or restarted, in any order, heat obeys its rules."""

from __future__ import annotations

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from dryward.core.alarms import tripped
from dryward.core.chamber import Limits
from dryward.core.engine import step
from dryward.core.inputs import (
    Ack,
    Ask,
    Hold,
    Inputs,
    Load,
    Notice,
    Pull,
    Reading,
    Request,
    Reset,
    Resume,
    Start,
    Stop,
    Weigh,
)
from dryward.core.phases import MAY_HEAT, TABLE
from dryward.core.program import Ends
from dryward.core.progress import inside_band
from dryward.core.state import State, adopt
from dryward.record.checkpoint import from_json, to_json
from tests.core.bench_chamber import AIR, LIMIT, Bench, chamber, hot, piece, program

# Short times, so that a search of some dozen steps reaches trips, ends and caps.
QUICK = Limits(trip_stale_s=12.0, over_setpoint_trip_s=40.0, max_heating_h=0.5)
PROGRAM = program(hot("one", ends=Ends(dwell_h=0.01)), hot("two", air_c=60.0, ends=Ends(own_target=True)), cap_h=0.2)
ASKS = st.one_of(
    st.sampled_from((Hold(), Resume(), Stop(), Reset(), Ack(), Load(pieces=(piece("a"), piece("b"))))),
    st.builds(Start, program=st.just(PROGRAM), run_id=st.sampled_from(("r1", "r2"))),
    st.builds(Weigh, piece=st.sampled_from(("a", "b", "ghost")), weight_g=st.floats(500.0, 1100.0)),
    st.builds(Pull, piece=st.sampled_from(("a", "b")), weight_g=st.one_of(st.none(), st.just(700.0))),
)
VALUES = st.one_of(st.none(), st.just(float("nan")), st.just(85.0), st.floats(-60.0, 140.0))
NOTICES = st.builds(
    Notice,
    st.sampled_from(
        ("clock-stepped", "skipped-ticks", "record-failing", "record-well", "keeper-lost", "crash-loop", "reader-lost")
    ),
    st.sampled_from((1.0, 3.0, -3600.0)),
    st.just("why"),
)


class Search(RuleBasedStateMachine):
    """One chamber, driven by chance. After every tick the rules are looked at."""

    @initialize()
    def begin(self) -> None:
        self.bench = Bench.of(chamber(sensors=(AIR, LIMIT), limits=QUICK))
        self.air_c = 22.0
        self.asked: list[Request] = []
        self.owed: set[str] = set()  # trips in force that nobody has acknowledged and reset
        self.was = self.bench.state
        # Most ways round a guard begin in a run that heats.
        self.tick(reads=22.0, asks=(Load(pieces=(piece("a"), piece("b"))), Start(program=PROGRAM, run_id="r0")))
        self.tick(reads=22.0)
        assert self.bench.heating

    def tick(
        self, *, reads: float | None, asks: tuple[Ask, ...] = (), notices: tuple[Notice, ...] = (), who: str = "Ines"
    ) -> None:
        self.was = self.bench.state
        self.bench.turn(
            reads, readings=(("limit", reads),) if reads is not None else (), asks=asks, notices=notices, who=who
        )
        self.look()

    def look(self) -> None:
        """The rules, in every tick."""
        was, state = self.was, self.bench.state
        on = self.bench.last.on
        accepted = [r for r in self.bench.last.replies if r.accepted]
        now_tripped = {a.key for a in tripped(state.alarms)}
        for gone in self.owed - now_tripped:
            alarm = next(a for a in was.alarms if a.key == gone)
            assert alarm.acked_by, f"{gone} went without a name"
            assert accepted, f"{gone} went without anybody asking"
        self.owed = now_tripped
        if "heater" in on:
            air = state.sensors[0]
            assert not now_tripped
            assert state.run.phase in MAY_HEAT
            assert air.quality == "fresh"
            assert state.now - air.sampled_s <= 10.0
            assert {"fan", "contactor"} <= on
        if state.run.run_id == was.run.run_id and was.run.run_id:
            assert state.run.step_index >= was.run.step_index
            if state.run.step_index == was.run.step_index and state.run.dwell_s > was.run.dwell_s:
                assert inside_band(PROGRAM.steps[state.run.step_index], state.sensors[0].good)

    @rule(seconds=st.integers(1, 30), k_per_s=st.floats(-0.5, 0.8))
    def air_moves(self, seconds: int, k_per_s: float) -> None:
        for _ in range(seconds):
            self.air_c = min(120.0, max(0.0, self.air_c + k_per_s))
            self.tick(reads=self.air_c)

    @rule(seconds=st.integers(1, 20))
    def nothing_is_read(self, seconds: int) -> None:
        for _ in range(seconds):
            self.tick(reads=None)

    @rule(value=VALUES)
    def something_odd_is_read(self, value: float | None) -> None:
        self.was = self.bench.state
        self.bench.turn(None, readings=(("air", value), ("limit", value)))
        self.look()

    @rule(ask=ASKS, who=st.sampled_from(("Ines", " ")))
    def somebody_asks(self, ask: Ask, who: str) -> None:
        self.tick(reads=self.air_c, asks=(ask,), who=who)
        self.asked.append(Request(request_id=f"q{self.bench.asked}", ask=ask, who=who))

    @precondition(lambda self: bool(getattr(self, "asked", ())))
    @rule(data=st.data())
    def a_message_comes_again(self, data: st.DataObject) -> None:
        """A replayed request is carried out once and never more."""
        again = data.draw(st.sampled_from(self.asked))
        self.was, self.bench.tick = self.bench.state, self.bench.tick + 1
        inputs = Inputs(readings=(Reading("air", self.air_c, self.bench.now),), requests=(again,))
        self.bench.state, self.bench.last = step(self.bench.layout, self.bench.state, inputs, self.bench.now)
        assert not self.bench.last.replies[0].accepted
        self.look()

    @rule(notice=NOTICES)
    def the_shell_tells(self, notice: Notice) -> None:
        self.tick(reads=self.air_c, notices=(notice,))

    @rule(away_s=st.sampled_from((0.0, 30.0, 1000.0, 90_000.0, -1.0)))
    def dryward_restarts(self, away_s: float) -> None:
        """Killed and started: the state goes through JSON, nothing is known of the air, and trips stay."""
        text = to_json(self.bench.state)
        assert from_json(State, text) == self.bench.state
        self.bench.state = adopt(self.bench.layout, from_json(State, text))
        self.bench.tick += int(max(0.0, away_s))
        self.tick(reads=None, notices=(Notice("restarted", away_s),))
        assert "heater" not in self.bench.last.on

    @invariant()
    def the_state_survives_json(self) -> None:
        if hasattr(self, "bench"):
            assert from_json(State, to_json(self.bench.state)) == self.bench.state


Search.TestCase.settings = settings(
    max_examples=60, stateful_step_count=40, deadline=None, suppress_health_check=list(HealthCheck)
)
TestNoWayRound = Search.TestCase


def test_every_run_ends_by_its_cap_whatever_happens() -> None:
    bench = Bench.of(chamber(limits=QUICK))
    bench.begin(piece("a"), with_program=PROGRAM)
    for second in range(int(0.2 * 3600) + 5):
        bench.turn(22.0 if second % 3 else None)
    assert bench.state.run.phase in ("complete", "stopped", "aborted", "stopping")


def test_a_phase_follows_only_by_the_table() -> None:
    """ISA-88: no phase leads anywhere that the table does not say, and every ended phase leads back to idle only."""
    for (phase, trigger), after in TABLE.items():
        assert phase != after
        if phase in ("complete", "stopped", "aborted"):
            assert (trigger, after) == ("clear", "idle")
