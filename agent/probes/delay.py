"""A delay series over one probe socket: STAMP to a reflector, or ICMP echo."""

from __future__ import annotations

import secrets
from collections.abc import Callable

from agent.clock import Timeline
from agent.errors import BadReply, DoorstepError
from agent.measurements import Kind, Measurement, Reason, Role, State
from agent.ports.datagram import Failed, ProbeSocket, Received
from agent.ports.running import Running
from agent.probes.echo_messages import EchoMessages, MarkedMessages, StampMessages
from agent.probes.probe_run import ProbeRun
from agent.schedules.echo import EchoSchedule
from agent.schedules.far import FarReport
from agent.settings.model import EchoPlan
from agent.units import NS_PER_S

STAMP = "stamp"
ICMP_ECHO = "icmp-echo"


def _never() -> bool:
    return False


def measure_delay(
    socket: ProbeSocket,
    plan: EchoPlan,
    *,
    timeline: Timeline,
    role: Role,
    method: str,
    address: str,
    family: int,
    ssid: int = 0,
    within_s: float,
    running: Running,
    load: str = "none",
    far_report: Callable[[], FarReport | None] | None = None,
    enough: Callable[[], bool] = _never,
) -> Measurement:
    """Send `plan.count` probes on a fixed clock and return what became of each.

    `method` is "stamp" or "icmp-echo". `far_report` is asked once, after the last probe, for
    the reflector's log. Once `enough` says so no probe more is sent, and the series is as complete
    as one of that count. A series cut short holds the probes whose fate was known by then.
    """
    started_s = timeline.now_s()
    epoch_ns = _unix_ns_at_zero(timeline)
    schedule = EchoSchedule(
        count=plan.count,
        interval_s=plan.interval_s,
        waiting_s=plan.waiting_s,
        start_s=started_s,
        epoch_ns=epoch_ns,
    )
    messages = _messages(method, plan, ssid=ssid, epoch_ns=epoch_ns)
    run = _EchoRun(
        socket,
        schedule,
        messages,
        timeline=timeline,
        running=running,
        family=family,
        enough=enough,
    )
    reason = run.until(started_s + within_s)
    ended_s = timeline.now_s()
    state = run.state(reason)
    observed = schedule.series(
        now_s=ended_s,
        payload_bytes=plan.payload_bytes,
        load=load,
        clock_steps=socket.clock_steps,
        report=_report(far_report) if run.went_out else None,
    )
    return Measurement(
        kind=Kind.DELAY,
        role=role,
        state=state,
        method=method,
        started_s=started_s,
        duration_s=ended_s - started_s,
        family=family,
        address=address,
        clock=run.stamped_by(),
        reason=reason or run.unusable(address),
        observed=None if state is State.FAILED else observed,
    )


def _messages(method: str, plan: EchoPlan, *, ssid: int, epoch_ns: int) -> EchoMessages:
    if method == STAMP:
        return StampMessages(ssid=ssid, length=plan.payload_bytes, epoch_ns=epoch_ns)
    return MarkedMessages(nonce=secrets.randbits(32), length=plan.payload_bytes)


def _unix_ns_at_zero(timeline: Timeline) -> int:
    now_ns = round(timeline.now_s() * NS_PER_S)
    return round(timeline.clock.wall().timestamp() * NS_PER_S) - now_ns


def _report(far_report: Callable[[], FarReport | None] | None) -> FarReport | None:
    try:
        return far_report() if far_report else None
    except DoorstepError:
        # The series stands without the far end's log; only the direction of losses is lost.
        return None


class _EchoRun(ProbeRun):
    """The loop between an echo schedule and a socket."""

    def __init__(
        self,
        socket: ProbeSocket,
        schedule: EchoSchedule,
        messages: EchoMessages,
        *,
        timeline: Timeline,
        running: Running,
        family: int,
        enough: Callable[[], bool],
    ) -> None:
        super().__init__(socket, schedule, timeline=timeline, running=running, family=family)
        self._enough = enough
        self._schedule = schedule
        self._messages = messages
        self._strangers = 0

    def unusable(self, address: str) -> Reason | None:
        """Return a reason where answers came and none of them belonged to a probe."""
        if self._answered or not self._strangers:
            return None
        problem = f"{self._strangers} answers that belong to no probe"
        return Reason.of(BadReply(address=address, problem=problem))

    def _step(self, now_s: float, deadline_s: float) -> None:
        if self._enough():
            self._schedule.end()
        super()._step(now_s, deadline_s)

    def _send(self, now_s: float) -> None:
        number = self._schedule.take(now_s)
        self._put_out(number, self._messages.encode(number, now_s))

    def _take(self, event: Received | Failed, at_s: float) -> None:
        if isinstance(event, Failed):
            self._take_error(event)
            return
        self._running.used(len(event.payload) + self._header_bytes)
        found = self._messages.decode(event.payload)
        if found is None:
            self._strangers += 1
            return
        number, reflection = found
        self._note_answer(number, event.clock)
        self._schedule.on_received(number, at_s, reflection)

    def _take_error(self, event: Failed) -> None:
        number = self._messages.quoted(event.quoted)
        if number is None:
            outstanding = self._schedule.outstanding()
            # A short quote names no probe; with one probe under way there is nothing to guess.
            number = outstanding[0] if len(outstanding) == 1 else None
        if number is not None:
            kind = f"{event.icmp_type}/{event.icmp_code}"
            self._schedule.on_error(number, event.source or "", kind)
