"""The chain as a whole: laws that hold for any visit, and that it is pure."""

import random
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from visits import dns, down, first_hop, gateway, judge, modem, server, up, visit

from agent.assessment.model import Verdict
from agent.diagnosis.model import Segment
from agent.measurements import Kind
from agent.settings.model import Purpose

GOOD = {Verdict.BELOW: 0, Verdict.NOT_PROVEN: 1, Verdict.MEETS: 2}
purposes = st.sampled_from([Purpose.INSTALLATION, Purpose.COMPLAINT])
few = settings(max_examples=40, deadline=None)


def outcomes(conclusion):
    found = {}
    for criterion in conclusion.assessment.criteria:
        rank = GOOD[criterion.outcome]
        found[criterion.name] = min(rank, found.get(criterion.name, rank))
    return found


@few
@given(st.integers(0, 60), st.integers(0, 60), st.sampled_from(["up", "down"]), purposes)
def test_one_more_lost_packet_never_improves_an_outcome(lost_up, lost_down, way, purpose):
    """As long as one answer remains: complete silence is not loss, and is judged as such."""
    more = {"up": lost_up + (way == "up"), "down": lost_down + (way == "down")}
    before = judge(visit(server(up=lost_up, down=lost_down)), purpose=purpose)
    after = judge(visit(server(**more)), purpose=purpose)
    for name, rank in outcomes(after).items():
        assert rank <= outcomes(before)[name], name
    assert GOOD[after.assessment.verdict] <= GOOD[before.assessment.verdict]


@few
@given(st.integers(0, 198), st.integers(0, 40), purposes)
def test_one_more_loss_at_the_gateway_never_improves_the_verdict(near, far, purpose):
    before = judge(visit(gateway(down=near), server(up=far)), purpose=purpose)
    after = judge(visit(gateway(down=near + 1), server(up=far)), purpose=purpose)
    assert GOOD[after.assessment.verdict] <= GOOD[before.assessment.verdict]


@few
@given(st.integers(0, 19), purposes)
def test_one_more_query_without_answer_never_improves_the_verdict(lost, purpose):
    before = judge(visit(dns(answered=20 - lost)), purpose=purpose)
    after = judge(visit(dns(answered=19 - lost)), purpose=purpose)
    assert GOOD[after.assessment.verdict] <= GOOD[before.assessment.verdict]


@few
@given(st.floats(1e6, 200e6), st.floats(0, 0.5), purposes)
def test_a_slower_transfer_never_improves_the_verdict(rate, less, purpose):
    before = judge(visit(down(rate)), purpose=purpose)
    after = judge(visit(down(rate * (1 - less))), purpose=purpose)
    assert GOOD[after.assessment.verdict] <= GOOD[before.assessment.verdict]


parts = st.sets(st.sampled_from([m.id for m in visit()]))


@few
@given(parts, purposes)
def test_missing_measurements_never_make_a_line_meet_or_fall_below(gone, purpose):
    found = judge(visit(without=tuple(gone)), purpose=purpose)
    assert found.assessment.verdict is not Verdict.BELOW
    needed = {"lease-local", "dns-resolver", "delay-server", "throughput-down", "throughput-up"}
    if gone & needed:
        assert found.assessment.verdict is Verdict.NOT_PROVEN


@few
@given(st.integers(0, 2**32))
def test_order_of_measurements_does_not_matter(seed):
    measurements = list(visit(server(up=16), first_hop(down=4)))
    plain = judge(tuple(measurements))
    random.Random(seed).shuffle(measurements)
    shuffled = judge(tuple(measurements))
    assert shuffled.assessment.verdict is plain.assessment.verdict
    assert {f.code for f in shuffled.diagnosis.findings} == {
        f.code for f in plain.diagnosis.findings
    }


def test_statistics_stand_beside_every_measurement():
    found = judge(visit())
    assert set(found.statistics) == {m.id for m in visit()}
    assert all(s is not None for s in found.statistics.values())


def test_the_same_measurements_give_the_same_conclusion():
    assert judge(visit(server(up=9))) == judge(visit(server(up=9)))


def test_nothing_measured_is_not_proven_and_placed_nowhere():
    found = judge(())
    assert found.assessment.verdict is Verdict.NOT_PROVEN
    assert found.diagnosis.segment is Segment.UNDETERMINED


@pytest.mark.parametrize("seed", range(10))
def test_noisy_healthy_lines_meet(seed):
    """Twenty percent above the accepted rates, a little loss, a wobbling transfer."""
    rng = random.Random(seed)
    found = judge(
        visit(
            server(up=rng.randrange(3), down=rng.randrange(3)),
            gateway(down=rng.randrange(2)),
            modem(down=rng.randrange(20)),
            down(rng.uniform(95e6, 108e6), wobble=0.1),
            up(rng.uniform(19e6, 21e6), wobble=0.1),
        )
    )
    assert found.assessment.verdict is Verdict.MEETS, found.assessment.deciding
    assert all(f.confidence < 0.75 for f in found.diagnosis.findings)


def test_it_needs_no_clock_and_no_socket(monkeypatch):
    measurements = visit()
    judge(measurements)
    import socket

    def refuse(*args, **kwargs):
        raise AssertionError

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(time, "time", refuse)
    monkeypatch.setattr(time, "monotonic_ns", refuse)
    assert judge(measurements).assessment.verdict is Verdict.MEETS


def test_every_kind_is_judged():
    kinds = {m.kind for m in visit()}
    assert kinds == set(Kind)
    covered = {i for c in judge(visit()).assessment.criteria for i in c.measurements}
    unjudged = {m.id for m in visit()} - covered
    assert unjudged == {"link-local", "delay-modem", "reach-outside"}
