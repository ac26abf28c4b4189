"""What the port carries, how full it is, and what a client hears of it."""

import math
import socket

import pytest

from agent.codec.card import parse_card
from agent.codec.document import write_document
from agent.server import port
from agent.server.capacity import HEADROOM, OTHERS_SHARE, SHARE, Budget
from agent.server.load import COMPANY_SHARE, KEPT_S, PortLoad, Rates
from agent.server.port import Counters, counters, interface_of, speed_bps

GIGABIT = 1e9


def test_a_need_is_what_a_client_says_else_the_fastest_line_else_the_whole_port():
    whole = SHARE * GIGABIT
    assert Budget(capacity_bps=GIGABIT).need_bps(None) == whole
    assert Budget(capacity_bps=GIGABIT).need_bps(1e8) == HEADROOM * 1e8
    assert Budget(capacity_bps=GIGABIT, largest_bps=3e8).need_bps(None) == HEADROOM * 3e8
    assert Budget(capacity_bps=GIGABIT, largest_bps=3e8).need_bps(1e8) == HEADROOM * 1e8
    assert Budget(capacity_bps=GIGABIT).need_bps(1e12) == whole
    assert Budget().need_bps(1e12) == 0.0


def test_room_shrinks_with_what_others_move_beyond_their_share():
    budget = Budget(capacity_bps=GIGABIT)
    assert budget.room_bps(OTHERS_SHARE * GIGABIT) == SHARE * GIGABIT
    assert budget.room_bps(0.3 * GIGABIT) == pytest.approx((SHARE - 0.3 + OTHERS_SHARE) * GIGABIT)
    assert Budget().room_bps(GIGABIT) == math.inf


class Readings:
    """A port whose counters the test moves on."""

    def __init__(self, capacity_bps=GIGABIT):
        self.counted = Counters(received=0, sent=0)
        self.load = PortLoad(lambda: self.counted, capacity_bps)
        self.load.read(Rates(), 0.0)

    def second(self, now_s, *, down=0.0, up=0.0, own=None):
        """Let one second pass with the given rates."""
        self.counted = Counters(
            received=self.counted.received + int(up / 8), sent=self.counted.sent + int(down / 8)
        )
        self.load.read(own or Rates(), now_s)


def test_a_port_tells_what_it_moves_in_all_and_beside_our_clients():
    readings = Readings()
    readings.second(1.0, down=6e8, up=1e8, own=Rates(down_bps=5e8, up_bps=0.0))
    assert readings.load.seen == Rates(down_bps=6e8, up_bps=1e8)
    assert readings.load.others_bps == 1e8
    readings.second(2.0, down=5.3e8, own=Rates(down_bps=5e8))
    assert readings.load.others_bps == 0.0


def test_without_counters_there_is_what_our_own_clients_move():
    load = PortLoad(lambda: None, GIGABIT)
    load.read(Rates(down_bps=7e8), 1.0)
    assert (load.seen, load.others_bps) == (Rates(down_bps=7e8), 0.0)


def test_a_counter_that_was_set_back_says_nothing():
    readings = Readings()
    readings.counted = Counters(received=100, sent=100)
    readings.load.read(Rates(), 1.0)
    readings.counted = Counters(received=0, sent=0)
    readings.load.read(Rates(), 2.0)
    assert readings.load.seen == Rates()


CROWDS = [
    (2, 0.95, 0.0, None, True),
    (1, 0.95, 0.0, None, False),
    (2, 0.5, 0.0, 0.2, False),
    (2, 0.1, 0.0, 0.99, True),
    (1, 0.1, 0.0, 0.99, False),
    (1, 0.95, COMPANY_SHARE + 0.1, None, True),
    (0, 0.95, 0.95, None, False),
]


