"""The throughput measurement of one direction: flows carry, a sampler counts in slices."""

from __future__ import annotations

from agent.clock import Timeline
from agent.errors import BadReply, CannotMeasure, TimedOut
from agent.measurements import (
    CountedBy,
    Direction,
    Ended,
    Kind,
    Measurement,
    Reason,
    Role,
    State,
    Transfer,
)
from agent.ports.running import Running
from agent.ports.stream import StreamPort
from agent.probes.transfer_run import TransferRun, flow_orders
from agent.schedules.transfer import STALL_S, Cut, TransferSchedule
from agent.settings.model import ThroughputPlan

METHOD = "tcp-bulk"
LEAST_S = 0.5
"""A transfer that dies sooner was refused, whatever its first octets filled: buffers, no line."""
UPLOAD_BODY_BYTES = 67_108_864
"""The longest upload body where the server sets a limit of its own."""


def measure_throughput(
    streams: StreamPort,
    plan: ThroughputPlan,
    *,
    direction: Direction,
    url: str,
    token: str | None,
    timeline: Timeline,
    within_s: float,
    running: Running,
    max_bytes: int | None = None,
    body_bytes: int | None = None,
) -> Measurement:
    """Return what one direction carried: TCP payload in slices, counted where it arrived.

    `url` is asked for as it is when it has a query or when down; an upload to a plain path goes to
    a name of its own for each flow, in bodies of `body_bytes` (None: as the rate asks). A transfer
    that dies is `partial` with what was counted; one that carried nothing, or died at its start, is
    `failed`. RFC 6349 §4: goodput counts payload octets, so a slice holds no header.
    """
    started_s = timeline.now_s()
    deadline_s = started_s + within_s
    cap = plan.max_bytes if max_bytes is None else max_bytes
    if cap <= 0:
        return _nothing_left(direction, started_s)
    schedule = TransferSchedule(plan, deadline_s=deadline_s, max_bytes=cap)
    orders = flow_orders(url, direction, token, plan.flows, body_bytes)
    run = TransferRun(streams, schedule, orders, timeline=timeline, running=running)
    run.until(deadline_s)
    return _measurement(run, direction, _without_login(url), started_s, timeline.now_s())


def _without_login(url: str) -> str:
    """Return a URL that a record may show: an ftp one may hold a password."""
    scheme, found, rest = url.partition("://")
    place, slash, path = rest.partition("/")
    return scheme + found + place.rpartition("@")[2] + slash + path


def _nothing_left(direction: Direction, started_s: float) -> Measurement:
    return Measurement(
        kind=Kind.THROUGHPUT,
        role=Role.SERVER,
        direction=direction,
        method=METHOD,
        state=State.SKIPPED,
        reason=Reason(code="data-cap"),
        started_s=started_s,
        duration_s=0.0,
    )


def _measurement(
    run: TransferRun, direction: Direction, url: str, started_s: float, now_s: float
) -> Measurement:
    observed = _observed(run, direction)
    reason = _reason(run, url)
    if reason is None and observed is None:
        reason = Reason.of(BadReply(address=url, problem="it told nothing of what arrived"))
    return Measurement(
        kind=Kind.THROUGHPUT,
        role=Role.SERVER,
        direction=direction,
        family=run.facts.family if run.facts else None,
        address=run.facts.remote if run.facts else None,
        method=METHOD,
        state=_state(reason, observed),
        reason=reason,
        started_s=started_s,
        duration_s=now_s - started_s,
        observed=observed,
    )


def _state(reason: Reason | None, observed: Transfer | None) -> State:
    if observed is None:
        return State.FAILED
    return State.COMPLETE if reason is None else State.PARTIAL


def _reason(run: TransferRun, url: str) -> Reason | None:
    if run.interrupted:
        return Reason(code="stopped")
    if run.cut is Cut.NONE:
        return None
    if run.cut is Cut.TIME_LIMIT:
        return Reason(code="time-limit", values={"after_s": run.columns.last_s})
    return Reason.of(run.fault or _silence(run, url))


def _silence(run: TransferRun, url: str) -> CannotMeasure:
    return TimedOut(address=run.facts.remote if run.facts else url, after_s=STALL_S)


def _observed(run: TransferRun, direction: Direction) -> Transfer | None:
    """Return the observation, None where nothing was counted that says anything of the line."""
    counted, columns = _counted(run, direction), run.columns
    if counted is CountedBy.SERVER:
        columns = run.far_columns()
    if run.ended is Ended.FAULT:
        columns = columns.until_last_byte()
    too_short = run.ended is Ended.FAULT and columns.last_s < LEAST_S
    if too_short or not sum(columns.bytes):
        return None
    facts = run.facts
    return Transfer(
        counted_by=counted,
        ended=run.ended,
        flows=max(columns.flows, default=0),
        slice_end_s=tuple(columns.end_s),
        slice_bytes=tuple(columns.bytes),
        slice_flows=tuple(columns.flows),
        flow_bytes=run.flow_bytes(),
        tcp=run.tcp_last,
        tcp_first=run.tcp_first,
        server_bytes=run.server_bytes() if direction is Direction.UP else None,
        interface_bytes=run.interface_bytes(direction),
        header_bytes=facts.header_bytes if facts else None,
        mtu_bytes=facts.mtu_bytes if facts else None,
        congestion_control=facts.congestion_control
        if facts and direction is Direction.UP
        else None,
        secure=facts.secure if facts else False,
        cpu_ratio=run.cpu_ratio(),
        waited_ratio=run.waited_ratio(),
        interface_packets=run.interface_packets(direction),
        began_s=run.began_s,
        longest_s=run.longest_s,
        tcp_samples=run.tcp_samples,
    )


def _counted(run: TransferRun, direction: Direction) -> CountedBy:
    if direction is Direction.DOWN:
        return CountedBy.CLIENT
    if run.counted_here and not run.by_answers:
        return CountedBy.ACKNOWLEDGED
    # A far end that counted over time knows better than the answers that it gave.
    told = run.server_bytes() is not None and run.far_columns().end_s
    return CountedBy.SERVER if told or not run.counted_here else CountedBy.ANSWERS
