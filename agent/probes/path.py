"""The hop walk over one probe socket: who stands at each distance on the way to a target."""

from __future__ import annotations

import secrets

from agent.clock import Timeline
from agent.codec.mark import Mark, encode_mark, find_mark
from agent.measurements import Kind, Measurement, Role
from agent.ports.datagram import Failed, ProbeSocket, Received
from agent.ports.running import Running
from agent.probes.probe_run import ProbeRun
from agent.schedules.hops import HopSchedule
from agent.settings.model import PathPlan

UDP = "udp"

PAYLOAD_BYTES = 24
"""Room for the mark, in a packet small enough for every line."""


def walk_path(
    socket: ProbeSocket,
    plan: PathPlan,
    *,
    timeline: Timeline,
    target: str,
    family: int,
    within_s: float,
    running: Running,
    role: Role = Role.SERVER,
) -> Measurement:
    """Probe every distance towards the address `target` and return who answered each attempt.

    A silent distance is no fault and no loss; a walk whose target stays silent is complete.
    """
    started_s = timeline.now_s()
    schedule = HopSchedule(
        max_distance=plan.max_distance,
        attempts=plan.attempts,
        waiting_s=plan.waiting_s,
        family=family,
        start_s=started_s,
    )
    walk = _HopRun(socket, schedule, timeline=timeline, running=running, family=family)
    reason = walk.until(started_s + within_s)
    ended_s = timeline.now_s()
    observed = schedule.walk(now_s=ended_s, target=target, protocol=UDP)
    return Measurement(
        kind=Kind.PATH,
        role=role,
        state=walk.state(reason),
        method=UDP,
        started_s=started_s,
        duration_s=ended_s - started_s,
        family=family,
        address=target,
        clock=walk.stamped_by(),
        reason=reason,
        observed=observed if walk.went_out else None,
    )


class _HopRun(ProbeRun):
    """The loop between a hop schedule and a socket."""

    def __init__(
        self,
        socket: ProbeSocket,
        schedule: HopSchedule,
        *,
        timeline: Timeline,
        running: Running,
        family: int,
    ) -> None:
        super().__init__(socket, schedule, timeline=timeline, running=running, family=family)
        self._schedule = schedule
        self._nonce = secrets.randbits(32)

    def _send(self, now_s: float) -> None:
        probe = self._schedule.take(now_s)
        mark = Mark(nonce=self._nonce, number=probe.number)
        self._put_out(probe.number, encode_mark(mark, PAYLOAD_BYTES), probe.distance)

    def _take(self, event: Received | Failed, at_s: float) -> None:
        kind: tuple[int | None, int | None] = (None, None)
        if isinstance(event, Failed):
            number, kind = self._placed(event.quoted), (event.icmp_type, event.icmp_code)
        else:
            number = self._placed(event.payload)
        if number is None:
            self._schedule.on_unplaced(event.source or "")
            return
        self._note_answer(number, event.clock)
        self._schedule.on_answer(number, at_s, event.source, *kind)

    def _placed(self, payload: bytes) -> int | None:
        mark = find_mark(payload)
        if mark is not None:
            own = mark.nonce == self._nonce and mark.number in self._numbers
            return mark.number if own else None
        outstanding = self._schedule.outstanding()
        return outstanding[0] if not payload and len(outstanding) == 1 else None
