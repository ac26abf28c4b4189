"""A laptop at the modem: what it is given, what it meets there, and the modem's own faults."""

import os
import sys

import pytest
from bare import echo

from agent.practice.faults_modem import FAULTS
from agent.practice.handle import python_path
from agent.practice.homes import AT_MODEM
from agent.practice.line import FaultChoice, LineSpec
from agent.practice.network import PracticeNetwork
from agent.practice.strikes_offers import OTHER_DEVICE

pytestmark = [pytest.mark.lab, pytest.mark.once, pytest.mark.usefixtures("require_lab")]

TAKE_LEASE = """
import sys
from agent.practice.oslease import take_lease
lease = take_lease(sys.argv[1], bytes.fromhex(sys.argv[2].replace(":", "")))
print(lease and (lease.address, lease.gateway, lease.dns, lease.server_id))
"""


def at_modem(*faults, **line):
    chosen = tuple(FaultChoice.parse(name) for name in faults)
    return PracticeNetwork(LineSpec(seed=4, home=AT_MODEM, faults=chosen, **line))


def pinged(network, address):
    """Return how many of three echo requests the system's own ping has answered."""
    command = ["ping", "-n", "-c", "3", "-i", "0.2", "-W", "1", address]
    return network.laptop.run(command, timeout=10).stdout.count(" time=")


def lease_of(network, hardware_address):
    """Return what a device of that hardware address is given on the laptop's port."""
    command = [sys.executable, "-c", TAKE_LEASE, network.interface, hardware_address]
    path = {"PATH": os.environ["PATH"], "PYTHONPATH": python_path(os.environ)}
    return network.laptop.run(command, timeout=30, check=True, env=path).stdout.strip()


@pytest.fixture(scope="module")
def healthy():
    with at_modem() as network:
        yield network


def test_the_edge_gives_address_way_and_resolver(healthy):
    plan = healthy.addresses
    told = lease_of(healthy, plan.laptop_hardware)
    assert told == repr((healthy.laptop.address, plan.edge, (plan.resolver,), plan.edge))
    assert not healthy.built["translates"]


def test_the_server_is_reached_over_the_line(healthy):
    assert healthy.ways()[0] == healthy.addresses.edge
    told = echo(healthy, count=20, gap_s=0.002)
    assert {number for number, _ in told["back"]} == set(range(20))


def test_the_modem_answers_from_before_the_line_and_the_edge_from_behind_it(healthy):
    """The line carries what goes to the edge; of what is for the modem it sees nothing."""
    for address, crosses in ((healthy.addresses.edge, True), (healthy.addresses.modem, False)):
        before = healthy.counters()["up"]["carried"]
        assert pinged(healthy, address) == 3
        assert (healthy.counters()["up"]["carried"] - before >= 3) is crosses


def test_the_built_in_servers_do_as_well():
    with at_modem(real_servers=False) as network:
        assert network.laptop.address == network.addresses.wan
        assert pinged(network, network.addresses.server)


def test_a_bound_modem_serves_the_device_before_and_no_other():
    with at_modem("modem-bound") as network:
        assert network.laptop.address is None
        assert lease_of(network, network.addresses.laptop_hardware) == "None"
        assert network.addresses.edge in lease_of(network, OTHER_DEVICE)


def test_the_modem_of_a_dark_line_gives_an_address_of_its_own():
    with at_modem("dead-line-at-modem") as network:
        assert network.laptop.address == network.addresses.modem_neighbour
        assert pinged(network, network.addresses.modem)
        assert pinged(network, network.addresses.edge) == 0


def test_nothing_is_reached_once_the_line_is_lost():
    """Not even the modem: what is for it would go to a gateway that nobody can find (RFC 826)."""
    with at_modem("line-lost-at-modem") as network:
        assert network.laptop.address
        assert pinged(network, network.addresses.modem) == 0
        assert pinged(network, network.addresses.edge) == 0


def test_a_fault_before_the_lease_leaves_no_address():
    names = ("modem-bound", "pool-empty-at-modem", "dhcp-silent-at-modem", "dark-line-at-modem")
    assert set(names) < {fault.name for fault in FAULTS}
    for name in names[1:]:
        with at_modem(name) as network:
            assert network.laptop.address is None
