"""The practice network as a whole: what a laptop behind its router finds, what faults do."""

import ipaddress
import json
import os
import sys
from pathlib import Path

import pytest
from bare import echo, listening

from agent.errors import PracticeBroken, PracticeRefused, UsageError
from agent.practice.line import FaultChoice, LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [pytest.mark.lab, pytest.mark.usefixtures("require_lab")]

CONNECT = """
import socket, sys
try:
    with socket.create_connection((sys.argv[1], int(sys.argv[2])), timeout=1): print("connected")
except OSError as error: print(type(error).__name__)
"""
ASK_NAME = """
import dns.message, dns.query, dns.rcode, sys
query = dns.message.make_query(sys.argv[2], "A")
try: answer = dns.query.udp(query, sys.argv[1], timeout=2)
except dns.exception.Timeout: print("silent")
else: print(dns.rcode.to_text(answer.rcode()), *[r.address for s in answer.answer for r in s])
"""


def faulty(*names, **line):
    return LineSpec(faults=tuple(FaultChoice.parse(name) for name in names), **line)


def python(host, code, *arguments, plain=True):
    command = [sys.executable, "-c", code, *map(str, arguments)]
    return host.run(command, timeout=30, plain=plain).stdout.strip()


def connect(network, address, port):
    return python(network.laptop, CONNECT, address, port)


@pytest.fixture(scope="module")
def healthy():
    with PracticeNetwork(LineSpec(seed=3, rtt_ms=2, hops=3)) as network:
        yield network


def test_web_sites_are_reached_by_name_and_hold_their_own_marker(healthy):
    fetch = "import sys, urllib.request as u; print(u.urlopen(sys.argv[1], timeout=5).read())"
    for site in healthy.addresses.sites:
        assert site.marker in python(healthy.laptop, fetch, f"http://{site.name}/")


def test_resolver_knows_the_configured_names_and_denies_all_others(healthy):
    resolver, name = healthy.addresses.resolver, healthy.addresses.server_name
    answer = python(healthy.laptop, ASK_NAME, resolver, name)
    assert answer == f"NOERROR {healthy.server.address}"
    assert python(healthy.laptop, ASK_NAME, resolver, "nobody.example") == "NXDOMAIN"


def test_home_router_translates_the_laptops_address(healthy):
    assert healthy.built["translates"]
    who = "import socket,sys; s=socket.create_server((sys.argv[1],0)); print(s.getsockname()[1],"
    who += "flush=True); print(s.accept()[1][0], flush=True)"
    with healthy.server.popen([sys.executable, "-c", who, healthy.server.address]) as server:
        assert connect(healthy, healthy.server.address, int(server.stdout.readline())) == (
            "connected"
        )
        seen = server.stdout.readline().decode().strip()
    prefix = ipaddress.ip_network(healthy.addresses.operator_prefixes[0])
    assert ipaddress.ip_address(seen) in prefix


def test_laptop_holds_the_lease_that_its_file_and_its_kernel_tell_of(healthy):
    show = ["ip", "-json", "address", "show", "dev", healthy.interface]
    held = json.loads(healthy.laptop.run(show, timeout=5, plain=True).stdout)[0]["addr_info"][0]
    lease = healthy.laptop.run(
        ["cat", f"/var/lib/dhcp/dhclient.{healthy.interface}.leases"], timeout=5, plain=True
    ).stdout
    assert held["local"] == healthy.laptop.address
    assert f"fixed-address {held['local']};" in lease
    assert f"option routers {healthy.router.address};" in lease
    assert 3500 < held["valid_life_time"] <= 3600
    assert ipaddress.ip_address(held["local"]) in ipaddress.ip_network(healthy.addresses.lan)


def test_laptop_sees_its_own_resolver_file_and_devices_and_the_computer_keeps_its_own(healthy):
    files = healthy.laptop.run(["cat", "/etc/resolv.conf"], timeout=5, plain=True).stdout
    devices = healthy.laptop.run(["ls", "/sys/class/net"], timeout=5, plain=True).stdout
    assert files == f"nameserver {healthy.addresses.resolver}\n"
    assert devices.split() == [healthy.interface, "lo"]
    assert healthy.addresses.resolver not in Path("/etc/resolv.conf").read_text()


def test_a_plain_program_on_the_laptop_has_no_capability_at_all(healthy):
    code = "print(*[l.split()[1] for l in open('/proc/self/status') if l.startswith('Cap')])"
    assert set(python(healthy.laptop, code).split()) == {"0" * 16}
    raw = "import socket\ntry: socket.socket(socket.AF_PACKET, socket.SOCK_RAW)\n"
    raw += "except PermissionError: print('refused')"
    assert python(healthy.laptop, raw) == "refused"
    echo_socket = "import socket; socket.socket(2, 2, socket.IPPROTO_ICMP); print('allowed')"
    assert python(healthy.laptop, echo_socket) == "allowed"


