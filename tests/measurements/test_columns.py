"""Observations that cannot be wrong: columns of the same attempts have the same length."""

import pytest

from agent.measurements import (
    CountedBy,
    EchoOutcome,
    EchoSeries,
    Ended,
    HopWalk,
    NameQueries,
    Transfer,
)

MADE_WRONG = [
    lambda: EchoSeries(
        waiting_s=1, interval_s=1, payload_bytes=44, sent_s=(0.0,), rtt_ms=(), outcome=()
    ),
    lambda: EchoSeries(
        waiting_s=1,
        interval_s=1,
        payload_bytes=44,
        sent_s=(0.0,),
        rtt_ms=(None,),
        outcome=(EchoOutcome.LOST,),
        copies=(0,),
        far_received=(True, False),
    ),
    lambda: HopWalk(target="192.0.2.1", protocol="udp", waiting_s=1, distance=(1, 2)),
    lambda: NameQueries(resolver="192.0.2.1", transport="udp", waiting_s=1, name=("a",)),
    lambda: Transfer(
        counted_by=CountedBy.CLIENT, ended=Ended.TIME, flows=1, slice_end_s=(0.1,), slice_bytes=()
    ),
]


@pytest.mark.parametrize("make", MADE_WRONG)
def test_a_column_of_another_length_is_refused_by_name(make):
    with pytest.raises(ValueError, match="the column"):
        make()


def test_columns_that_were_not_observed_are_left_out():
    series = EchoSeries(
        waiting_s=1,
        interval_s=1,
        payload_bytes=44,
        sent_s=(0.0,),
        rtt_ms=(None,),
        outcome=(EchoOutcome.LOST,),
        copies=(0,),
    )
    assert series.far_received is None
