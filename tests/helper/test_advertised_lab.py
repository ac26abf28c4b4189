"""The helper before real advertisers and servers: dnsmasq beside radvd, and Kea for DHCPv6."""

import json
import os
import shutil
import sys
from pathlib import Path

import pytest

from agent.practice.host import FOLDER
from agent.practice.line import FaultChoice, LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [
    pytest.mark.lab,
    pytest.mark.once,
    pytest.mark.timeout(60),
    pytest.mark.usefixtures("require_lab"),
]

ROOT = Path(__file__).parents[2]
PLACES = f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin"
API = "https://portal.ternbay.example/api"
HOME, ROUTER, RESOLVER = "2001:db8:77:1::/64", "2001:db8:77:1::1", "2001:db8:77:1::53"

ASK = """
import json
from dataclasses import asdict
from pathlib import Path
from agent.engines.rights import split_rights
from agent.engines.linux_facts import LinuxFacts
from agent.ports.frames import Solicit

rights = split_rights(True)
own = Path("/sys/class/net/eth0/address").read_text().strip()
heard = rights.frames.routers(Solicit(interface="eth0", hardware_address=own, listen_s=6.0))
view = next(p.advertised for p in LinuxFacts().interfaces() if p.name == "eth0")
print(json.dumps([asdict(heard), asdict(view)]))
rights.close()
"""

RADVD = f"""
interface eth0 {{
  AdvSendAdvert on;
  AdvManagedFlag on;
  AdvOtherConfigFlag on;
  AdvLinkMTU 1492;
  AdvDefaultLifetime 300;
  AdvDefaultPreference high;
  MaxRtrAdvInterval 100;
  prefix {HOME} {{ AdvValidLifetime 200; AdvPreferredLifetime 100; }};
  route 2001:db8:99::/48 {{ AdvRouteLifetime 250; }};
  RDNSS {RESOLVER} {{ AdvRDNSSLifetime 150; }};
  DNSSL ternbay.example {{ AdvDNSSLLifetime 150; }};
}};
"""


def kea():
    """Return the configuration of a Kea that lends an address and delegates a prefix."""
    subnet = {
        "subnet": HOME,
        "interface": "eth0",
        "pools": [{"pool": "2001:db8:77:1::1000 - 2001:db8:77:1::2000"}],
        "pd-pools": [{"prefix": "2001:db8:8000::", "prefix-len": 40, "delegated-len": 56}],
        "option-data": [
            {"name": "dns-servers", "data": RESOLVER},
            {"name": "domain-search", "data": "ternbay.example"},
            {"code": 103, "csv-format": False, "data": API.encode().hex()},
        ],
    }
    return json.dumps(
        {
            "Dhcp6": {
                "interfaces-config": {"interfaces": ["eth0"]},
                "loggers": [
                    {
                        "name": "kea-dhcp6",
                        "severity": "INFO",
                        "output_options": [{"output": "stdout", "flush": True}],
                    }
                ],
                "server-id": {"type": "LL", "persist": False},
                "lease-database": {"type": "memfile", "persist": False},
                "preferred-lifetime": 1800,
                "valid-lifetime": 3600,
                "renew-timer": 900,
                "rebind-timer": 1440,
                "subnet6": [subnet],
            }
        }
    )


def program(name):
    found = shutil.which(name, path=PLACES)
    if found is None and os.environ.get("REQUIRE_LAB") != "1":
        pytest.skip(f"{name} is not installed")
    assert found, f"{name} is not installed"
    return found


def serve(host):
    """Let a device of the home advertise with radvd and lend with Kea."""
    for name, value in (("accept_dad", 0), ("forwarding", 1), ("disable_ipv6", 0)):
        line = f"echo {value} > /proc/sys/net/ipv6/conf/eth0/{name}"
        host.run(["sh", "-c", line], timeout=5, check=True)
    host.run(["ip", "address", "add", f"{ROUTER}/64", "dev", "eth0"], timeout=5, check=True)
    folders = {"KEA_LOCKFILE_DIR": "none", "KEA_PIDFILE_DIR": FOLDER, "PATH": PLACES}
    server = host.popen(
        [program("kea-dhcp6"), "-c", f"{FOLDER}/kea.json"], env=folders, files={"kea.json": kea()}
    )
    said = b""
    while line := server.stdout.readline():
        said += line
        if b"DHCP6_STARTED" in line:
            break
    assert b"DHCP6_STARTED" in said, said.decode()
    host.popen(
        [program("radvd"), "-n", "-C", f"{FOLDER}/radvd.conf", "-p", f"{FOLDER}/radvd.pid"],
        files={"radvd.conf": RADVD},
        env={"PATH": PLACES},
    )


