"""The further faults of the catalogue: laws of its entries, and what two of them do to packets."""

import json
import statistics
import sys
from itertools import pairwise

import pytest
from bare import echo, payload_bps
from hypothesis import given
from hypothesis import strategies as st

from agent.practice import faults_more, faults_more_home
from agent.practice.faults import CATALOGUE, as_struck, effect_of, segment_of
from agent.practice.homes import AT_MODEM, HOMES
from agent.practice.late_answers import checksum, reply_to
from agent.practice.line import FaultChoice, LineSpec, Severity
from agent.practice.network import PracticeNetwork
from agent.practice.products import Product
from agent.practice.strikes import STRIKES
from agent.practice.strikes_more import PARTS, chance
from agent.sheet.en.areas import FINDING

MORE = (*faults_more.FAULTS, *faults_more_home.FAULTS)
SEGMENTS = {"laptop", "home", "modem", "access", "operator", "beyond", "none"}
MBIT = 1_000_000
SMALLER = tuple(
    Product(name=f"{down}", down_bps=down * MBIT, up_bps=up * MBIT)
    for down, up in ((50, 10), (25, 5), (10, 2))
)


def struck(name, severity=Severity.MEDIUM):
    choice = FaultChoice(name=name, severity=severity)
    return as_struck(LineSpec(faults=(choice,), products=SMALLER))


def test_every_name_stands_once_in_the_whole_catalogue():
    names = [fault.name for fault in CATALOGUE]
    assert sorted(names) == sorted(set(names))
    assert {fault.name for fault in MORE} < set(names)


@pytest.mark.parametrize("fault", MORE, ids=lambda fault: fault.name)
def test_a_fault_has_a_known_place_and_findings_that_the_sheet_can_word(fault):
    assert fault.segment in SEGMENTS
    assert set(fault.findings) <= set(FINDING)
    assert bool(fault.findings) or fault.segment == "none"
    assert fault.sentence.endswith(".")
    assert segment_of(LineSpec(faults=(FaultChoice(name=fault.name),))) == fault.segment


@pytest.mark.parametrize("fault", MORE, ids=lambda fault: fault.name)
def test_severities_are_the_same_thrice_or_three_different_ones(fault):
    effects = [fault.effects[severity] for severity in Severity]
    different = [one for at, one in enumerate(effects) if one not in effects[:at]]
    assert len(different) in (1, 3)
    for one in different:
        assert {one.prepare, one.strike} <= {None, *STRIKES}


def test_a_third_of_them_or_more_can_strike_in_three_ways():
    graded = [f for f in MORE if f.effects[Severity.LIGHT] != f.effects[Severity.SEVERE]]
    assert len(graded) * 3 >= len(MORE)


@pytest.mark.parametrize("fault", MORE, ids=lambda fault: fault.name)
@pytest.mark.parametrize("severity", Severity)
def test_each_figure_grows_or_shrinks_from_light_to_severe(fault, severity):
    effects = [fault.effects[one].plays for one in Severity]
    for name in effects[0]:
        steps = [later[name] - former[name] for former, later in pairwise(effects)]
        assert min(steps) >= 0 or max(steps) <= 0
    assert struck(fault.name, severity).queue_ms > 0


@pytest.mark.parametrize("place", {fault.segment for fault in MORE} - {"none"})
def test_every_place_of_a_line_has_one(place):
    assert [fault for fault in MORE if fault.segment == place]


@pytest.mark.parametrize("fault", [f for f in MORE if f.segment == "home"], ids=lambda f: f.name)
def test_what_is_in_the_home_is_not_played_where_none_is(fault):
    assert effect_of(FaultChoice(name=fault.name)).home != AT_MODEM
    assert HOMES[struck(fault.name).home].routers


def test_a_download_slowed_alone_leaves_the_upload_above_its_tier():
    line = struck("slow-down-alone", Severity.SEVERE)
    assert line.shaped_down_bps == pytest.approx(0.2 * line.down_bps)
    assert line.shaped_up_bps > line.up_bps


@given(st.floats(0, 1))
def test_a_chance_is_drawn_as_finely_as_it_is_said(share):
    drawn = int(chance(share).rsplit(" ", 1)[1]) / PARTS
    assert drawn == pytest.approx(share, abs=0.5 / PARTS)


