"""Faults of the address held: what the laptop's own system then tells of it, as a plain user."""

import json
import sys

import pytest

from agent.practice.line import FaultChoice, LineSpec
from agent.practice.network import PracticeNetwork
from agent.practice.services import LEASE_S
from agent.practice.strikes_address import OVER_SINCE_S

pytestmark = [pytest.mark.lab, pytest.mark.once, pytest.mark.usefixtures("require_lab")]

READ = """
import json
from dataclasses import asdict
from agent.engines.linux_facts import LinuxFacts
facts = LinuxFacts()
held = [asdict(lease) for lease in facts.leases("eth0")]
print(json.dumps({"held": held, "resolvers": facts.resolvers("eth0")}))
"""


def told(fault):
    """Return (what the laptop tells, the addresses of the network) under a fault."""
    spec = LineSpec(seed=5, rtt_ms=2, faults=(FaultChoice(name=fault),))
    with PracticeNetwork(spec) as network:
        done = network.laptop.run([sys.executable, "-c", READ], timeout=30, plain=True, check=True)
        return json.loads(done.stdout), network.addresses


def test_a_lease_that_nobody_renewed():
    said, addresses = told("lease-expired")
    (lease,) = said["held"]
    assert (lease["origin"], lease["state"], lease["server_id"]) == (
        "dhcp",
        "expired",
        addresses.router,
    )
    assert OVER_SINCE_S <= lease["expired_s"] < OVER_SINCE_S + 60
    assert (lease["lease_s"], lease["ways"]) == (LEASE_S, [addresses.router])


def test_leases_of_two_routers_each_with_its_own_server():
    said, addresses = told("two-leases")
    first, second = said["held"]
    assert {first["origin"], second["origin"]} == {"dhcp"}
    assert first["server_id"] == addresses.router != second["server_id"]
    assert second["left_s"] > 0
    assert first["address"] != second["address"]
    assert first["leased_dns"] == [addresses.resolver]
