"""Transfers with the kernel's counters of their connections at both ends."""

from agent.measurements import (
    CountedBy,
    Direction,
    Ended,
    Kind,
    Measurement,
    Role,
    State,
    TcpCounters,
    Transfer,
)


def carried(octets, interface_bytes, packets=None, *, seconds=1.0, direction=Direction.DOWN):
    """A transfer of one flow that moved so many payload octets, and what the port carried."""
    name = "bytes_received" if direction is Direction.DOWN else "bytes_sent"
    transfer = Transfer(
        counted_by=CountedBy.CLIENT,
        ended=Ended.TIME,
        flows=1,
        slice_end_s=(seconds,),
        slice_bytes=(octets,),
        tcp_first=(TcpCounters(at_s=10.0, **{name: 5_000}),),
        tcp=(TcpCounters(at_s=10.0 + seconds, **{name: 5_000 + octets}),),
        interface_bytes=interface_bytes,
        interface_packets=packets,
        header_bytes=52,
        mtu_bytes=1500,
    )
    return Measurement(
        kind=Kind.THROUGHPUT,
        role=Role.SERVER,
        direction=direction,
        state=State.COMPLETE,
        method="test",
        started_s=10.0,
        duration_s=seconds,
        observed=transfer,
    )