@pytest.mark.parametrize(("clients", "filled", "others", "cpu", "crowded"), CROWDS)
def test_a_server_is_crowded_when_it_is_full_and_no_test_has_it_alone(
    clients, filled, others, cpu, crowded
):
    readings = Readings()
    own = Rates(down_bps=(filled - others) * GIGABIT / 1.1)
    readings.second(1.0, down=filled * GIGABIT, own=own)
    readings.load.judge(clients, cpu, 1.0)
    assert readings.load.crowded_s(4.0) == (3.0 if crowded else None)
    assert readings.load.crowded_s(2.0 + KEPT_S) is None


def test_without_a_capacity_only_the_processors_crowd():
    readings = Readings(capacity_bps=None)
    readings.second(1.0, down=9e9)
    readings.load.judge(2, 0.2, 1.0)
    assert readings.load.crowded_s(1.0) is None
    readings.load.judge(2, 0.99, 1.0)
    assert readings.load.crowded_s(1.0) == 0.0


@pytest.fixture
def net(tmp_path):
    """Return a function that lays out one interface as the kernel does under /sys/class/net."""

    def interface(name, *, speed=None, device=False, below=(), octets=None):
        folder = tmp_path / name
        folder.mkdir()
        if speed is not None:
            (folder / "speed").write_text(f"{speed}\n")
        if device:
            (folder / "device").mkdir()
        for lower in below:
            (folder / f"lower_{lower}").symlink_to(tmp_path / lower)
        if octets is not None:
            (folder / "statistics").mkdir()
            for stem, value in zip(("rx_bytes", "tx_bytes"), octets, strict=True):
                (folder / "statistics" / stem).write_text(f"{value}\n")

    interface.folder = tmp_path
    return interface


def test_only_what_a_real_device_tells_is_a_speed(net):
    net("card", speed=1_000, device=True)
    net("down", speed=-1, device=True)
    net("pair", speed=10_000)
    net("vlan", speed=1_000, below=["card"])
    net("bridge", below=["pair", "vlan"])
    net("loop", below=["loop"])
    names = ("card", "down", "pair", "vlan", "bridge", "loop", "absent")
    told = {name: speed_bps(name, net.folder) for name in names}
    real = dict.fromkeys(("card", "vlan", "bridge"), GIGABIT)
    assert told == dict.fromkeys(names, None) | real


def test_counters_are_read_or_not_there(net):
    net("card", octets=(12, 34))
    net("odd", octets=("x", 1))
    assert counters("card", net.folder) == Counters(received=12, sent=34)
    assert counters("odd", net.folder) is None
    assert counters("absent", net.folder) is None


# The columns of route(5)'s /proc/net/route and of net/ipv6/route.c, from memory.
ROUTES = """Iface\tDestination\tGateway \tFlags\tRefCnt\tUse\tMetric\tMask\t\tMTU\tWindow\tIRTT
eth1\t0002C6C0\t00000000\t0001\t0\t0\t0\t00FFFFFF\t0\t0\t0
eth0\t00000000\t010200C0\t0003\t0\t0\t100\t00000000\t0\t0\t0
"""
NOWHERE = "0" * 32
ROUTES_6 = (
    f"{NOWHERE} 00 {NOWHERE} 00 {NOWHERE} ffffffff 00000001 00000000 00200200 lo\n"
    f"{NOWHERE} 00 {NOWHERE} 00 20010db8{'0' * 23}1 00000400 00000001 00000000 00000003 eth6\n"
)
ADDRESSES_6 = "20010db8000000000000000000000007 03 40 00 80 eth7\n"


def test_the_interface_is_the_default_routes_or_the_addresss(tmp_path, monkeypatch):
    for name, text in (
        ("ROUTES", ROUTES),
        ("ROUTES_6", ROUTES_6),
        ("ADDRESSES_6", ADDRESSES_6),
    ):
        (tmp_path / name).write_text(text)
        monkeypatch.setattr(port, name, tmp_path / name)
    assert interface_of("::") == interface_of("0.0.0.0") == "eth0"
    assert interface_of("2001:db8::7") == "eth7"
    assert interface_of("2001:db8::8") is None
    (tmp_path / "ROUTES").write_text(ROUTES.splitlines()[0])
    assert interface_of("::") == "eth6"
    monkeypatch.setattr(port, "ROUTES_6", tmp_path / "absent")
    assert interface_of("::") is None


