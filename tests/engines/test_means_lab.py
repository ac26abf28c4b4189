"""Delay without any right to ICMP, over real kernels that limit their errors, in both families."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = [pytest.mark.lab, pytest.mark.usefixtures("require_lab")]

PROGRAM = Path(__file__).with_name("lab_means.py")
ROOT = PROGRAM.parents[2]
AS_USER = ["-U", "--map-user=1000", "--map-group=1000", "--keep-caps"]

ANSWERS = {4: "198.18.0.1", 6: "2001:db8:7::1"}
DROPS = {4: "198.18.0.8", 6: "2001:db8:7::8"}
FORBIDS = {4: "198.18.0.9", 6: "2001:db8:7::9"}
PROHIBITED = {4: "3/13", 6: "1/1"}
"""Communication administratively prohibited (RFC 1812 §5.2.7.1, from memory; RFC 4443 §3.1)."""


@pytest.fixture(scope="module")
def found(require_lab):
    """All series of one run, timed in one loop."""
    done = subprocess.run(
        ["unshare", *([] if os.geteuid() == 0 else AS_USER), "-n", sys.executable, str(PROGRAM)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_a_host_that_limits_its_errors_loses_nothing(found):
    limited = found["limited"]
    answered = limited["outcome"].count("answered")
    # Linux: six at once, then one each second (its icmp(7), icmp_ratelimit), and a warm-up.
    assert 4 <= answered <= 8
    assert limited["outcome"].count("lost") == 30 - answered
    assert limited["answers_limited"]


def of(found, role, address):
    """Return the series to one role and address, in the order in which they were run."""
    return [one for one in found["series"] if (one["role"], one["address"]) == (role, address)]


@pytest.mark.parametrize("family", [4, 6])
def test_a_gateway_is_timed_by_its_refusal_of_a_datagram(found, family):
    (series,) = of(found, "gateway", ANSWERS[family])
    assert (series["method"], series["family"]) == ("udp-unreachable", family)
    assert set(series["outcome"]) == {"answered"}
    assert series["clock"] == "kernel"
    assert series["errors"] == []


@pytest.mark.parametrize("family", [4, 6])
def test_a_server_is_timed_by_a_connection(found, family):
    (series,) = of(found, "server", ANSWERS[family])
    assert series["method"] == "tcp-connect"
    assert set(series["outcome"]) == {"answered"}
    # Nobody listens there: a reset, which no kernel stamps.
    assert series["clock"] == "user"


@pytest.mark.parametrize("family", [4, 6])
def test_a_silent_far_end_is_tried_by_each_means_as_the_plan_says(found, family):
    by_udp, by_tcp = of(found, "modem", DROPS[family])
    assert [one["method"] for one in (by_udp, by_tcp)] == ["udp-unreachable", "tcp-connect"]
    for one in (by_udp, by_tcp):
        assert set(one["outcome"]) == {"lost"}
        assert (one["reason"], one["clock"]) == ("means-silent", None)


@pytest.mark.parametrize("role", ["modem", "server"])
@pytest.mark.parametrize("family", [4, 6])
def test_whoever_forbids_it_is_named_and_nothing_is_called_an_answer(found, role, family):
    (series,) = of(found, role, FORBIDS[family])
    assert set(series["outcome"]) == {"unreachable"}
    assert {tuple(one[1:]) for one in series["errors"]} == {(FORBIDS[family], PROHIBITED[family])}
    assert set(series["rtt_ms"]) == {None}
