"""One measurement with the bulk engine on loopback, and what a whole one looks like."""

from loopback_servers import LiteralNames

from agent.clock import SystemClock, Timeline
from agent.engines.bulk import BulkEngine
from agent.engines.http import HttpxEngine
from agent.engines.tcp_counters import read_tcp_info
from agent.measurements import State
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.probes.throughput import measure_throughput
from agent.settings.model import ThroughputPlan

PLAN = ThroughputPlan(mode="fixed", seconds=1.0, flows=3, slice_s=0.05)
CAP = 60_000_000


def http_engine(context=None, binding=None, address="127.0.0.1"):
    names = LiteralNames(**{"www.tern.example": address})
    return HttpxEngine(binding or Binding(), names, context=context)


def measure(url, direction, *, http=None, plan=PLAN, token=None, max_bytes=CAP, **chosen):
    told = chosen.pop("told", read_tcp_info)
    return measure_throughput(
        BulkEngine(http or http_engine(), told),
        plan,
        direction=direction,
        url=url,
        token=token,
        timeline=Timeline.begin(SystemClock()),
        within_s=20.0,
        running=chosen.pop("running", Unattended()),
        max_bytes=max_bytes,
        **chosen,
    )


def assert_whole(measured, counted_by):
    seen = measured.observed
    assert measured.state is State.COMPLETE, measured.reason
    assert seen.counted_by is counted_by
    assert seen.flows == len(seen.flow_bytes) == PLAN.flows
    assert sum(seen.flow_bytes) == sum(seen.slice_bytes) > 0
    assert list(seen.slice_end_s) == sorted(seen.slice_end_s)
    return seen