def test_every_hop_and_the_modems_management_address_answer_an_echo_request(healthy):
    ask = """
import socket, sys
for address in sys.argv[1:]:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM, socket.IPPROTO_ICMP) as echo:
        echo.settimeout(3)
        echo.connect((address, 0))
        echo.send(bytes([8, 0, 0, 0, 0, 0, 0, 1]) + b"doorstep")
        print(echo.recv(100)[8:].decode())
"""
    names = ("router", "modem", "edge", "core", "core1", "core2", "server", "outside")
    addresses = [healthy.host(name).address for name in names]
    assert python(healthy.laptop, ask, *addresses).split() == ["doorstep"] * len(names)


def test_small_built_in_servers_stand_in_for_real_ones():
    spec = LineSpec(seed=9, rtt_ms=1, hops=2, real_servers=False)
    with PracticeNetwork(spec) as network:
        site = network.addresses.sites[2]
        fetch = "import sys, urllib.request as u; print(u.urlopen(sys.argv[1], timeout=5).read())"
        assert site.marker in python(network.laptop, fetch, f"http://{site.name}/")
        assert network.laptop.address == network.addresses.laptop
        resolver = network.addresses.resolver
        assert python(network.laptop, ASK_NAME, resolver, "nobody.example") == "NXDOMAIN"
        assert network.built["built_in"] == ["dnsmasq", "nginx", "nft"]
        assert not network.truth()["translated"]


def test_same_seed_gives_the_same_addresses_to_the_laptop():
    spec = LineSpec(seed=11, rtt_ms=0)
    with PracticeNetwork(spec) as first, PracticeNetwork(spec) as second:
        assert first.laptop.address == second.laptop.address
        assert first.addresses == second.addresses


def test_modem_dead_stops_line_and_management_but_not_the_carrier():
    with PracticeNetwork(faulty("modem-dead", seed=4)) as network:
        assert network.laptop.address
        assert connect(network, network.addresses.sites[0].address, 80) in (
            "TimeoutError",
            "OSError",
        )
        assert connect(network, network.modem.address, 80) in ("TimeoutError", "OSError")
        carrier = "import sys; print(open(f'/sys/class/net/{sys.argv[1]}/carrier').read())"
        assert python(network.laptop, carrier, network.interface) == "1"
        links = network.router.run(["ip", "-json", "link", "show", "wan"], timeout=5).stdout
        assert "LOWER_UP" in json.loads(links)[0]["flags"]
        assert connect(network, network.router.address, 9) == "ConnectionRefusedError"


def test_gateway_dead_leaves_lease_and_carrier_and_answers_nothing():
    with PracticeNetwork(faulty("gateway-dead", seed=4)) as network:
        assert network.laptop.address
        carrier = "import sys; print(open(f'/sys/class/net/{sys.argv[1]}/carrier').read())"
        assert python(network.laptop, carrier, network.interface) == "1"
        assert connect(network, network.router.address, 9) in ("TimeoutError", "OSError")
        assert connect(network, network.server.address, 9) in ("TimeoutError", "OSError")
        neighbour = ["ip", "-json", "neighbour", "show", network.router.address]
        found = json.loads(network.laptop.run(neighbour, timeout=5).stdout)
        assert all(entry["state"] in (["FAILED"], ["INCOMPLETE"]) for entry in found)


def test_no_lease_leaves_the_laptop_without_address():
    with PracticeNetwork(faulty("no-lease", seed=4)) as network:
        assert network.laptop.address is None
        show = ["ip", "-json", "address", "show", "dev", network.interface]
        assert json.loads(network.laptop.run(show, timeout=5).stdout)[0]["addr_info"] == []


def test_dead_dns_is_silence_while_addresses_still_work():
    with PracticeNetwork(faulty("dead-dns", seed=4)) as network:
        name = network.addresses.sites[0].name
        assert python(network.laptop, ASK_NAME, network.addresses.resolver, name) == "silent"
        assert connect(network, network.addresses.sites[0].address, 80) == "connected"


@pytest.mark.parametrize("handover", ["pppoe", "static"])
def test_other_handovers_have_an_address_and_no_offers(handover):
    with PracticeNetwork(LineSpec(seed=4, handover=handover)) as network:
        assert network.laptop.address == network.addresses.laptop
        assert connect(network, network.addresses.sites[0].address, 80) == "connected"
        processes = network.router.run(["ps", "-eo", "args"], timeout=5).stdout
        assert "--dhcp-range" not in processes


