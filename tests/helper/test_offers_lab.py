"""The helper before real servers: dnsmasq and Kea side by side, a used address, an empty pool."""

import json
import os
import shutil
import sys
from concurrent.futures import ThreadPoolExecutor
from ipaddress import IPv4Network
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
API = "https://portal.ternbay.example/api"
CONCENTRATOR = "ternbay-ac1"
PLACES = f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin"

LOG = {
    "name": "kea-dhcp4",
    "severity": "INFO",
    "output_options": [{"output": "stdout", "flush": True}],
}

ASK = """
import json, sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict
from pathlib import Path
from agent.engines.rights import split_rights
from agent.ports.frames import Discover, Padi

rights = split_rights(True)
port = {
    "interface": "eth0",
    "hardware_address": Path("/sys/class/net/eth0/address").read_text().strip(),
}
with ThreadPoolExecutor() as pool:
    probe = pool.submit(
        rights.frames.discover,
        Discover(**port, listen_s=6.0, held=tuple(sys.argv[1:]), options=((60, b"ternbay"),)),
    )
    sessions = pool.submit(rights.frames.concentrators, Padi(**port, listen_s=1.5))
    print(json.dumps([asdict(probe.result()), asdict(sessions.result())]))
rights.close()
"""
STAND_READY = """
import sys
from pathlib import Path
from agent.practice.handing_out import serve_concentrator

own = bytes.fromhex(Path("/sys/class/net/eth0/address").read_text().strip().replace(":", ""))
serve_concentrator("eth0", own, sys.argv[1])
"""


def kea(home):
    """Return the configuration of a Kea that gives a network, and every option that is read."""
    router = str(home[1])
    # RFC 3442: 10.17.0.0/16 by the router and the default way; derived from its figure.
    routes = bytes((16, 10, 17, *home[1].packed, 0, *home[1].packed))
    raw = {114: API.encode(), 108: (60).to_bytes(4), 121: routes}
    options = [{"code": c, "csv-format": False, "data": v.hex()} for c, v in raw.items()]
    options += [{"name": "routers", "data": str(home[9])}]
    options += [{"name": "domain-name-servers", "data": router}]
    subnet = {
        "subnet": str(home),
        "interface": "eth0",
        "pools": [{"pool": f"{home[20]} - {home[60]}"}],
    }
    return json.dumps(
        {
            "Dhcp4": {
                "interfaces-config": {"interfaces": [f"eth0/{router}"]},
                "lease-database": {"type": "memfile", "persist": False},
                "valid-lifetime": 1200,
                "loggers": [LOG],
                "subnet4": [{**subnet, "option-data": options}],
            }
        }
    )


def second_network(addresses):
    home = IPv4Network(addresses.lan)
    octets = home.network_address.packed
    return IPv4Network((bytes((*octets[:2], octets[2] ^ 1, 0)), 24))


def put_kea(network, program):
    """Let a second device, which also has the laptop's address, give addresses with Kea."""
    home, host = second_network(network.addresses), network.host("second")
    host.run(["ip", "address", "add", f"{home[1]}/24", "dev", "eth0"], timeout=5, check=True)
    folders = {"KEA_LOCKFILE_DIR": "none", "KEA_PIDFILE_DIR": FOLDER, "PATH": PLACES}
    server = host.popen(
        [program, "-c", f"{FOLDER}/kea.json"], env=folders, files={"kea.json": kea(home)}
    )
    said = b""
    for line in server.stdout:
        said += line
        if b"DHCP4_STARTED" in line:
            return home
    pytest.fail(f"Kea did not start: {said.decode()}")


