"""tcp_info blobs, built with the C declaration of the kernel's own header as the oracle."""

import struct
from dataclasses import asdict

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.tcp_info import TcpInfo, decode_tcp_info

# Members of `struct tcp_info` in order, from the kernel's uapi header linux/tcp.h (6.1; the
# last two from 6.2), as (struct format, name): the compiler's alignment is the format's own ("@").
DECLARATION = (
    ("B", "state"), ("B", "ca_state"), ("B", "retransmits"), ("B", "probes"), ("B", "backoff"),
    ("B", "options"), ("B", "wscale"), ("B", "app_limited"),
    ("I", "rto"), ("I", "ato"), ("I", "snd_mss"), ("I", "rcv_mss"),
    ("I", "unacked"), ("I", "sacked"), ("I", "lost"), ("I", "retrans"), ("I", "fackets"),
    ("I", "last_data_sent"), ("I", "last_ack_sent"), ("I", "last_data_recv"),
    ("I", "last_ack_recv"),
    ("I", "pmtu"), ("I", "rcv_ssthresh"), ("I", "rtt"), ("I", "rttvar"), ("I", "snd_ssthresh"),
    ("I", "snd_cwnd"), ("I", "advmss"), ("I", "reordering"), ("I", "rcv_rtt"), ("I", "rcv_space"),
    ("I", "total_retrans"),
    ("Q", "pacing_rate"), ("Q", "max_pacing_rate"), ("Q", "bytes_acked"), ("Q", "bytes_received"),
    ("I", "segs_out"), ("I", "segs_in"), ("I", "notsent_bytes"), ("I", "min_rtt"),
    ("I", "data_segs_in"), ("I", "data_segs_out"),
    ("Q", "delivery_rate"), ("Q", "busy_time"), ("Q", "rwnd_limited"), ("Q", "sndbuf_limited"),
    ("I", "delivered"), ("I", "delivered_ce"), ("Q", "bytes_sent"), ("Q", "bytes_retrans"),
    ("I", "dsack_dups"), ("I", "reord_seen"), ("I", "rcv_ooopack"), ("I", "snd_wnd"),
    ("I", "rcv_wnd"), ("I", "rehash"),
)  # fmt: skip
FORMAT = "@" + "".join(form for form, _ in DECLARATION)

# Our field, the kernel's member, kernel units per unit of ours.
FIELDS = (
    ("options", "options", 1),
    ("send_mss_bytes", "snd_mss", 1),
    ("sacked_segments", "sacked", 1),
    ("path_mtu_bytes", "pmtu", 1),
    ("advertised_mss_bytes", "advmss", 1),
    ("rtt_ms", "rtt", 1000),
    ("congestion_window", "snd_cwnd", 1),
    ("segments_retransmitted", "total_retrans", 1),
    ("bytes_acked", "bytes_acked", 1),
    ("bytes_received", "bytes_received", 1),
    ("not_sent_bytes", "notsent_bytes", 1),
    ("min_rtt_ms", "min_rtt", 1000),
    ("busy_ms", "busy_time", 1000),
    ("receive_window_limited_ms", "rwnd_limited", 1000),
    ("send_buffer_limited_ms", "sndbuf_limited", 1000),
    ("bytes_sent", "bytes_sent", 1),
    ("bytes_retransmitted", "bytes_retrans", 1),
    ("send_window_bytes", "snd_wnd", 1),
    ("receive_window_bytes", "rcv_wnd", 1),
)


def blob(**members):
    return struct.pack(FORMAT, *(members.get(name, 0) for _, name in DECLARATION))


def end_of(member):
    names = [name for _, name in DECLARATION]
    upto = "@" + "".join(form for form, _ in DECLARATION[: names.index(member) + 1])
    return struct.calcsize(upto)


def test_the_declaration_has_the_lengths_of_known_kernels():
    # Platform note: "232 bytes in older headers, 240 with rcv_wnd/rehash".
    assert struct.calcsize(FORMAT) == 240
    assert end_of("snd_wnd") == 232


@pytest.mark.parametrize(("ours", "kernels", "scale"), FIELDS)
def test_each_field_is_read_from_its_member_alone(ours, kernels, scale):
    marker = 173 if kernels == "options" else 123_456
    info = asdict(decode_tcp_info(blob(**{kernels: marker})))
    assert info.pop(ours) == marker / scale
    assert not any(info.values())


@pytest.mark.parametrize(("ours", "kernels", "scale"), FIELDS)
def test_a_field_is_absent_until_its_last_byte_came(ours, kernels, scale):
    whole = blob(**{kernels: 77})
    end = end_of(kernels)
    assert getattr(decode_tcp_info(whole[: end - 1]), ours) is None
    assert getattr(decode_tcp_info(whole[:end]), ours) == 77 / scale


def test_every_field_of_ours_has_a_case():
    assert {ours for ours, _, _ in FIELDS} == set(asdict(TcpInfo()))


def test_a_minimum_round_trip_never_taken_is_unknown():
    # The kernel starts min_rtt at ~0U (tcp_init_sock) until a first sample was taken.
    assert decode_tcp_info(blob(min_rtt=0xFFFFFFFF)).min_rtt_ms is None


@pytest.mark.parametrize(("options", "present"), [(0, False), (1, True), (6, False), (7, True)])
def test_the_timestamp_option_is_bit_zero(options, present):
    assert decode_tcp_info(blob(options=options)).timestamps is present


def test_what_lies_ahead_of_a_hole_has_been_delivered():
    held = blob(bytes_acked=100_000, sacked=3, snd_mss=1448)
    assert decode_tcp_info(held).bytes_delivered == 100_000 + 3 * 1448
    assert decode_tcp_info(held[:127]).bytes_delivered is None


@given(st.binary(max_size=600))
def test_any_bytes_decode_and_more_bytes_never_change_a_field(data):
    shorter, longer = decode_tcp_info(data), decode_tcp_info(data + b"\xff" * 600)
    known = {name: value for name, value in asdict(shorter).items() if value is not None}
    assert known.items() <= asdict(longer).items()


@given(st.binary(max_size=240), st.integers(0, 300))
def test_a_newer_kernels_longer_blob_reads_the_same(data, extra):
    full = data.ljust(240, b"\0")
    assert decode_tcp_info(full + b"\xff" * extra) == decode_tcp_info(full)
