"""Formulas against published standards; source and provenance of each stand in vectors.toml."""

import math

import pytest
from published import cases, close, vector

from agent.measurements import LeaseFacts
from agent.stats import quantiles, sequences, tcp
from agent.stats.layers import Packet, payload_ceiling
from agent.stats.lease import lease_statistics
from agent.stats.proportions import clopper_pearson, ratio, wilson
from agent.stats.reordering import extents
from agent.stats.special import incomplete_beta, student_quantile


@cases("tcp-bdp")
def test_bandwidth_delay_product(v):
    rate, rtt = v["inputs"]["rate_mbps"] * 1e6, v["inputs"]["rtt_ms"]
    bits = tcp.bandwidth_delay_bits(rate, rtt)
    assert bits == pytest.approx(v["expected"]["bdp_bits"], **close(v))
    if "min_rwnd_kbytes" in v["expected"]:
        window = tcp.least_window_bytes(rate, rtt) / 1000
        assert window == pytest.approx(v["expected"]["min_rwnd_kbytes"], **close(v))


@cases("tcp-window-limit")
def test_window_limit(v):
    found = tcp.window_limit_bps(v["inputs"]["rwnd_bytes"], v["inputs"]["rtt_ms"])
    assert found / 1e6 == pytest.approx(v["expected"]["throughput_mbps"], **close(v))


def test_the_smaller_of_window_and_frame_rate_limits():
    v = vector("tcp-window-or-frames-64k-10ms")
    given, expected = v["inputs"], v["expected"]
    window = tcp.window_limit_bps(given["rwnd_bytes"], given["rtt_ms"]) / 1e6
    # A PPP frame of T3 carries eight octets around the packet, where Ethernet has thirty-eight.
    link = Packet(wrapping_bytes=given["frame_wire_bytes"] - Packet().bytes_at("wire"))
    frames = payload_ceiling(given["line_rate_bps"], link) / 1e6
    assert window == pytest.approx(expected["window_mbps"], **close(v))
    assert min(window, frames) == pytest.approx(expected["throughput_mbps"], **close(v))


@cases("tcp-max-eth")
def test_ceiling_of_an_ethernet_port(v):
    packet = Packet(mtu_bytes=v["inputs"]["mtu"])
    assert packet.bytes_at("wire") == v["inputs"]["frame_wire_bytes"]
    found = payload_ceiling(v["inputs"]["line_rate_bps"], packet) / 1e6
    assert found == pytest.approx(v["expected"]["max_tcp_mbps"], **close(v))


def test_transfer_time_efficiency_and_buffer_delay():
    v = vector("tcp-transfer-time-ratio")
    assert tcp.transfer_time_ratio(**v["inputs"]) == v["expected"]["ratio"]
    v = vector("tcp-efficiency")
    resent = v["inputs"]["retransmitted_bytes"]
    found = tcp.efficiency_ratio(v["inputs"]["original_bytes"] + resent, resent)
    assert found * 100 == pytest.approx(v["expected"]["efficiency_percent"], **close(v))
    v = vector("tcp-buffer-delay")
    found = tcp.buffer_delay_ratio(v["inputs"]["mean_rtt_ms"], v["inputs"]["baseline_rtt_ms"])
    assert found * 100 == pytest.approx(v["expected"]["buffer_delay_percent"])


@cases("tcp-connections")
def test_flows_to_fill_a_path(v):
    given = v["inputs"]
    rate, window = given["rate_mbps"] * 1e6, given["rwnd_kbytes"] * 1000
    assert tcp.flows_to_fill(rate, given["rtt_ms"], window) == v["expected"]["connections"]


@cases("goodput-share")
def test_goodput_share_of_a_rate(v):
    """Tags add four octets, PPPoE eight inside the payload: both as wrapping of the packet."""
    layer = "docsis-frame" if v["id"] == "goodput-share-docsis-sf" else "wire"
    mtu = v["inputs"]["mtu"]
    bare = Packet(mtu_bytes=mtu).bytes_at(layer)
    wrapping = v["inputs"]["wire_bytes"] - bare
    assert wrapping in (0, 4, 8, 12)
    for header, expected in zip(v["inputs"]["header_bytes"], v["expected"]["percent"], strict=True):
        packet = Packet(mtu_bytes=mtu, header_bytes=header, wrapping_bytes=wrapping)
        share = packet.bytes_at("payload") / packet.bytes_at(layer) * 100
        assert share == pytest.approx(expected, **close(v))


def test_loss_ratio():
    v = vector("loss-ratio")
    outcomes = v["inputs"]["outcomes"]
    assert ratio(sum(outcomes), len(outcomes)) == v["expected"]["ratio"]


def test_delay_variation():
    v = vector("ipdv-pdv")
    delays, expected = v["inputs"]["delays_ms"], v["expected"]
    steps = sequences.ipdv(delays)
    assert steps[0] is None
    assert list(steps[1:]) == expected["ipdv_ms"][1:]
    assert list(sequences.pdv(delays)) == expected["pdv_ms"]