def test_every_lost_packet_is_in_the_lines_log_and_no_other_is_missing():
    spec = LineSpec(seed=5, rtt_ms=2, loss_down=0.05, loss_up=0.05)
    with PracticeNetwork(spec) as network:
        result = echo(network, count=600, gap_s=0.002)
        losses, counters = network.losses(), network.counters()
    numbers = [
        int.from_bytes(bytes.fromhex(loss["packet"])[28:32], "big")
        for loss in losses
        if bytes.fromhex(loss["packet"])[9] == 17
    ]
    missing = set(range(600)) - {number for number, _ in result["back"]}
    assert sorted(numbers) == sorted(missing)
    assert len(missing) > 0
    for way in ("up", "down"):
        assert counters[way]["lost"] == sum(loss["way"] == way for loss in losses)
        assert counters[way]["overrun"] == 0


def test_address_resolution_is_never_lost():
    spec = LineSpec(seed=5, rtt_ms=2, loss_down=0.9, loss_up=0.9)
    with PracticeNetwork(spec) as network:
        network.router.run(["ip", "neighbour", "flush", "all"], timeout=5, check=True)
        connect(network, network.server.address, 9)
        shown = ["ip", "-json", "neighbour", "show", network.edge.address]
        assert "lladdr" in json.loads(network.router.run(shown, timeout=5).stdout)[0]


def test_reordered_and_duplicated_packets_arrive_as_counted():
    spec = LineSpec(seed=6, rtt_ms=1, reorder=0.1, reorder_ms=20, duplicate=0.1)
    with PracticeNetwork(spec) as network:
        # What the start put on the line has left it once a first datagram has been waited for.
        echo(network, count=1, gap_s=0)
        before = network.counters()
        numbers = [number for number, _ in echo(network, count=400, gap_s=0.003)["back"]]
        counters = network.counters()
    copies = sum(counters[way]["duplicated"] - before[way]["duplicated"] for way in counters)
    assert set(numbers) == set(range(400))
    # Every copy that came was made by the line; it may have doubled a packet of its hosts as well.
    assert copies / 2 < len(numbers) - 400 <= copies
    assert numbers != sorted(numbers)
    assert counters["up"]["reordered"] > 0


def test_a_network_that_lost_a_part_ends_rather_than_play_something_else():
    kill_the_relay = """
import os
from pathlib import Path
here = os.readlink("/proc/self/ns/net")
for entry in Path("/proc").glob("[0-9]*/ns/net"):
    process = int(entry.parts[2])
    if process != os.getpid() and os.readlink(entry) == here: os.kill(process, 9)
"""
    with (
        PracticeNetwork(LineSpec(rtt_ms=0)) as network,
        network.laptop.popen(["sleep", "300"], plain=True) as visit,
        network.host("line").popen([sys.executable, "-c", kill_the_relay]),
    ):
        assert visit.wait(timeout=20) == -9


def test_programs_pass_on_input_output_and_exit_status(healthy):
    done = healthy.server.run(["sh", "-c", "cat; echo sad >&2; exit 7"], timeout=5, input=b"glad")
    assert (done.stdout, done.stderr, done.returncode) == ("glad", "sad\n", 7)
    with listening(healthy.server, "echo-server") as (_, process):
        assert process.poll() is None
        process.terminate()
        assert process.wait(timeout=5) == -15


def test_a_program_that_does_not_exist_is_the_shells_127(healthy):
    assert healthy.edge.run(["no-such-program"], timeout=5).returncode == 127


def test_unknown_fault_is_refused_before_anything_is_built():
    with pytest.raises(UsageError, match="no-such-fault"):
        PracticeNetwork(faulty("no-such-fault"))


def test_refused_namespaces_are_told_with_the_systems_words(monkeypatch, tmp_path):
    fake = tmp_path / "unshare"
    fake.write_text("#!/bin/sh\necho 'unshare: not permitted here' >&2\nexit 1\n")
    fake.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    with pytest.raises(PracticeRefused, match="not permitted here"):
        PracticeNetwork(LineSpec()).__enter__()


def test_a_service_that_does_not_start_is_said_by_name(monkeypatch, tmp_path):
    fake = tmp_path / "nginx"
    fake.write_text("#!/bin/sh\nexit 1\n")
    fake.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    with pytest.raises(PracticeBroken, match="web"):
        PracticeNetwork(LineSpec(rtt_ms=0)).__enter__()
