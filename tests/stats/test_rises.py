from dataclasses import replace

import pytest
from visits import delay

from agent.measurements import Role
from agent.stats.rises import with_rises
from agent.stats.summary import summarise


def rises(*measurements):
    alone = {m.id: summarise(m) for m in measurements}
    return {name: s.rise_ms for name, s in with_rises(measurements, alone).items()}


def series(name, rtt_ms, load="none", role=Role.SERVER, **more):
    made = delay(role, "203.0.113.9", rtt_ms=rtt_ms, id=name, **more)
    return replace(made, observed=replace(made.observed, load=load))


def test_each_loaded_series_rises_from_the_idle_one_of_its_far_end():
    # A series of `delay` swings by 0.6 ms in seven steps: median +0.3, 95th percentile +0.6.
    found = rises(
        series("near", 1.0, role=Role.GATEWAY),
        series("idle", 10.0),
        series("down", 30.0, "down"),
        series("up", 60.0, "up"),
    )
    assert found["near"] is None
    assert found["idle"] is None
    assert found["down"] == pytest.approx(20.3)
    assert found["up"] == pytest.approx(50.3)


def test_the_idle_series_of_the_same_method_and_family_is_the_one():
    found = rises(
        series("echo", 10.0, method="icmp-echo"),
        series("six", 15.0, family=6, method="stamp"),
        series("stamp", 20.0, method="stamp"),
        series("down", 30.0, "down", method="stamp"),
    )
    assert found["down"] == pytest.approx(10.3)


def test_no_rise_without_an_idle_series():
    assert rises(series("down", 30.0, "down")) == {"down": None}
