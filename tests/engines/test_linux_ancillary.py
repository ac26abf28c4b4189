import socket
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.engines.linux_ancillary import read_ancillary

# Layouts: Linux <linux/errqueue.h> struct sock_extended_err, <linux/time_types.h> timespec.
SOL_IP, SOL_IPV6, SOL_SOCKET = socket.SOL_IP, 41, socket.SOL_SOCKET


def test_receive_and_transmit_stamps():
    received = (SOL_SOCKET, 35, struct.pack("=qq", 3, 4))
    sent = (SOL_SOCKET, 37, struct.pack("=6q", 5, 6, 0, 0, 0, 0))
    beside = read_ancillary([received, sent])
    assert (beside.received_ns, beside.sent_ns, beside.error) == (
        3 * 10**9 + 4,
        5 * 10**9 + 6,
        None,
    )


def test_an_error_names_its_sender():
    head = struct.pack("=IBBBBII", 113, 2, 11, 0, 0, 1492, 7)
    v4 = head + struct.pack("=HH", socket.AF_INET, 0) + bytes([203, 0, 113, 9]) + bytes(8)
    error = read_ancillary([(SOL_IP, 11, v4)]).error
    assert (error.origin, error.icmp_type, error.icmp_code) == (2, 11, 0)
    assert (error.info, error.data, error.offender) == (1492, 7, "203.0.113.9")
    far = socket.inet_pton(socket.AF_INET6, "2001:db8::9")
    v6 = head + struct.pack("=HHI", socket.AF_INET6, 0, 0) + far + bytes(4)
    assert read_ancillary([(SOL_IPV6, 25, v6)]).error.offender == "2001:db8::9"
    assert read_ancillary([(SOL_IP, 11, head)]).error.offender is None


def test_an_error_says_where_extensions_begin():
    # <linux/errqueue.h>: struct sock_ee_data_rfc4884 {u16 len; u8 flags; u8 reserved} in ee_data.
    head = struct.pack("=IBBBBIHBB", 113, 2, 11, 0, 0, 0, 100, 0, 0)
    assert read_ancillary([(SOL_IP, 11, head)]).error.extensions_at == 100


@given(
    st.lists(
        st.tuples(
            st.sampled_from([SOL_IP, SOL_IPV6, SOL_SOCKET]),
            st.sampled_from([11, 25, 35, 37, 2]),
            st.binary(max_size=60),
        ),
        max_size=4,
    )
)
def test_any_bytes_are_read_without_a_fault(items):
    beside = read_ancillary(items)
    assert beside.received_ns is None or any(kind == 35 for _, kind, _ in items)


@pytest.mark.parametrize("kind", [35, 37])
def test_an_empty_stamp_is_no_stamp(kind):
    # The kernel fills unused places of SCM_TIMESTAMPING with zeros.
    beside = read_ancillary([(SOL_SOCKET, kind, bytes(48))])
    assert (beside.received_ns, beside.sent_ns) == (None, None)
