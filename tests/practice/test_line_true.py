"""The access line against its own order: rates by header arithmetic, round trips by bare echo.

Header arithmetic: of a 1514-byte frame, 14 are Ethernet, 20 IPv4, 20 TCP (RFC 9293 §3.1) and 12
the time stamp option with padding (RFC 7323 §3.2), so that 1448 are payload (RFC 6349 §4.1.1).
"""

import statistics

import pytest
from bare import echo, payload_bps

from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [pytest.mark.lab, pytest.mark.usefixtures("require_lab")]

PAYLOAD_OF_FRAME = 1448 / 1514
MEGA = 1_000_000


@pytest.mark.parametrize(
    ("rates", "rtt_ms", "loss", "timing"),
    [
        # At 5 Mbit/s a hole left by the ramp holds back seconds of what has arrived long since.
        ((25, 5), 20, 0.0, (3, 4)),
        ((100, 20), 5, 0.0, (1.5, 2)),
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
            reached = payload_bps(network, way, flows=6, skip_s=timing[0], seconds=timing[1])
            assert reached == pytest.approx(rate * MEGA * PAYLOAD_OF_FRAME, rel=0.015)
        assert all(counters["overrun"] == 0 for counters in network.counters().values())


@pytest.mark.parametrize("loss", [0.0, 1e-6])
@pytest.mark.parametrize("rtt_ms", [5, 20, 80])
def test_idle_round_trip_is_the_ordered_one(rtt_ms, loss):
    with PracticeNetwork(LineSpec(rtt_ms=rtt_ms, loss_up=loss)) as network:
        times_ms = [time_ms for _, time_ms in echo(network, count=200, gap_s=0.005)["back"]]
    assert len(times_ms) == 200
    assert statistics.median(times_ms) == pytest.approx(rtt_ms, abs=0.5)
    assert min(times_ms) > rtt_ms - 0.25


def test_jitter_adds_its_mean_to_the_round_trip_and_keeps_the_order():
    with PracticeNetwork(LineSpec(rtt_ms=10, jitter_ms=3)) as network:
        back = echo(network, count=300, gap_s=0.01)["back"]
    numbers, times_ms = zip(*back, strict=True)
    assert list(numbers) == sorted(numbers)
    # Two ways of 3 ms on average; 300 draws of deviation 4.2 ms leave a standard error of 0.25.
    assert statistics.mean(times_ms) == pytest.approx(16, abs=1.25)


def test_queue_before_the_line_is_as_deep_as_ordered():
    spec = LineSpec(up_bps=5 * MEGA, provisioned=1.0, rtt_ms=0, buffer_ms=100)
    with PracticeNetwork(spec) as network:
        queue = network.modem.run(["tc", "qdisc", "show", "dev", "line"], timeout=5).stdout
    assert "tbf" in queue
    assert "rate 5Mbit" in queue
    assert float(queue.split("lat ")[1].split("ms")[0]) == pytest.approx(100, abs=10)
