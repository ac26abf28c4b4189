"""The facts of a real kernel in a namespace, against what iproute2 says of the same."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.lab

ROOT = Path(__file__).parents[2]

SETUP = """
set -e
ip link set lo up
ip link add d0 type veth peer name d1
ip link set d0 address 02:00:5e:10:00:01
ip link set d0 mtu 1492 up
ip link set d1 up
ip link add b0 type bridge
ip link add e0 type veth peer name e1
ip link set e0 master b0 up
ip link set e1 up
ip link set b0 up
ip addr add 192.0.2.30/24 dev d0 valid_lft 3600 preferred_lft 1800
ip addr add 2001:db8:1::30/64 dev d0 nodad
ip addr add 192.0.2.130/28 dev b0
ip link add link d0 name d0.7 type vlan id 7 || ip link add link d0 name d0.7 type macvlan
ip link set d0.7 up
ip addr add 198.51.100.130/25 dev d0.7
ip link add f0 type veth peer name f1
echo 0 > /proc/sys/net/ipv6/conf/f0/router_solicitation_delay
ip link set f0 up
ip link set f1 up
ip addr add 198.51.100.140/25 dev f0 noprefixroute
ip addr add 2001:db8:2::1/64 dev f1 nodad
ip addr add 2001:db8:3::1/64 dev f0 preferred_lft 0 nodad
ip addr add 2001:db8:4::1/64 dev f0 nodad
ip addr add 2001:db8:2::1/64 dev f0
ip route add default via 192.0.2.1 dev d0 metric 100
ip route add default via 198.51.100.129 dev d0.7 metric 400
ip route add default via 198.51.100.131 dev d0.7 metric 300
for try in $(seq 100); do
  ip -6 addr show dev f0 | grep -q dadfailed && break
  sleep 0.02
done
ip route add 198.51.100.0/24 via 192.0.2.129 dev b0
"""

READ = """
import json, sys
from dataclasses import asdict
from pathlib import Path
from agent.engines.linux_facts import LinuxFacts
from agent.errors import CannotMeasure
facts = LinuxFacts(Path(sys.argv[1]))
ways = {}
for address in ("198.51.100.9", "203.0.113.9", "2001:db8:9::1"):
    try:
        ways[address] = asdict(facts.route(address))
    except CannotMeasure as error:
        ways[address] = error.code
