"""Resolvers of a practice network with two faults at once, questioned by a plain user."""

import json
import sys
from pathlib import Path

import pytest

from agent.practice.addresses import LONG_NAME
from agent.practice.line import FaultChoice, LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [pytest.mark.lab, pytest.mark.once]
ROOT = Path(__file__).parents[2]
FAULTS = ("dead-first-dns", "dns-truncation-broken")


@pytest.fixture(scope="module")
def resolvers(require_lab):
    """Return what was found of each resolver, and the network's own addresses."""
    spec = LineSpec(rtt_ms=20, seed=7, faults=tuple(map(FaultChoice.parse, FAULTS)))
    program = Path(__file__).with_name("lab_names.py")
    with PracticeNetwork(spec) as network:
        asked = (network.addresses.server_name, LONG_NAME)
        done = network.laptop.run(
            [sys.executable, "-c", program.read_text(), *asked], timeout=40, plain=True, cwd=ROOT
        )
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout), network.addresses


def test_each_resolver_of_the_lease_is_measured_apart_in_its_order(resolvers):
    found, addresses = resolvers
    asked = [(one["place"], one["resolver"]) for one in found]
    assert asked == [(0, addresses.outside), (1, addresses.resolver)]


def test_a_silent_resolver_answers_nothing_and_nothing_is_claimed_of_it(resolvers):
    silent = resolvers[0][0]
    assert (silent["sent"], silent["answered"], silent["errors"]) == (66, 0, [["lost", 66]])
    assert (silent["large"], silent["cuts"], silent["extends"]) == (None, None, None)


def test_a_living_one_has_its_times_and_loses_its_long_answers(resolvers):
    living = resolvers[0][1]
    assert (living["sent"], living["answered"]) == (66, 66)
    # The line adds 20 ms to each round trip; a busy machine may only add.
    assert 19.5 <= living["min_ms"] <= living["median_ms"] <= living["p95_ms"]
    # RFC 1035 §4.2.1 and RFC 6891 §6.2.6: cut where 512 octets are allowed, whole over TCP, and
    # lost where more are allowed, for something on the way drops them.
    assert (living["cuts"], living["large"], living["large_tcp"]) == (True, False, True)
    assert (living["tcp"], living["extends"]) == (True, True)
