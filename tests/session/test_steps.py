"""Steps side by side: none can lose the others, none can hold the visit."""

import threading

import pytest

from agent.clock import ManualClock, Timeline
from agent.errors import RightMissing, TimedOut
from agent.measurements import Kind, LinkFacts, Measurement, Medium, Reason, Role, State
from agent.session.request import unwatched
from agent.session.running import VisitRunning
from agent.session.steps import Conductor, Step, failed, numbered, skipped


def complete(kind=Kind.LINK, role=Role.LOCAL, started_s=0.0):
    """Return a complete measurement."""
    facts = LinkFacts(interface="eth0", up=True, medium=Medium.WIRED)
    return Measurement(
        kind=kind,
        role=role,
        state=State.COMPLETE,
        method="system",
        started_s=started_s,
        duration_s=0.1,
        observed=facts,
    )


def step(probe, kind=Kind.DELAY, role=Role.SERVER, wall_s=5.0):
    """Return a step around a probe."""
    return Step(kind=kind, role=role, probe=probe, expected_s=1.0, wall_s=wall_s)


def raising(error):
    """Return a probe that raises."""

    def probe():
        raise error

    return probe


@pytest.fixture
def conductor():
    """A conductor on a manual clock that nobody watches."""
    return Conductor(Timeline.begin(ManualClock()), VisitRunning(), unwatched)


def test_a_probe_that_cannot_measure_leaves_its_reason(conductor):
    conductor.start(step(raising(RightMissing(right="cap_net_raw", purpose="echo"))))
    (one,) = conductor.finish()
    assert one.state is State.FAILED
    assert one.reason.code == "right-missing"
    assert one.reason.values["right"] == "cap_net_raw"


def test_a_broken_probe_does_not_lose_the_others(conductor):
    conductor.start(step(raising(ZeroDivisionError("boom\x1b[2J"))))
    conductor.start(step(lambda: (complete(),), kind=Kind.LINK))
    broken, sound = conductor.finish()
    assert broken.reason.code == "unexpected"
    assert "\x1b" not in broken.reason.values["error"]
    assert sound.state is State.COMPLETE


def test_finish_waits_only_for_the_kinds_it_is_given(conductor):
    gate = threading.Event()

    def held():
        gate.wait()
        return (complete(Kind.LEASE),)

    conductor.start(step(held, kind=Kind.LEASE))
    conductor.start(step(lambda: (complete(Kind.DNS),), kind=Kind.DNS))
    assert [m.kind for m in conductor.finish(Kind.DNS)] == [Kind.DNS]
    gate.set()
    assert [m.kind for m in conductor.finish()] == [Kind.LEASE]


def test_a_step_past_its_wall_limit_is_left_behind_with_that_reason():
    clock, gate = ManualClock(), threading.Event()

    def hurry(_progress):
        clock.now_s += 100.0

    conductor = Conductor(Timeline.begin(clock), VisitRunning(), hurry)
    conductor.start(step(lambda: (gate.wait(), ())[1], wall_s=5.0))
    (one,) = conductor.finish()
    gate.set()
    assert one.reason.code == "overran"
    assert one.reason.values["after_s"] == pytest.approx(5.0)


def test_the_watcher_hears_what_runs_how_long_still_and_what_was_used():
    told, gate = [], threading.Event()
    running = VisitRunning()
    running.used(1500)

    def watch(progress):
        told.append(progress)
        gate.set()

    conductor = Conductor(Timeline.begin(ManualClock()), running, watch)
    conductor.later_s = 12.0
    conductor.start(step(lambda: (gate.wait(), ())[1], kind=Kind.PATH))
    conductor.finish()
    assert told[0].running == (Kind.PATH,)
    assert told[0].left_s == pytest.approx(13.0)
    assert told[0].bytes_used == 1500
    assert told[-1].running == ()


def test_ids_follow_time_whatever_order_the_steps_ended_in():
    late = complete(Kind.DNS, Role.RESOLVER, started_s=2.0)
    early = complete(Kind.LINK, started_s=0.5)
    skip = skipped(Kind.PATH, Role.SERVER, Reason(code="not-asked"), 0.0)
    ids = [(m.id, m.kind) for m in numbered([late, early, skip])]
    assert ids == [("m01", Kind.PATH), ("m02", Kind.LINK), ("m03", Kind.DNS)]


def test_what_could_not_be_attempted_says_why():
    one = failed(Kind.PATH, Role.SERVER, Reason.of(TimedOut(address="x", after_s=3)), 1.0)
    assert one.state is State.FAILED
    assert one.reason.values == {"address": "x", "after_s": 3}
