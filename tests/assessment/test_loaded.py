"""Delay that the agent's own load adds: advice, and a promise only where the settings say so.

Limits: common practice, no source.
"""

from dataclasses import replace

import pytest
from visits import SERVER, criterion, delay, judge, server, visit, with_limits

from agent.assessment.model import Verdict
from agent.diagnosis.model import Segment
from agent.measurements import Role
from agent.settings.model import Access, Purpose

MEETS, BELOW, OPEN = Verdict.MEETS, Verdict.BELOW, Verdict.NOT_PROVEN


def loaded(way, rtt_ms, **more):
    ran = delay(Role.SERVER, SERVER, rtt_ms=rtt_ms, id=f"delay-{way}", **more)
    return replace(ran, observed=replace(ran.observed, load=way))


@pytest.mark.parametrize(
    ("access", "limit_ms"),
    [(Access.FIBRE, 50), (Access.CABLE, 150), (Access.DSL, 200), (Access.WIRELESS, 300)],
)
@pytest.mark.parametrize("way", ["down", "up"])
def test_the_rise_is_loaded_p95_less_idle_median(access, limit_ms, way):
    """The idle median is 8.3 ms and the loaded p95 lies 0.6 ms above its least value."""
    name = f"server-delay-rise-{way}"
    for above, expected in ((-2.0, MEETS), (2.0, BELOW)):
        slow = loaded(way, 8.3 + limit_ms + above - 0.6)
        found = judge(visit(slow), access=access)
        rise = criterion(found, name)
        assert rise.measured == pytest.approx(limit_ms + above, abs=0.11)
        assert (rise.outcome, rise.needed, rise.limit) == (expected, False, limit_ms)
        assert rise.measurements == ("delay-server", f"delay-{way}")
        assert found.assessment.verdict is MEETS


def test_a_rise_is_advice_that_places_no_fault():
    found = judge(visit(loaded("up", 380.0)), access=Access.CABLE).diagnosis
    assert found.segment is Segment.NONE
    (finding,) = found.findings
    assert (finding.code, finding.next_step) == ("delay-rises-under-load", "set-queue-management")
    assert set(finding.values) == {"limit_ms", "up_ms"}


def test_faults_come_before_advice():
    found = judge(visit(loaded("up", 380.0), server(up=40, down=40))).diagnosis
    assert found.segment is not Segment.NONE
    assert found.findings[-1].code == "delay-rises-under-load"


def test_a_promised_rise_decides_and_must_be_measured():
    rules = with_limits(server_delay_rise={"needed": True, "source": "our product sheet"})
    found = judge(visit(loaded("up", 480.0), loaded("down", 20.0)), rules=rules)
    assert found.assessment.deciding == ("server-delay-rise-up",)
    assert found.diagnosis.segment is Segment.UNDETERMINED
    bare = judge(visit(), rules=rules)
    assert criterion(bare, "server-delay-rise-up").reason.code == "not-measured"
    assert bare.assessment.verdict is OPEN


def test_without_a_loaded_series_nothing_is_said():
    names = {c.name for c in judge(visit()).assessment.criteria}
    assert not {n for n in names if n.startswith("server-delay-rise")}


def test_a_loaded_series_never_stands_for_the_idle_one():
    only = judge(visit(loaded("up", 90.0), without=("delay-server",)))
    rise = criterion(only, "server-delay-rise-up")
    assert (rise.outcome, rise.reason.code) == (OPEN, "not-measured")
    assert criterion(only, "server-loss").reason.code == "not-measured"


def test_loss_under_load_that_hides_the_percentile_is_told():
    lossy = judge(visit(loaded("down", 30.0, up=40)))
    rise = criterion(lossy, "server-delay-rise-down")
    assert (rise.outcome, rise.reason.code) == (OPEN, "not-reached")
    assert lossy.assessment.verdict is MEETS


def test_the_guarded_rule_wants_the_whole_interval():
    found = judge(visit(loaded("up", 380.0)), access=Access.CABLE, purpose=Purpose.COMPLAINT)
    rise = criterion(found, "server-delay-rise-up")
    assert rise.low <= rise.measured <= rise.high
    assert rise.outcome is BELOW