def test_interarrival_jitter():
    v = vector("rtp-jitter-float")
    transit = v["inputs"]["transit_ms"]
    for count, expected in enumerate(v["expected"]["jitter_ms"], start=2):
        assert sequences.interarrival_jitter(transit[:count]) == pytest.approx(expected)
    v = vector("rtp-jitter-constant")
    swing = [0.0, v["inputs"]["abs_d"]] * v["inputs"]["packets"]
    found = sequences.interarrival_jitter(swing[: v["inputs"]["packets"] + 1])
    assert found == pytest.approx(v["expected"]["jitter"])


@pytest.mark.parametrize("name", ["reorder-one", "reorder-two", "reorder-three", "reorder-runs"])
def test_reordering(name):
    v = vector(name)
    arrival = v["inputs"]["arrival"]
    found = sequences.reordered(arrival)
    assert list(found) == v["expected"]["reordered"]
    assert list(extents(arrival)) == v["expected"]["extent"]


@cases("duplication")
def test_duplication(v):
    arrival = v["inputs"]["arrival"]
    copies = [arrival.count(n) for n in v["inputs"]["sent"]]
    fraction = sequences.duplication_fraction(copies)
    assert fraction * 100 == v["expected"]["fraction_percent"]
    assert sequences.replicated_rate(copies) * 100 == v["expected"]["replicated_percent"]


@cases("dhcp-t1-t2")
def test_renewal_times_by_default(v):
    facts = LeaseFacts(family=4, origin="dhcp", address="192.0.2.9", lease_s=v["inputs"]["lease_s"])
    found = lease_statistics(facts)
    assert (found.t1_s, found.t2_s) == (v["expected"]["t1_s"], v["expected"]["t2_s"])
    assert found.timers_assumed


@cases("binomial")
def test_intervals_of_a_proportion(v):
    given = v["inputs"]
    args = (given["x"], given["n"], given["confidence"])
    assert wilson(*args) == pytest.approx(v["expected"]["wilson"], **close(v))
    assert clopper_pearson(*args) == pytest.approx(v["expected"]["clopper_pearson"], **close(v))


@pytest.mark.parametrize(
    ("a", "b", "x", "expected"),
    [
        (1, 1, 0.3, 0.3),
        (2, 1, 0.3, 0.09),
        (1, 2, 0.3, 0.51),
        (5, 5, 0.5, 0.5),
        (2, 3, 0, 0),
        (2, 3, 1, 1),
    ],
)
def test_incomplete_beta_where_it_has_a_closed_form(a, b, x, expected):
    """I_x(a, 1) = x^a, I_x(1, b) = 1 - (1 - x)^b, I_½(a, a) = ½ (DLMF §8.17)."""
    assert incomplete_beta(a, b, x) == pytest.approx(expected)


def test_nothing_tried_has_no_interval():
    assert wilson(0, 0) is None
    assert clopper_pearson(0, 0) is None
    assert ratio(0, 0) is None


def test_empirical_distribution():
    v = vector("edf")
    found = [quantiles.edf(v["inputs"]["values"], x) for x in v["inputs"]["x"]]
    assert found == pytest.approx(v["expected"]["f"])
    assert quantiles.percentile(v["inputs"]["values"], 0) == -math.inf


@pytest.mark.parametrize(
    "name", ["edf-percentile", "percentile-gauge-nearest", "percentile-small-nearest"]
)
def test_nearest_rank(name):
    v = vector(name)
    found = [quantiles.percentile(v["inputs"]["values"], p) for p in v["inputs"]["percent"]]
    assert found == pytest.approx(v["expected"]["value"], **close(v))


def test_median_is_the_mean_of_the_middle_two():
    v = vector("edf-median")
    assert quantiles.median(v["inputs"]["values"]) == v["expected"]["median"]


@cases("median-order-interval")
def test_order_interval_of_the_median(v):
    counts = v["inputs"]["n"]
    found = [quantiles.order_ranks(n, 0.5, v["inputs"]["confidence"]) for n in counts]
    expected = zip(v["expected"]["lower"], v["expected"]["upper"], strict=True)
    assert found == list(expected)
    assert quantiles.order_ranks(5, 0.5) is None


def test_least_count_for_a_percentile():
    v = vector("percentile-minimum-n")
    found = [quantiles.count_for_percentile(q) for q in v["inputs"]["q"]]
    assert found == v["expected"]["n"]


@pytest.mark.parametrize("name", ["rtd-percentile", "rtd-median-even", "rtd-minimum"])
def test_a_lost_packet_takes_for_ever(name):
    v = vector(name)
    sample = [math.inf if d == "lost" else d for d in v["inputs"]["delays_ms"]]
    found = {
        "rtd-percentile": lambda: quantiles.percentile(sample, 50),
        "rtd-median-even": lambda: quantiles.median(sample),
        "rtd-minimum": lambda: quantiles.smallest(sample),
    }[name]()
    assert [found] == list(v["expected"].values())


@pytest.mark.parametrize(
    ("probability", "degrees", "expected"),
    [(0.975, 9, 2.262), (0.975, 4, 2.776), (0.95, 10, 1.812), (0.975, 30, 2.042)],
)
def test_student_quantiles(probability, degrees, expected):
    """Printed tables of Student's t, three decimals (NIST handbook §1.3.6.7.2, from memory)."""
    assert student_quantile(probability, degrees) == pytest.approx(expected, abs=5e-4)
    assert student_quantile(1 - probability, degrees) == pytest.approx(-expected, abs=5e-4)
