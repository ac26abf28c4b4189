"""Round trips per minute: IETF draft "Responsiveness under Working Conditions", revision 08.

The formulas are of its section "Aggregating the Measurements", the conversions of its
introduction; the examples are worked by hand from those formulas.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import EchoOutcome, EchoSeries, WebAttempt
from agent.stats.delay import delay_statistics, rise_ms
from agent.stats.responsiveness import (
    combined_rpm,
    foreign_rpm,
    per_minute,
    responsiveness,
    trimmed_mean,
)

TIMES = st.lists(st.floats(0.01, 10_000), min_size=1, max_size=60)


def fetch(tcp_ms=50.0, tls_ms=50.0, http_ms=80.0, problem=None):
    """Return one fetch on a connection of its own."""
    return WebAttempt(
        sent_s=0.0, connect_ms=tcp_ms, tls_ms=tls_ms, first_byte_ms=http_ms, problem=problem
    )


def series(rtt_ms, foreign, load="down"):
    """Return a series with the given round trips, None where the probe was lost."""
    lost = [rtt is None for rtt in rtt_ms]
    return EchoSeries(
        waiting_s=1.0,
        interval_s=0.02,
        payload_bytes=44,
        sent_s=tuple(i * 0.02 for i in range(len(rtt_ms))),
        rtt_ms=tuple(rtt_ms),
        outcome=tuple(EchoOutcome.LOST if one else EchoOutcome.ANSWERED for one in lost),
        load=load,
        foreign=foreign,
    )


@pytest.mark.parametrize(
    ("tcp", "tls", "http", "loaded", "expected"),
    [
        (20, 20, 20, 20, (3000, 3000, 3000)),
        (30, 30, 60, 300, (1500, 200, 850)),
        (50, 50, 80, 150, (1000, 400, 700)),
        (100, 100, 100, 400, (600, 150, 375)),
        pytest.param(50, None, 70, 200, (1000, 300, 650), id="no TLS"),
    ],
)
def test_worked_examples(tcp, tls, http, loaded, expected):
    found = responsiveness(series([loaded] * 20, (fetch(tcp, tls, http),) * 10))
    assert (found.foreign_rpm, found.loaded_rpm, found.rpm) == pytest.approx(expected)
    assert (found.foreign_sent, found.foreign_count, found.loaded_count) == (10, 10, 20)


@pytest.mark.parametrize(("rtt_ms", "rpm"), [(60.0, 1000.0), (10.0, 6000.0)])
def test_a_round_trip_as_a_rate(rtt_ms, rpm):
    assert per_minute(rtt_ms) == pytest.approx(rpm)


def test_the_largest_twentieth_takes_no_part():
    assert trimmed_mean([*range(1, 20), 1000]) == pytest.approx(10.0)
    assert trimmed_mean([5.0, 7.0]) == pytest.approx(6.0)
    assert trimmed_mean([]) is None


def test_failed_fetches_and_lost_probes_have_no_time():
    broken = fetch(tcp_ms=9_000.0, http_ms=None, problem="timed-out")
    found = responsiveness(series([150.0, None, 150.0], (fetch(), broken)))
    assert found.rpm == pytest.approx(700)
    assert (found.foreign_sent, found.foreign_count, found.loaded_count) == (2, 1, 2)


def test_without_load_or_fetches_there_is_none():
    assert responsiveness(series([10.0], (fetch(),), load="none")) is None
    assert responsiveness(series([10.0], None)) is None


def test_without_one_of_its_parts_the_figure_is_undefined_and_the_other_part_stands():
    found = responsiveness(series([150.0], ()))
    assert (found.rpm, found.foreign_rpm) == (None, None)
    assert found.loaded_rpm == pytest.approx(400)
    assert foreign_rpm(50.0, 50.0, None) is None
    assert combined_rpm(700.0, None) is None
    assert per_minute(0.0) is None


@given(TIMES, st.randoms(use_true_random=False))
def test_a_trimmed_mean_lies_among_its_values_in_any_order(values, random):
    found = trimmed_mean(values)
    assert min(values) <= found * (1 + 1e-12)
    assert found <= max(values) * (1 + 1e-12)
    shuffled = random.sample(values, len(values))
    assert trimmed_mean(shuffled) == pytest.approx(found)


@given(st.floats(1, 5_000), st.floats(1, 5_000), st.floats(1, 5_000), st.floats(1.01, 10))
def test_slower_parts_make_a_lower_figure(tcp, tls, http, factor):
    assert foreign_rpm(tcp * factor, tls * factor, http * factor) < foreign_rpm(tcp, tls, http)


def test_what_load_adds_is_its_high_percentile_over_the_idle_median():
    idle = delay_statistics(series([10.0, 11.0, 30.0], None, load="none"))
    loaded = delay_statistics(series([float(n) for n in range(1, 101)], None))
    # Nearest rank (RFC 2330 §11.3): the 95th of 1..100 is 95.
    assert rise_ms(idle, loaded) == pytest.approx(95 - 11)
    few = delay_statistics(series([50.0] * 10, None))
    assert rise_ms(idle, few) is None