def test_loopback_is_no_port():
    assert interface_of("127.0.0.1") is None
    assert interface_of("203.0.113.250") is None


@pytest.mark.loopback
def test_the_card_tells_capacity_and_what_is_promised(start):
    serving = start(capacity_bps=GIGABIT)
    assert serving.address.capacity_bps == GIGABIT
    load = serving.ask("GET", "/card")[2]["load"]
    assert (load["capacity_bps"], load["promised_bps"], load["crowded_s"]) == (GIGABIT, 0, None)
    plain = serving.socket()
    plain.sendall(b"GET /download?bytes=9000000000&rate=100000000 HTTP/1.1\r\nHost: x\r\n\r\n")
    assert plain.recv(1) == b"H"
    card = parse_card(write_document(serving.ask("GET", "/card")[2]))
    assert card.load.promised_bps == pytest.approx(HEADROOM * 1e8)
    assert card.load.clients == 1


@pytest.mark.loopback
def test_who_needs_what_is_promised_to_others_is_asked_to_wait(start):
    serving = start(capacity_bps=GIGABIT, host="0.0.0.0")
    held = serving.socket()
    held.sendall(b"GET /download?bytes=9000000000&rate=500000000 HTTP/1.1\r\nHost: x\r\n\r\n")
    assert held.recv(1) == b"H"

    def asks(query, source):
        request = f"GET /download?bytes=10{query} HTTP/1.0\r\n\r\n".encode()
        return serving.raw(request, source=source)

    assert asks("&rate=50000000", "127.0.0.2").startswith(b"HTTP/1.1 200 ")
    for query in ("", "&rate=300000000"):
        refused = asks(query, "127.0.0.3")
        assert refused.startswith(b"HTTP/1.1 503 ")
        assert b'"code":"busy"' in refused
        assert b"Retry-After: " in refused


@pytest.mark.loopback
@pytest.mark.parametrize("rate", ["0", "-1", "1e9", "1.5", "x", "9" * 16, "%00"])
@pytest.mark.parametrize("target", ["/card?rate=", "/download?bytes=1&rate=", "/upload?rate="])
def test_a_rate_that_is_no_rate_is_refused(common, target, rate):
    method = "PUT" if "upload" in target else "GET"
    status, _, document = common.ask(method, target + rate, body=b"x" if method == "PUT" else None)
    assert (status, document["error"]["code"]) == (400, "bad-rate")


@pytest.mark.loopback
def test_head_on_the_uploads_path_only_opens_a_connection(common):
    # RFC 9110 §8.6: no Content-Length in an answer with status 204.
    with socket.create_connection((common.address.host, common.address.port), 10) as plain:
        plain.sendall(b"HEAD /upload?run=0123456789 HTTP/1.1\r\nHost: x\r\n\r\n")
        head = plain.recv(4_096)
        assert head.startswith(b"HTTP/1.1 204 No Content\r\n")
        assert b"Content-Length" not in head
        assert head.endswith(b"\r\n\r\n")
        plain.sendall(
            b"PUT /upload?run=0123456789 HTTP/1.1\r\nHost: x\r\nContent-Length: 3\r\n\r\nabc"
        )
        assert plain.recv(4_096).startswith(b"HTTP/1.1 200 OK\r\n")


@pytest.mark.loopback
def test_the_card_names_the_congestion_control_of_its_connections(start):
    if not hasattr(socket, "TCP_CONGESTION"):
        pytest.skip("this system does not tell it")
    with socket.socket() as tcp:
        told = tcp.getsockopt(socket.IPPROTO_TCP, socket.TCP_CONGESTION, 16)
    card = start().ask("GET", "/card")[2]
    assert card["congestion_control"].encode() == told.rstrip(b"\0")
