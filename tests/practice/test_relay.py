"""The relay's decisions without a network: order, due times, laws of loss."""

import os
import random
import socket

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.practice.outages import Outages
from agent.practice.relay import COUNTERS, Direction, Losses, Way

IP = b"\x02" * 12 + b"\x08\x00"
ARP = b"\x02" * 12 + b"\x08\x06"


def frame(number, kind=IP):
    return kind + number.to_bytes(4, "big").ljust(50, b"\0")


@pytest.fixture
def line():
    """Make directions; give what they sent as numbers."""
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    log = os.memfd_create("log")
    theirs.setblocking(False)

    def sent():
        numbers = []
        while True:
            try:
                numbers.append(int.from_bytes(theirs.recv(100)[14:18], "big"))
            except BlockingIOError:
                return numbers

    def make(**way):
        counters = memoryview(bytearray(8 * len(COUNTERS))).cast("Q")
        direction = Direction("up", Way(**way), "seed", counters, log)
        return direction, counters

    yield make, ours, sent
    ours.close()
    theirs.close()
    os.close(log)


def test_a_frame_leaves_when_its_delay_is_over_and_not_before(line):
    make, out, sent = line
    direction, counters = make(delay_s=0.25)
    direction.take(frame(1), 10.0)
    assert direction.next_due() == 10.25
    direction.release(out, 10.2)
    assert sent() == []
    direction.release(out, 10.25)
    assert sent() == [1]
    assert direction.next_due() == float("inf")
    assert counters[COUNTERS.index("carried")] == 1


def test_jitter_delays_and_keeps_the_order(line):
    make, out, sent = line
    direction, _ = make(delay_s=0.01, jitter_s=0.005)
    for number in range(50):
        direction.take(frame(number), number * 0.001)
    direction.release(out, 0.011)
    assert len(sent()) < 50
    direction.release(out, 1.0)
    assert direction.next_due() == float("inf")


def test_a_dark_line_loses_whatever_comes_and_carries_what_is_under_way(line):
    make, out, sent = line
    direction, counters = make(delay_s=0.1)
    # Light lasts 0.5 to 1.5 times the mean of 2 s.
    direction.outages = Outages(dark_s=5.0, every_s=2.0, seed=1, began_s=0.0)
    direction.take(frame(1), 0.95)
    for number, kind in ((2, IP), (3, ARP)):
        direction.take(frame(number, kind), 3.5)
    direction.release(out, 3.6)
    assert sent() == [1]
    assert counters[COUNTERS.index("lost")] == 2


def test_a_reordered_frame_is_overtaken(line):
    make, out, sent = line
    direction, counters = make(delay_s=0.0, reorder=0.3, reorder_s=0.5)
    for number in range(40):
        direction.take(frame(number), number * 0.01)
        direction.release(out, number * 0.01)
    direction.release(out, 10.0)
    numbers = sent()
    assert sorted(numbers) == list(range(40))
    assert numbers != sorted(numbers)
    assert counters[COUNTERS.index("reordered")] > 0


def test_what_is_no_packet_is_never_lost(line):
    make, out, sent = line
    direction, counters = make(delay_s=0.0, loss=0.99)
    for number in range(100):
        direction.take(frame(number, ARP), 0.0)
    direction.release(out, 0.0)
    assert sent() == list(range(100))
    assert counters[COUNTERS.index("lost")] == 0


def test_a_frame_that_cannot_be_sent_is_counted_apart(line):
    make, out, _ = line
    direction, counters = make(delay_s=0.0)
    direction.take(frame(1), 0.0)
    out.close()
    direction.release(out, 0.0)
    assert counters[COUNTERS.index("refused")] == 1
    assert counters[COUNTERS.index("carried")] == 0


@settings(max_examples=20, deadline=None)
@given(st.floats(0.005, 0.3), st.floats(1, 8), st.integers())
def test_loss_has_the_ordered_ratio_and_mean_run(loss, burst, seed):
    losses = Losses(loss, burst, random.Random(seed))
    count = 60_000
    lost = [losses.next() for _ in range(count)]
    runs = sum(now and not before for before, now in zip([False, *lost], lost, strict=False))
    mean_run = max(burst, 1 / (1 - loss))
    # A Markov chain's mean over n steps has variance loss (1-loss) (2 mean_run (1-loss) - 1) / n;
    # five deviations each leave no room for a false alarm in the life of this test.
    inflation = max(1.0, 2 * mean_run * (1 - loss) - 1)
    deviation = (loss * (1 - loss) * inflation / count) ** 0.5
    assert sum(lost) / count == pytest.approx(loss, abs=5 * deviation)
    # Runs are geometric: deviation sqrt(run (run - 1)) over the number of runs.
    spread = (mean_run * (mean_run - 1) / max(1, runs)) ** 0.5
    assert sum(lost) / max(1, runs) == pytest.approx(mean_run, abs=5 * spread + 0.02)


def test_no_loss_is_no_loss():
    losses = Losses(0.0, 1.0, random.Random(1))
    assert not any(losses.next() for _ in range(10_000))
