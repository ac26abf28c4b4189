"""The faults of line and operator as a laptop meets them: where delay and loss begin."""

import json
import statistics
import sys
from itertools import pairwise
from pathlib import Path

import pytest
from bare import echo

from agent.practice.line import FaultChoice, LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [pytest.mark.lab, pytest.mark.once, pytest.mark.usefixtures("require_lab")]

WALK = Path(__file__).with_name("bare_walk.py")
MEGA = 1_000_000
RTT_MS = 4


def network_of(*names, **line):
    faults = tuple(map(FaultChoice.parse, names))
    return PracticeNetwork(LineSpec(**{"seed": 5, "rtt_ms": RTT_MS, "faults": faults, **line}))


def walked(network, *arguments):
    command = [sys.executable, str(WALK), network.addresses.server, *map(str, arguments)]
    done = network.laptop.run(command, timeout=30, plain=True)
    assert not done.returncode, done.stderr
    return json.loads(done.stdout)


def times_ms(network, host, count=150):
    return [time_ms for _, time_ms in echo(network, count=count, gap_s=0.005, host=host)["back"]]


def rate_bps(host, port):
    """Return the rate that a port is shaped at, as the kernel tells."""
    shown = host.run(["tc", "-s", "-d", "qdisc", "show", "dev", port], timeout=5).stdout
    number, unit = shown.split(" rate ")[1].split()[0], 1
    for name, factor in (("Kbit", 1_000), ("Mbit", MEGA), ("Gbit", 1000 * MEGA), ("bit", 1)):
        if number.endswith(name):
            number, unit = number.removesuffix(name), factor
    return float(number) * unit


def test_a_detour_lies_past_the_first_core_router_and_spares_what_is_outside():
    with network_of("detour:light") as network:
        assert tuple(walked(network, "walk", 6)["walk"]) == network.ways()
        near = min(times_ms(network, network.core))
        assert min(times_ms(network, network.outside)) == pytest.approx(near, abs=1)
        for further in (network.host("core1"), network.server):
            # The line's own error, not that of a busy computer, which only ever adds.
            assert min(times_ms(network, further)) == pytest.approx(near + 40, abs=1)
        assert network.truth()["detour_ms"] == 40


def test_loss_in_the_core_begins_past_the_edge_and_the_line_loses_nothing():
    with network_of("lossy-core:severe") as network:
        assert len(times_ms(network, network.edge, 400)) == 400
        # 600 go through 5 % twice: 58.5 lost on average, deviation 7.3.
        assert 30 < 600 - len(times_ms(network, network.server, 600)) < 90
        assert network.losses() == ()
        assert all(counters["lost"] == 0 for counters in network.counters().values())


def test_a_line_that_loses_on_the_way_up_brings_every_answer_down():
    with network_of("lossy-up:severe") as network:
        back = len(times_ms(network, network.server, 600))
        assert 10 < 600 - back < 60
        assert {loss["way"] for loss in network.losses()} == {"up"}
        assert len(network.losses()) >= 600 - back


def test_a_line_that_drops_is_dark_both_ways_at_once_and_whole_in_between():
    with network_of("line-drops:light") as network:
        echo(network, count=800, gap_s=0.01)
        lost_s = sorted(loss["at_s"] for loss in network.losses())
        ways = {loss["way"] for loss in network.losses()}
    gaps = [later - former for former, later in pairwise(lost_s)]
    outages = 1 + sum(gap > 0.5 for gap in gaps)
    # 8 s hold one outage at least and four at most: light lasts 1.5 to 4.5 s.
    assert 1 <= outages <= 5
    assert "up" in ways
    starts = [lost_s[0], *(b for a, b in pairwise(lost_s) if b - a > 0.5)]
    for start in starts:
        within = [at_s for at_s in lost_s if start <= at_s < start + 1]
        assert within[-1] - start <= 0.5


def test_a_busy_edge_holds_up_what_passes_it_and_not_what_stops_before():
    with network_of("busy-edge:severe", down_bps=100 * MEGA, up_bps=20 * MEGA) as network:
        near = statistics.median(times_ms(network, network.edge))
        far = times_ms(network, network.server, 400)
        # Two ways under a load of 0.82: 27 ms each on average (M/M/1), less in the median.
        assert statistics.median(far) > near + 15
        assert statistics.pstdev(far) > 5
        # 1.5 times the line of 1.1 times the tier, towards the core and from it.
        assert rate_bps(network.edge, "out") == pytest.approx(33 * MEGA, rel=0.01)
        assert rate_bps(network.core, "in") == pytest.approx(165 * MEGA, rel=0.01)


def test_a_slow_servers_port_is_slow_both_ways_and_the_line_is_not():
    with network_of("server-slow:severe", down_bps=100 * MEGA, up_bps=20 * MEGA) as network:
        assert rate_bps(network.server, "eth0") == pytest.approx(30 * MEGA, rel=0.01)
        assert rate_bps(network.core, "server") == pytest.approx(30 * MEGA, rel=0.01)
        assert rate_bps(network.edge, "line") == pytest.approx(110 * MEGA, rel=0.01)


@pytest.mark.parametrize(
    ("severity", "silent"), [("light", [2]), ("medium", [2, 3]), ("severe", [2, 3, 4])]
)
def test_routers_that_keep_silent_carry_all_the_same(severity, silent):
    with network_of(f"silent-echo:{severity}") as network:
        found = walked(network, "walk", 4)["walk"]
        assert [at for at, who in enumerate(found, 1) if who is None] == silent
        assert len(times_ms(network, network.server, 50)) == 50


def test_a_limited_router_answers_some_of_a_row_and_carries_all():
    with network_of("limited-hop:severe") as network:
        # 5 at once, then 5 a second, of probes that wait half a second where none comes.
        assert walked(network, "row", 2, 12)["answered"] < 12
        assert len(times_ms(network, network.server, 100)) == 100