@pytest.fixture(scope="module")
def heard():
    """Return (probe, the system's view, what the laptop sent, the home router's address)."""
    spec = LineSpec(seed=8, home="dual-stack", faults=(FaultChoice(name="address-in-use"),))
    with PracticeNetwork(spec) as network:
        serve(network.host("second"))
        only = f"ether src {network.addresses.laptop_hardware} and udp port 547"
        witness = network.router.popen(
            ["tcpdump", "-i", "lan", "-nn", "-l", "--immediate-mode", only],
            env={"PATH": PLACES},
        )
        witness.stderr.readline()
        done = network.laptop.run([sys.executable, "-c", ASK], timeout=30, cwd=ROOT)
        assert done.returncode == 0, done.stderr
        witness.terminate()
        sent = witness.communicate(b"", 5)[0].decode()
        probe, view = json.loads(done.stdout)
        return probe, view, sent, network.addresses_6


def by_radvd(probe):
    return next(one for one in probe["routers"] if one["managed"])


def test_both_routers_are_heard_each_with_its_own_words(heard):
    probe, _, _, plan = heard
    assert len({one["hardware_address"] for one in probe["routers"]}) == 2
    other = next(one for one in probe["routers"] if not one["managed"])
    assert f"{other['prefixes'][0]['network']}/64" == plan.lan
    assert other["dns"] == [plan.resolver]


def test_everything_that_radvd_says_is_read(heard):
    said = by_radvd(heard[0])
    assert (said["other"], said["router_lifetime_s"], said["preference"]) == (True, 300, "high")
    assert (said["mtu_bytes"], said["dns"], said["dns_lifetime_s"]) == (1492, [RESOLVER], 150)
    (prefix,) = said["prefixes"]
    assert (prefix["network"], prefix["valid_s"], prefix["preferred_s"]) == (HOME[:-3], 200, 100)
    assert said["routes"] == [{"network": "2001:db8:99::", "prefix": 48, "lifetime_s": 250}]
    assert said["domains"] == ["ternbay.example"]


def test_kea_offers_an_address_and_a_delegation(heard):
    (offer,) = [one for one in heard[0]["servers"] if one["kind"] == "advertise"]
    (lent,), (delegated,) = offer["addresses"], offer["delegated"]
    assert lent["network"].startswith("2001:db8:77:1::1")
    assert (lent["preferred_s"], lent["valid_s"]) == (1800, 3600)
    assert delegated["network"].startswith("2001:db8:80")
    assert (delegated["prefix"], offer["t1_s"], offer["t2_s"]) == (56, 900, 1440)
    assert (offer["dns"], offer["captive_api"]) == ([RESOLVER], API)


def test_kea_answers_the_question_for_resolvers_alone(heard):
    (reply,) = [one for one in heard[0]["servers"] if one["kind"] == "reply"]
    assert (reply["dns"], reply["domains"]) == ([RESOLVER], ["ternbay.example"])
    assert (reply["addresses"], reply["delegated"]) == ([], [])


def test_the_system_took_the_same_and_tells_anyone(heard):
    view = heard[1]
    # Of two routers' MTUs the kernel keeps the one that it heard last: dnsmasq says 1500.
    assert (view["received"], view["mtu_bytes"] in {1492, 1500}) == (True, True)
    networks = {one["network"]: one for one in view["prefixes"]}
    assert 0 < networks[HOME[:-3]]["preferred_s"] <= 100 < networks[HOME[:-3]]["valid_s"] <= 200
    assert len(view["routers"]) == 2


def test_nothing_was_asked_for_that_a_server_would_hold(heard):
    """RFC 8415 §18.2.1: a REQUEST takes what is offered; none was sent."""
    sent = [line for line in heard[2].splitlines() if "dhcp6" in line]
    assert sent
    assert {line.split("dhcp6 ")[1].split()[0] for line in sent} == {"solicit", "inf-req"}