# RFC 1071 §3 adds these octets by hand: the sum is ddf2, so the checksum is its complement.
def test_the_checksum_is_that_of_the_worked_example():
    assert checksum(bytes.fromhex("0001f203f4f5f6f7")) == 0xFFFF ^ 0xDDF2


@given(st.binary(max_size=80), st.integers(5, 15))
def test_a_late_reply_carries_what_was_asked_and_checks_out(body, words):
    request = bytes((8, 0, 0, 0, 1, 2, 3, 4)) + body
    header = bytes((0x40 | words,)) + bytes(words * 4 - 1)
    reply = reply_to(header + request)
    assert reply is not None
    assert (reply[0], reply[1]) == (0, 0)
    assert reply[4:] == request[4:]
    assert checksum(reply) == 0


@pytest.mark.parametrize("kind", [0, 3, 11])
def test_what_is_no_request_gets_no_reply(kind):
    assert reply_to(bytes((0x45,)) + bytes(19) + bytes((kind,)) + bytes(11)) is None


# An echo request of RFC 792 whose identifier the kernel fills in for a datagram socket (icmp(7)).
ECHO = """
import json, socket, sys, time
times = []
with socket.socket(socket.AF_INET, socket.SOCK_DGRAM, socket.IPPROTO_ICMP) as port:
    port.settimeout(2)
    for number in range(int(sys.argv[2])):
        sent = time.monotonic()
        port.sendto(bytes((8, 0, 0, 0, 0, 0, 0, number)), (sys.argv[1], 0))
        port.recv(2048)
        times.append((time.monotonic() - sent) * 1000)
print(json.dumps(times))
"""


def network_of(name, severity):
    choice = FaultChoice(name=name, severity=severity)
    return PracticeNetwork(LineSpec(seed=5, rtt_ms=4, faults=(choice,)))


def times_ms(network, host, **how):
    return [time_ms for _, time_ms in echo(network, host=host, gap_s=0.005, **how)["back"]]


@pytest.mark.lab
@pytest.mark.once
@pytest.mark.usefixtures("require_lab")
def test_a_cord_at_the_modem_loses_to_the_modem_and_not_to_the_router():
    with network_of("modem-cord-lossy", Severity.SEVERE) as network:
        assert len(times_ms(network, network.router, count=300)) == 300
        # 600 go through 8 % twice: 92 lost on average, deviation 8.8.
        for host in (network.modem, network.server):
            assert 55 < 600 - len(times_ms(network, host, count=600)) < 130
        assert network.losses() == ()


@pytest.mark.lab
@pytest.mark.once
@pytest.mark.usefixtures("require_lab")
def test_a_router_that_answers_late_forwards_at_once():
    with network_of("gateway-late-to-echo", Severity.SEVERE) as network:
        command = [sys.executable, "-c", ECHO, network.router.address, "20"]
        done = network.laptop.run(command, timeout=30, check=True)
        late = json.loads(done.stdout)
        assert len(late) == 20
        assert min(late) >= 20
        assert statistics.median(times_ms(network, network.server, count=100)) < 20
        assert network.truth()["answers_late_ms"] == 20


@pytest.mark.lab
@pytest.mark.once
@pytest.mark.usefixtures("require_lab")
def test_a_backup_fills_the_way_up_while_nobody_measures():
    with network_of("household-backup", Severity.SEVERE) as network:
        own = 400
        times_ms(network, network.edge, count=own)
        up = network.counters()["up"]["carried"]
        # In two seconds 22 Mbit/s carry 3,600 full frames; beside ours a quarter of them at least.
        assert up > own + 900


@pytest.mark.lab
@pytest.mark.once
@pytest.mark.usefixtures("require_lab")
def test_a_policer_lets_no_more_pass_and_leaves_the_queue_before_the_line_empty():
    with network_of("policed-down", Severity.SEVERE) as network:
        down_bps = payload_bps(network, "down", flows=2, skip_s=1, seconds=2)
        share = network.truth()["policed_share"]
        assert 0 < down_bps < share * network.struck.down_bps
        shown = ["tc", "-s", "qdisc", "show", "dev", "line"]
        told = network.edge.run(shown, timeout=5).stdout
        # tc(8): what a queue threw away; here the policer did, before anything was queued.
        assert "dropped 0," in told