print(json.dumps({
    "ports": [asdict(p) for p in facts.interfaces()],
    "ways": ways,
    "leases": [asdict(x) for x in facts.leases("d0")],
    "tagged": [asdict(x) for x in facts.leases("d0.7")],
    "states": {x.address: x.state for x in facts.leases("f0")},
    "resolvers": facts.resolvers("d0"),
    "counters": asdict(facts.counters("d0")),
}))
"""


@pytest.fixture(scope="module")
def seen(require_lab, tmp_path_factory):
    """Return (what the facts port says, what `ip` says) from inside one namespace."""
    root = tmp_path_factory.mktemp("root")
    (root / "etc").mkdir()
    (root / "etc/resolv.conf").write_text("nameserver 127.0.0.53\nnameserver 192.0.2.53\n")
    plain = ["-U", "--map-user=1000", "--map-group=1000", "--keep-caps"]
    argv = ["unshare", *(plain if os.geteuid() else []), "-n", "sh", "-c"]
    ip = "ip -j -d -s link; echo; ip -j addr; echo; ip -j route"
    script = f'{SETUP}\n"$0" -c "$1" "$2"; echo; {ip}'
    done = subprocess.run(
        [*argv, script, sys.executable, READ, str(root)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=30,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    ours, links, addresses, _routes = (
        json.loads(part) for part in done.stdout.split("\n\n") if part.strip()
    )
    return ours, {link["ifname"]: link for link in links}, addresses


def named(ours, name):
    return next(port for port in ours["ports"] if port["link"]["interface"] == name)


def test_every_port_is_seen_as_ip_sees_it(seen):
    ours, links, _ = seen
    assert {p["link"]["interface"] for p in ours["ports"]} == set(links)
    for port in ours["ports"]:
        theirs = links[port["link"]["interface"]]
        assert port["index"] == theirs["ifindex"]
        assert port["link"]["mtu_bytes"] == theirs["mtu"]
        running = "UP" in theirs["flags"] and "LOWER_UP" in theirs["flags"]
        assert port["link"]["up"] == running


def test_addresses_and_their_validity(seen):
    ours, _, addresses = seen
    theirs = {(a["local"], a["prefixlen"]) for link in addresses for a in link.get("addr_info", ())}
    held = {(a["address"], a["prefix"]) for p in ours["ports"] for a in p["addresses"]}
    assert held == theirs
    leased = next(a for a in named(ours, "d0")["addresses"] if a["address"] == "192.0.2.30")
    assert 3500 < leased["valid_s"] <= 3600


def test_ports_media_and_parents(seen):
    ours, _, _ = seen
    port, joined = named(ours, "d0")["link"], named(ours, "b0")["link"]
    assert (port["medium"], port["virtual"], port["parent"]) == ("wired", True, None)
    assert port["hardware_address"] == "02:00:5e:10:00:01"
    # drivers/net/veth.c: a veth port says 10 Gbit/s, full duplex.
    assert (port["speed_bps"], port["duplex"]) == (10_000_000_000, "full")
    assert (joined["parent"], joined["parent_kind"], joined["speed_bps"]) == (
        "e0",
        "bridge",
        10_000_000_000,
    )
    assert named(ours, "lo")["link"]["medium"] == "loopback"


def test_ways(seen):
    ours, _, _ = seen
    assert ours["ways"]["198.51.100.9"] == {
        "interface": "b0",
        "source": "192.0.2.130",
        "gateway": "192.0.2.129",
    }
    assert ours["ways"]["203.0.113.9"] == {
        "interface": "d0",
        "source": "192.0.2.30",
        "gateway": "192.0.2.1",
    }
    assert ours["ways"]["2001:db8:9::1"] == "no-route"
    assert named(ours, "d0")["ways"] == [{"family": 4, "gateway": "192.0.2.1", "metric": 100}]


def test_the_lease_and_its_resolvers(seen):
    ours, _, _ = seen
    first, second = ours["leases"]
    assert (first["origin"], first["address"], first["gateway"]) == (
        "dhcp",
        "192.0.2.30",
        "192.0.2.1",
    )
    assert (second["family"], second["origin"]) == (6, "static")
    assert ours["resolvers"] == ["192.0.2.53"]


def test_counters_are_those_of_the_port(seen):
    ours, links, _ = seen
    theirs = links["d0"]["stats64"]
    # Neighbour discovery may still send a few frames between the two readings.
    assert 0 <= theirs["tx"]["bytes"] - ours["counters"]["sent_bytes"] < 2000


def test_a_tagged_port_takes_its_facts_from_the_port_beneath(seen):
    """On kernels without 802.1Q another kind of port on top of a port stands in, untagged."""
    ours, links, _ = seen
    port = named(ours, "d0.7")["link"]
    told = links["d0.7"]["linkinfo"]
    assert (port["parent"], port["parent_kind"]) == ("d0", told["info_kind"])
    assert (port["medium"], port["speed_bps"], port["duplex"]) == ("wired", 10_000_000_000, "full")
    assert port["vlan_id"] == told["info_data"].get("id")
    assert named(ours, "d0")["link"]["vlan_id"] is None


def test_every_default_way_of_a_port_the_best_first(seen):
    (lease,) = seen[0]["tagged"]
    assert (lease["gateway"], lease["ways"]) == (
        "198.51.100.131",
        ["198.51.100.131", "198.51.100.129"],
    )


def test_another_port_in_the_same_network_is_seen(seen):
    ours, _, _ = seen
    assert ours["tagged"][0]["beside"] == ["f0"]
    assert ours["leases"][0]["beside"] == ["b0"], "192.0.2.130/28 lies in 192.0.2.0/24"


def test_the_kernels_word_for_an_address(seen):
    """RFC 4862 §2 and §5.4: the far port answered that it has the second address."""
    ours, _, addresses = seen
    theirs = {
        a["local"]: next((f for f in ("dadfailed", "deprecated") if a.get(f)), None)
        for link in addresses
        for a in link.get("addr_info", ())
        if link.get("ifname") == "f0"
    }
    words = {"dadfailed": "duplicate", "deprecated": "deprecated", None: "preferred"}
    assert ours["states"] == {a: words[f] for a, f in theirs.items() if not a.startswith("fe80")}
    assert set(ours["states"].values()) == set(words.values())
