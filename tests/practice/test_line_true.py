"""The access line against its own order: rates by header arithmetic, round trips by bare echo.

Header arithmetic: of a 1514-byte frame, 14 are Ethernet, 20 IPv4, 20 TCP (RFC 9293 §3.1) and 12
the time stamp option with padding (RFC 7323 §3.2), so that 1448 are payload (RFC 6349 §4.1.1).
"""

import statistics

import pytest
from bare import echo, payload_bps

from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [pytest.mark.lab, pytest.mark.rate, pytest.mark.usefixtures("require_lab")]

PAYLOAD_OF_FRAME = 1448 / 1514
MEGA = 1_000_000


@pytest.mark.parametrize(
    ("rates", "rtt_ms", "loss", "timing"),
    [
        ((25, 5), 80, 0.0, (3, 3)),
        ((940, 100), 5, 0.0, (1.5, 2)),
        # Loss of one in a million makes the line carry single frames and takes none of them.
        ((100, 20), 5, 1e-6, (1.5, 2)),
    ],
)
def test_payload_rate_is_the_shaped_rate_less_headers(rates, rtt_ms, loss, timing):
    spec = LineSpec(
        down_bps=rates[0] * MEGA,
        up_bps=rates[1] * MEGA,
        provisioned=1.0,
        rtt_ms=rtt_ms,
        loss_down=loss,
        loss_up=loss,
    )
    with PracticeNetwork(spec) as network:
        for way, rate in zip(("down", "up"), rates, strict=True):
            assert_reaches(network, way, rate * MEGA * PAYLOAD_OF_FRAME, timing)
        assert all(counters["overrun"] == 0 for counters in network.counters().values())


def assert_reaches(network, way, ideal_bps, timing):
    """Assert the ideal in one of three runs and never more: a busy computer only takes away."""
    reached = []
    while len(reached) < 3 and not (reached and max(reached) > 0.985 * ideal_bps):
        reached.append(payload_bps(network, way, flows=6, skip_s=timing[0], seconds=timing[1]))
        assert reached[-1] < 1.015 * ideal_bps
    assert max(reached) > 0.985 * ideal_bps


@pytest.mark.parametrize(("rtt_ms", "loss"), [(5, 0.0), (80, 0.0), (20, 1e-6)])
def test_idle_round_trip_is_the_ordered_one(rtt_ms, loss):
    with PracticeNetwork(LineSpec(rtt_ms=rtt_ms, loss_up=loss)) as network:
        times_ms = [time_ms for _, time_ms in echo(network, count=200, gap_s=0.005)["back"]]
    assert len(times_ms) == 200
    # The line's own error, not that of a busy computer, which only ever adds.
    assert min(times_ms) == pytest.approx(rtt_ms, abs=0.5)


def test_jitter_adds_its_mean_to_the_round_trip_and_keeps_the_order():
    with PracticeNetwork(LineSpec(rtt_ms=10, jitter_ms=3)) as network:
        back = echo(network, count=300, gap_s=0.01)["back"]
    numbers, times_ms = zip(*back, strict=True)
    assert list(numbers) == sorted(numbers)
    # Two ways of 3 ms on average; 300 draws of deviation 4.2 ms leave a standard error of 0.25,
    # keeping the order adds a little, and a busy computer more.
    assert 15 < statistics.mean(times_ms) < 20


def test_queue_before_the_line_is_as_deep_as_ordered():
    spec = LineSpec(up_bps=5 * MEGA, provisioned=1.0, rtt_ms=0, buffer_ms=100)
    with PracticeNetwork(spec) as network:
        queue = network.modem.run(["tc", "qdisc", "show", "dev", "line"], timeout=5).stdout
    assert "tbf" in queue
    assert "rate 5Mbit" in queue
    assert float(queue.split("lat ")[1].split("ms")[0]) == pytest.approx(100, abs=10)
