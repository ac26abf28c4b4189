"""Losses, copies and order of each way against the practice line's own log and counters."""

import json
import signal
import sys
from contextlib import contextmanager
from pathlib import Path
from subprocess import PIPE

import pytest

from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork
from agent.stats.sequences import reordered

pytestmark = [pytest.mark.lab, pytest.mark.once, pytest.mark.usefixtures("require_lab")]

PROGRAM = str(Path(__file__).with_name("lab_stamp.py"))
ROOT = str(Path(__file__).parents[2])
PORT = 8642
COUNT = 400
INTERVAL_S = 0.003
LINE = {"down_bps": 100_000_000, "up_bps": 20_000_000, "rtt_ms": 20}


@pytest.fixture(autouse=True)
def _programs_find_the_package(monkeypatch):
    monkeypatch.setenv("PYTHONPATH", ROOT)


@contextmanager
def operator(network):
    """The operator's server on its host, ready to serve."""
    argv = [sys.executable, "-m", "agent", "serve", "--host", network.server.address]
    with network.server.popen([*argv, "--port", str(PORT), "--reflector-port", str(PORT)]) as one:
        while b"Serving" not in (line := one.stderr.readline()):
            assert line, "the server ended"
        yield
        one.send_signal(signal.SIGINT)
        one.wait(10)


def measured(network, mode):
    """Return what the program found, and what the line counted while its probes were under way."""
    argv = [sys.executable, PROGRAM, network.server.address, str(PORT), str(COUNT)]
    with network.laptop.popen([*argv, str(INTERVAL_S), mode], stdin=PIPE) as process:
        said = [process.stdout.readline()]
        before = network.counters()
        process.stdin.write(b"\n")
        said.append(process.stdout.readline())
        after = network.counters()
        process.stdin.write(b"\n")
        last = process.stdout.readline()
        assert said == [b"granted\n", b"measured\n"], process.stderr.read()
    counted = {
        way: {name: after[way][name] - before[way][name] for name in after[way]} for way in after
    }
    return json.loads(last), counted


def lost_by_the_line(logged):
    """Return the numbers lost on the way there, and the answers lost on the way back.

    An answer is named by the reflector's own number: the log holds the first 36 octets of a
    payload, and in authenticated mode the sender's number comes later (RFC 8762 §4.3.2).
    """
    there, back = [], []
    for entry in logged:
        packet = bytes.fromhex(entry["packet"])
        source, destination = (int.from_bytes(packet[at : at + 2], "big") for at in (20, 22))
        number = int.from_bytes(packet[28:32], "big")
        if packet[9] == 17 and entry["way"] == "up" and destination == PORT:
            there.append(number)
        if packet[9] == 17 and entry["way"] == "down" and source == PORT:
            back.append(number)
    return there, back


@pytest.mark.parametrize(
    ("mode", "burst", "losses"),
    [
        ("authenticated", 1.0, (0.05, 0.05)),
        ("authenticated", 6.0, (0.08, 0.02)),
        ("unauthenticated", 6.0, (0.0, 0.06)),
    ],
    ids=["random", "bursts", "bursts on the way back"],
)
def test_losses_of_each_way_are_those_of_the_lines_own_log(mode, burst, losses):
    spec = LineSpec(**LINE, burst=burst, loss_up=losses[0], loss_down=losses[1], seed=11)
    with PracticeNetwork(spec) as network, operator(network):
        found, _ = measured(network, mode)
        there, back = lost_by_the_line(network.losses())
    assert found["authenticated"] is (mode == "authenticated")
    assert found["payload_bytes"] == (112 if mode == "authenticated" else 44)
    # Every packet that the line carried there is in the reflector's log, and no other.
    arrived = found["by_report"]["all"]
    assert arrived == [n for n in range(max(arrived) + 1) if n not in there]
    assert [n for n in there if n < COUNT] == unlike(found["by_report"]["received"], True)
    lost_back = {arrived[own] for own in back}
    unanswered = {n for n, outcome in enumerate(found["outcome"]) if outcome == "lost"}
    assert unanswered == {n for n in {*there, *lost_back} if n < COUNT}
    assert len(unanswered) > COUNT * sum(losses) / 4
    # Without that log: never wrong, whole in all, and settled wherever losses do not mix.
    told = found["by_counts"]
    pairs = zip(told["received"], found["by_report"]["received"], strict=True)
    assert all(count in (None, truth) for count, truth in pairs)
    assert told["arrivals"] in (None, sum(found["by_report"]["received"]))
    if not losses[0]:
        assert told["arrivals"] == COUNT
        assert None not in told["received"]


def unlike(column, value):
    return [n for n, one in enumerate(column) if one is not value]


def test_copies_and_order_of_each_way_are_what_the_line_made():
    spec = LineSpec(**LINE, reorder=0.03, reorder_ms=14, duplicate=0.03, seed=12)
    with PracticeNetwork(spec) as network, operator(network):
        found, counted = measured(network, "authenticated")
    report = found["by_report"]
    twice_there = len(report["all"]) - len(set(report["all"]))
    assert twice_there == counted["up"]["duplicated"]
    assert twice_there >= COUNT * 0.01
    assert sum(report["copies"]) - COUNT <= twice_there
    copies_back = sum(found["copies"]) - sum(report["copies"])
    # A copy of the answer to the last probe is not waited for.
    assert counted["down"]["duplicated"] - 2 <= copies_back <= counted["down"]["duplicated"]
    # A packet held for 14 ms is overtaken by four; one that was doubled came in order too.
    both = COUNT * 0.03 * 0.03 + 4
    there = len(reordered(report["order"]))
    assert counted["up"]["reordered"] - both <= there <= counted["up"]["reordered"]
    numbers = [found["by_counts"]["count"][n] for n in found["arrival_order"]]
    back = len(reordered(numbers))
    assert counted["down"]["reordered"] - both <= back <= counted["down"]["reordered"]
    assert min(there, back) >= COUNT * 0.01
