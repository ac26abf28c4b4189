"""The figures of RFC 6349 over a whole visit; published values stand in vectors.toml."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import cases, close, vector

from agent.measurements import (
    CountedBy,
    Direction,
    EchoOutcome,
    EchoSeries,
    Ended,
    Kind,
    LinkFacts,
    Measurement,
    Medium,
    Role,
    State,
    TcpCounters,
    ThroughputStatistics,
    Transfer,
)
from agent.stats.figures import Sold, completed, limited_ratio, once_a_second
from agent.stats.summary import summarise

IPV4_WITHOUT_OPTIONS = 40
GIGABIT = 1_000_000_000


def measured(kind, observed, name, *, role=Role.SERVER, **more):
    fields = {"state": State.COMPLETE, "method": "test", "started_s": 0.0, "duration_s": 10.0}
    return Measurement(kind=kind, role=role, id=name, observed=observed, **{**fields, **more})


def port(speed_bps, medium=Medium.WIRED):
    facts = LinkFacts(interface="lan0", up=True, medium=medium, speed_bps=speed_bps)
    return measured(Kind.LINK, facts, "port", role=Role.LOCAL)


def transfer(rate_bps, direction=Direction.DOWN, name="rate", tcp=(), first=(), **more):
    """Ten even seconds of a rate, counted in tenths."""
    seen = Transfer(
        counted_by=CountedBy.CLIENT,
        ended=Ended.TIME,
        flows=1,
        slice_end_s=tuple((i + 1) / 10 for i in range(100)),
        slice_bytes=(round(rate_bps / 80),) * 100,
        header_bytes=IPV4_WITHOUT_OPTIONS,
        mtu_bytes=1500,
        tcp=tcp,
        tcp_first=first,
    )
    return measured(Kind.THROUGHPUT, seen, name, direction=direction, **more)


def series(rtts, name, *, load="none", begin_s=0.0, apart_s=0.1, family=4):
    echoes = EchoSeries(
        waiting_s=1.0,
        interval_s=apart_s,
        payload_bytes=44,
        sent_s=tuple(begin_s + i * apart_s for i in range(len(rtts))),
        rtt_ms=tuple(rtts),
        outcome=tuple(EchoOutcome.LOST if r is None else EchoOutcome.ANSWERED for r in rtts),
        load=load,
    )
    return measured(Kind.DELAY, echoes, name, family=family)


def figures(*measurements, sold=None, of="rate"):
    alone = {m.id: summarise(m) for m in measurements}
    return completed(measurements, alone, sold)[of]


def sold(rate_bps, layer="payload"):
    return Sold(down_bps=rate_bps, up_bps=rate_bps, layer=layer)


@cases("tcp-ideal-time")
def test_ideal_time_behind_a_port(v):
    """The tier sells more than the port carries, so the port is the bottleneck."""
    speed = v["inputs"]["speed_bps"]
    found = figures(port(speed), transfer(speed / 2), sold=sold(2 * speed))
    assert found.ideal_source == "port"
    assert found.ideal_bps / 1e6 == pytest.approx(v["expected"]["max_tcp_mbps"], rel=5e-4)
    seconds = v["inputs"]["megabytes"] * 8e6 / found.ideal_bps
    assert seconds == pytest.approx(v["expected"]["ideal_s"], **close(v))


def test_transfer_time_ratio_of_the_worked_example():
    """Five connections of 100 MB over 500 Mbit/s take 8 s; they took 12."""
    v = vector("tcp-transfer-time-ratio")
    ideal, actual = 500e6, 500e6 * v["inputs"]["ideal_s"] / v["inputs"]["actual_s"]
    found = figures(port(GIGABIT), transfer(actual), sold=sold(ideal))
    assert (found.ideal_source, found.ideal_bps) == ("tier", ideal)
    assert found.transfer_time_ratio == pytest.approx(v["expected"]["ratio"], rel=1e-6)


@cases("tcp-bdp")
def test_window_needed_follows_from_the_tier_and_the_idle_round_trip(v):
    rate, rtt = v["inputs"]["rate_mbps"] * 1e6, v["inputs"]["rtt_ms"]
    idle = series([rtt + 3, rtt, None, rtt + 1], "idle")
    found = figures(idle, transfer(rate / 2), sold=sold(rate))
    assert found.bdp_bits == pytest.approx(v["expected"]["bdp_bits"], **close(v))
    if "min_rwnd_kbytes" in v["expected"]:
        expected = v["expected"]["min_rwnd_kbytes"]
        assert found.window_needed_bytes / 1000 == pytest.approx(expected, **close(v))


def test_buffer_delay_is_the_rise_from_the_least_idle_to_the_mean_loaded_round_trip():
    v = vector("tcp-buffer-delay")
    least, mean = v["inputs"]["baseline_rtt_ms"], v["inputs"]["mean_rtt_ms"]
    idle = series([least + 9, least, least + 2], "idle")
    loaded = series([mean - 4, mean + 4] * 50, "loaded", load="down", begin_s=0.5, apart_s=0.09)
    found = figures(idle, loaded, transfer(50e6), sold=sold(100e6))
    assert (found.idle_rtt_ms, found.rtt_source) == (least, "delay")
    assert found.loaded_rtt_ms == pytest.approx(mean, abs=0.3)
    expected = v["expected"]["buffer_delay_percent"]
    assert found.buffer_delay_ratio * 100 == pytest.approx(expected, abs=1.2)


def test_every_second_weighs_the_same_however_many_probes_it_held():
    crowded = [100.0] * 30 + [20.0] * 3
    at = [i / 30 for i in range(30)] + [1.1, 2.2, 3.9]
    found = once_a_second(replace(series(crowded, "x").observed, sent_s=tuple(at)), 0.0, 4.0)
    assert found == pytest.approx([100.0, 20.0, 20.0, 20.0])


def test_only_answers_within_the_counted_time_are_taken():
    echoes = series([1.0, None, 3.0, 4.0], "x", begin_s=0.0, apart_s=1.0).observed
    assert once_a_second(echoes, 0.5, 2.5) == [3.0]


def test_a_line_that_carries_more_than_was_sold_has_itself_as_the_ideal():
    found = figures(port(GIGABIT), transfer(110e6), sold=sold(100e6))
    assert found.ideal_source == "observed"
    assert found.transfer_time_ratio == pytest.approx(1.0)


def test_without_a_tier_the_best_transfer_of_that_direction_is_the_ideal():
    """A gigabit port says nothing about the bottleneck behind it."""
    visit = (
        port(GIGABIT),
        transfer(40e6),
        transfer(50e6, name="again"),
        transfer(90e6, Direction.UP, name="other way"),
    )
    found = figures(*visit)
    assert found.ideal_source == "observed"
    assert found.transfer_time_ratio == pytest.approx(1.25)
    assert figures(*visit, of="again").transfer_time_ratio == pytest.approx(1.0)


def test_the_speed_of_a_radio_is_no_bottleneck():
    found = figures(port(72_000_000, Medium.WIRELESS), transfer(50e6), sold=sold(100e6))
    assert found.ideal_source == "tier"


def test_the_tier_is_brought_to_the_payload():
    found = figures(transfer(50e6), sold=sold(100e6, layer="ip"))
    assert found.ideal_bps == pytest.approx(100e6 * 1460 / 1500)


def counters(**more):
    return TcpCounters(at_s=0.0, **more)


def test_the_sender_sees_the_round_trip_itself_where_no_probe_ran():
    last = (counters(rtt_ms=30.0, min_rtt_ms=20.0), counters(rtt_ms=34.0, min_rtt_ms=21.0))
    found = figures(transfer(50e6, Direction.UP, tcp=last))
    assert (found.idle_rtt_ms, found.loaded_rtt_ms, found.rtt_source) == (20.0, 32.0, "tcp")
    assert found.buffer_delay_ratio == pytest.approx(0.6)
    # A receiver's kernel only saw the handshake, which RFC 6349 §3.2.1 rules out.
    assert figures(transfer(50e6, Direction.DOWN, tcp=last)).loaded_rtt_ms is None


def test_the_senders_round_trip_is_read_once_a_second_while_the_rate_was_counted():
    last = (counters(rtt_ms=99.0, min_rtt_ms=20.0),)
    seen = [(5.0, 500.0), (7.0, 30.0), (7.2, 40.0), (8.1, 45.0), (30.0, 700.0)]
    samples = tuple(TcpCounters(at_s=at_s, rtt_ms=rtt_ms) for at_s, rtt_ms in seen)
    made = transfer(50e6, Direction.UP, tcp=last)
    whole = replace(made, observed=replace(made.observed, began_s=6.5, tcp_samples=samples))
    found = figures(whole)
    assert found.ramp_s < 0.5
    # One second holds 30 and 40, the next 45; what lies outside the ten seconds does not count.
    assert found.loaded_rtt_ms == pytest.approx(40.0)


def test_probes_before_the_first_byte_are_not_under_load():
    idle = series([10.0], "idle")
    loaded = series([10.0] * 20 + [50.0] * 100, "loaded", load="down", begin_s=0.0)
    made = transfer(50e6)
    late = replace(made, observed=replace(made.observed, began_s=2.0))
    assert figures(idle, loaded, late, sold=sold(1e8)).loaded_rtt_ms == pytest.approx(50.0)


def test_idle_and_loaded_never_come_from_different_observers():
    last = (counters(rtt_ms=30.0, min_rtt_ms=20.0),)
    idle = series([10.0, 11.0], "idle")
    up = figures(idle, transfer(50e6, Direction.UP, tcp=last))
    assert (up.idle_rtt_ms, up.rtt_source) == (20.0, "tcp")
    down = figures(idle, transfer(50e6, tcp=last))
    assert (down.idle_rtt_ms, down.loaded_rtt_ms, down.buffer_delay_ratio) == (10.0, None, None)


def test_a_series_of_the_other_family_is_another_path():
    idle, other = series([10.0], "idle"), series([5.0], "six", family=6)
    found = figures(idle, other, transfer(50e6, family=4))
    assert found.idle_rtt_ms == 10.0


def test_what_limited_the_sender_is_a_share_of_its_sending_time():
    first = (counters(busy_ms=100.0, receive_window_limited_ms=50.0), counters(busy_ms=0.0))
    last = (
        counters(busy_ms=1100.0, receive_window_limited_ms=550.0),
        counters(busy_ms=1000.0, receive_window_limited_ms=0.0),
    )
    found = figures(transfer(50e6, Direction.UP, tcp=last, first=first))
    assert found.window_limited_ratio == pytest.approx(0.25)
    assert found.send_buffer_limited_ratio is None
    assert figures(transfer(50e6, tcp=last, first=first)).window_limited_ratio is None


@given(
    st.lists(
        st.tuples(st.floats(0, 1e6), st.floats(0, 1)).map(
            lambda pair: counters(busy_ms=pair[0], send_buffer_limited_ms=pair[0] * pair[1])
        ),
        max_size=8,
    )
)
def test_a_limited_share_is_a_share(readings):
    seen = transfer(1e6, tcp=tuple(readings)).observed
    found = limited_ratio(seen, "send_buffer_limited_ms")
    assert found is None or 0 <= found <= 1


def test_what_is_no_transfer_is_left_as_it_was():
    idle = series([10.0, 11.0], "idle")
    assert figures(idle, transfer(50e6), of="idle") == summarise(idle)


def test_a_transfer_that_moved_nothing_has_no_figures():
    nothing = replace(transfer(1e6).observed, slice_end_s=(), slice_bytes=())
    found = figures(measured(Kind.THROUGHPUT, nothing, "rate", direction=Direction.DOWN))
    assert isinstance(found, ThroughputStatistics)
    assert (found.ideal_bps, found.transfer_time_ratio, found.bdp_bits) == (None, None, None)
