"""The hop walk: who stands at each distance on the way to a target, over one or two flows."""

from __future__ import annotations

import secrets
from collections.abc import Sequence

from agent.clock import Timeline
from agent.codec.icmp_extensions import Extensions, decode_extensions, unannounced
from agent.codec.mark import Mark, encode_mark, find_mark
from agent.measurements import (
    HopExtensions,
    HopInterface,
    HopLabel,
    Kind,
    Measurement,
    Role,
)
from agent.ports.datagram import Failed, ProbeSocket, Received, SaysProtocol, WaitTogether
from agent.ports.running import Running
from agent.probes.flow_sockets import FlowSockets
from agent.probes.probe_run import HEADER_BYTES, ProbeRun
from agent.schedules.hop_attempts import HopAnswer
from agent.schedules.hops import HopSchedule
from agent.settings.model import PathPlan

UDP = "udp"

PAYLOAD_BYTES = 24
"""Room for the mark, in a packet small enough for every line."""

INTERFACE_ROLES = ("incoming", "incoming-part", "outgoing", "next-hop")
"""By the role bits of RFC 5837 §4.1."""


def walk_path(
    sockets: Sequence[ProbeSocket],
    plan: PathPlan,
    *,
    wait: WaitTogether,
    timeline: Timeline,
    target: str,
    family: int,
    within_s: float,
    running: Running,
    role: Role = Role.SERVER,
) -> Measurement:
    """Probe every distance towards the address `target` and return who answered each attempt.

    Each socket is a flow of its own: one or two, from different ports. A silent distance is no
    fault and no loss; a walk whose target stays silent is complete.
    """
    started_s = timeline.now_s()
    schedule = HopSchedule(
        max_distance=plan.max_distance,
        attempts=plan.attempts,
        waiting_s=plan.waiting_s,
        family=family,
        start_s=started_s,
        flows=len(sockets),
    )
    flows = FlowSockets(sockets, wait)
    walk = _HopRun(flows, schedule, timeline=timeline, running=running, family=family)
    reason = walk.until(started_s + within_s)
    ended_s = timeline.now_s()
    protocol = _protocol(sockets[0])
    observed = schedule.walk(now_s=ended_s, target=target, protocol=protocol)
    return Measurement(
        kind=Kind.PATH,
        role=role,
        state=walk.state(reason),
        method=protocol,
        started_s=started_s,
        duration_s=ended_s - started_s,
        family=family,
        address=target,
        clock=walk.stamped_by(),
        reason=reason,
        observed=observed if walk.went_out else None,
    )


def _protocol(socket: ProbeSocket) -> str:
    return socket.protocol if isinstance(socket, SaysProtocol) else UDP


class _HopRun(ProbeRun):
    """The loop between a hop schedule and its flows."""

    def __init__(
        self,
        flows: FlowSockets,
        schedule: HopSchedule,
        *,
        timeline: Timeline,
        running: Running,
        family: int,
    ) -> None:
        super().__init__(flows, schedule, timeline=timeline, running=running, family=family)
        self._flows = flows
        self._schedule = schedule
        self._nonce = secrets.randbits(32)
        self._quoted_headers = HEADER_BYTES[family]

    def _send(self, now_s: float) -> None:
        probe = self._schedule.take(now_s)
        self._flows.flow = probe.flow
        mark = Mark(nonce=self._nonce, number=probe.number)
        self._put_out(probe.number, encode_mark(mark, PAYLOAD_BYTES), probe.distance)

    def _take(self, event: Received | Failed, at_s: float) -> None:
        returned = event.quoted if isinstance(event, Failed) else event.payload
        answer = self._answer(event, at_s)
        mark = find_mark(returned)
        if mark is None:
            for number in self._schedule.on_short_quote(answer):
                self._note_answer(number, event.clock)
        elif mark.nonce == self._nonce and mark.number in self._numbers:
            self._note_answer(mark.number, event.clock)
            self._schedule.on_answer(mark.number, answer)
        else:
            self._schedule.on_foreign(answer.source)

    def _answer(self, event: Received | Failed, at_s: float) -> HopAnswer:
        if isinstance(event, Received):
            return HopAnswer(at_s=at_s, source=event.source)
        added = event.extensions or unannounced(event.quoted, self._quoted_headers)
        return HopAnswer(
            at_s=at_s,
            source=event.source,
            icmp_type=event.icmp_type,
            icmp_code=event.icmp_code,
            extensions=_observed(decode_extensions(added)),
        )


def _observed(found: Extensions) -> HopExtensions | None:
    if not (found.labels or found.interfaces):
        return None
    labels = tuple(
        HopLabel(label=a.label, traffic_class=a.traffic_class, bottom=a.bottom, ttl=a.ttl)
        for a in found.labels
    )
    interfaces = tuple(
        HopInterface(
            role=INTERFACE_ROLES[a.role],
            index=a.index,
            address=a.address,
            name=a.name,
            mtu_bytes=a.mtu_bytes,
        )
        for a in found.interfaces
    )
    return HopExtensions(labels=labels, interfaces=interfaces)