def asked(network, *held):
    done = network.laptop.run([sys.executable, "-c", ASK, *held], timeout=30, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def beside(seed, program):
    """Return (probe, discovery, what the laptop sent, the second network) beside another device."""
    with PracticeNetwork(
        LineSpec(seed=seed, faults=(FaultChoice(name="address-in-use"),))
    ) as network:
        home = put_kea(network, program)
        network.host("second").popen([sys.executable, "-c", STAND_READY, CONCENTRATOR], cwd=ROOT)
        only = f"ether src {network.addresses.laptop_hardware} and not ip6"
        witness = network.router.popen(
            ["tcpdump", "-i", "lan", "-nn", "-v", "-l", "--immediate-mode", only],
            env={"PATH": PLACES},
        )
        witness.stderr.readline()
        probe, sessions = asked(network, network.laptop.address)
        witness.terminate()
        sent = witness.communicate(b"", 5)[0].decode()
        return probe, sessions, sent, home, network.addresses, network.laptop.address


def emptied(seed):
    with PracticeNetwork(
        LineSpec(seed=seed, faults=(FaultChoice(name="pool-exhausted"),))
    ) as network:
        return *asked(network), network.addresses


@pytest.fixture(scope="module")
def heard(require_lab):
    """Return what came of both networks, which stand at the same time: each takes six seconds."""
    program = shutil.which("kea-dhcp4", path=PLACES)
    if program is None:
        (pytest.fail if os.environ.get("REQUIRE_LAB") == "1" else pytest.skip)(
            "kea-dhcp4 is not installed"
        )
    with ThreadPoolExecutor() as pool:
        first, second = pool.submit(beside, 5, program), pool.submit(emptied, 6)
        return first.result(), second.result()


def test_two_servers_of_two_makes_are_both_heard(heard):
    probe, _, _, home, addresses, held = heard[0]
    by_server = {offer["server_id"]: offer for offer in probe["offers"]}
    assert set(by_server) == {addresses.router, str(home[1])}
    own = by_server[addresses.router]
    # RFC 2131 §4.3.1: the same client is offered the address it holds; §4.4.5: its times.
    assert (own["address"], own["routers"]) == (held, [addresses.router])
    assert (own["t1_s"], own["t2_s"]) == (own["lease_s"] * 0.5, own["lease_s"] * 0.875)
    assert own["server_hardware_address"] != by_server[str(home[1])]["server_hardware_address"]
    assert probe["listened_s"] >= 6


def test_every_option_of_kea_is_read(heard):
    probe, _, _, home, *_ = heard[0]
    offer = next(one for one in probe["offers"] if one["server_id"] == str(home[1]))
    assert (offer["captive_api"], offer["ipv6_only_s"]) == (API, 300)
    assert [r["network"] for r in offer["routes"]] == ["10.17.0.0", "0.0.0.0"]
    # RFC 3442: the classless default way, not the router of option 3.
    assert offer["routers"] == [str(home[1])]
    assert (offer["lease_s"], offer["dns"], offer["faulty_options"]) == (1200, [str(home[1])], [])


def test_the_device_with_the_same_address_is_found(heard):
    probe, _, _, _, _, held = heard[0]
    (use,) = probe["in_use"]
    assert (use["address"], use["held"]) == (held, True)
    second = {o["server_hardware_address"] for o in probe["offers"] if o["address"] != held}
    assert {use["hardware_address"]} == second
    assert held in probe["probed"]


def test_a_concentrator_of_another_process_answers(heard):
    sessions = heard[0][1]
    (one,) = sessions["concentrators"]
    assert (one["name"], one["services"], one["cookie_bytes"]) == (
        CONCENTRATOR,
        ["", "internet"],
        16,
    )
    assert sessions["sent"] == 1


def test_nothing_was_taken_and_nothing_else_was_sent(heard):
    """What the wire shows: one DISCOVER, ARP probes with an empty sender, one PADI."""
    sent = heard[0][2]
    assert sent.count("DHCP-Message (53), length 1: Discover") == 1
    assert "DHCP-Message (53), length 1: Request" not in sent
    assert sent.count("PPPoE PADI") == 1
    assert "PADR" not in sent
    assert "PADT" not in sent
    # RFC 5227 §2.1.1: three probes for each address; tcpdump writes the zero sender as 0.0.0.0.
    assert sent.count("tell 0.0.0.0") == 3 * len(heard[0][0]["probed"])


def test_an_empty_pool_is_told_from_no_server_at_all(heard):
    probe, sessions, addresses = heard[1]
    assert (probe["offers"], probe["sent"], probe["presence_asked"]) == ([], 2, True)
    (nak,) = probe["naks"]
    assert (nak["server_id"], nak["to_system"]) == (addresses.router, False)
    assert (sessions["concentrators"], sessions["sent"]) == ([], 2)
