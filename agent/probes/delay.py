"""Delay series over probe sockets, each on its own fixed clock, all of them in one loop.

STAMP to a reflector, or echo by one of its means: ICMP, a refused UDP datagram, a TCP connection.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from ipaddress import ip_address

from agent.clock import Timeline
from agent.errors import BadReply, CannotMeasure, DoorstepError
from agent.measurements import Kind, Measurement, Reason, Role, Scalar, State
from agent.ports.datagram import Event, Failed, ProbeSocket, Received, Sent, WaitTogether
from agent.ports.running import Running
from agent.probes.echo_messages import EchoMessages, MarkedMessages, StampMessages
from agent.probes.means import ICMP_ECHO, PORT_UNREACHABLE, STAMP, UDP_UNREACHABLE
from agent.probes.probe_run import ProbeRun, run_together
from agent.schedules.echo import EchoSchedule
from agent.schedules.far import FarReport
from agent.settings.model import EchoPlan
from agent.units import NS_PER_S

__all__ = ["ICMP_ECHO", "STAMP", "DelaySeries", "measure_delay", "measure_delays"]

SILENT_AFTER = 5
"""So many probes waited for in vain say that a far end does not answer this means."""

ECHO_SEQUENCES = 1 << 16
"""How many sequence numbers echo has (RFC 792)."""

WARM_UP = -1
WARM_UP_S = 0.02
"""Between the warm-up probe and the first: its stamps, an address looked up on the link, are old
by then."""

FarReporter = Callable[[], FarReport | None]


def _never() -> bool:
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
class DelaySeries:
    """One series to run: `method` is "stamp", "icmp-echo", "udp-unreachable" or "tcp-connect".

    `key` is that of a STAMP session in authenticated mode. `far_report` is asked once, after the
    last probe, for the reflector's log. `gives_up` ends the
    series once its first probes were all in vain, because another means is tried then.
    """

    socket: ProbeSocket
    plan: EchoPlan
    role: Role
    method: str
    address: str
    family: int = 4
    ssid: int = 0
    key: bytes | None = field(default=None, repr=False)
    load: str = "none"
    far_report: FarReporter | None = None
    gives_up: bool = False


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
    key: bytes | None = None,
    within_s: float,
    running: Running,
    load: str = "none",
    far_report: FarReporter | None = None,
    enough: Callable[[], bool] = _never,
) -> Measurement:
    """Send `plan.count` probes on a fixed clock and return what became of each.

    Once `enough` says so no probe more is sent, and the series is as complete as one of that
    count. A series cut short holds the probes whose fate was known by then.
    """
    one = DelaySeries(
        socket=socket,
        plan=plan,
        role=role,
        method=method,
        address=address,
        family=family,
        ssid=ssid,
        key=key,
        load=load,
        far_report=far_report,
    )
    run = _EchoRun(one, timeline=timeline, running=running, enough=enough)
    reason = run.until(run.began_s + within_s)
    return run.measured(reason, timeline.now_s())


def measure_delays(
    series: Sequence[DelaySeries],
    wait: WaitTogether,
    *,
    timeline: Timeline,
    within_s: float,
    running: Running,
    enough: Callable[[], bool] = _never,
) -> tuple[Measurement, ...]:
    """Run several series at once in one loop and return one measurement for each; see above.

    Their clocks are shifted against each other, so that they do not all send at the same time.
    """
    runs = [
        _EchoRun(
            one,
            timeline=timeline,
            running=running,
            enough=enough,
            shift_s=one.plan.interval_s * place / len(series),
        )
        for place, one in enumerate(series)
    ]
    deadline_s = timeline.now_s() + within_s
    endings = run_together(runs, wait, timeline=timeline, deadline_s=deadline_s)
    pairs = zip(runs, endings, strict=True)
    return tuple(run.measured(ending.reason, ending.at_s) for run, ending in pairs)


def _messages(one: DelaySeries, epoch_ns: int) -> EchoMessages:
    length = one.plan.payload_bytes
    if one.method == STAMP:
        return StampMessages(ssid=one.ssid, length=length, epoch_ns=epoch_ns, key=one.key)
    return MarkedMessages(nonce=secrets.randbits(32), length=length)


def _unix_ns_at_zero(timeline: Timeline) -> int:
    now_ns = round(timeline.now_s() * NS_PER_S)
    return round(timeline.clock.wall().timestamp() * NS_PER_S) - now_ns


def _report(far_report: FarReporter | None) -> FarReport | None:
    try:
        return far_report() if far_report else None
    except DoorstepError:
        # The series stands without the far end's log; only the direction of losses is lost.
        return None


class _EchoRun(ProbeRun):
    """The loop between an echo schedule and a socket."""

    def __init__(
        self,
        one: DelaySeries,
        *,
        timeline: Timeline,
        running: Running,
        enough: Callable[[], bool],
        shift_s: float = 0.0,
    ) -> None:
        self.began_s = timeline.now_s()
        epoch_ns = _unix_ns_at_zero(timeline)
        lead_s = shift_s + (0.0 if one.method == STAMP else WARM_UP_S)
        schedule = EchoSchedule(
            count=one.plan.count,
            interval_s=one.plan.interval_s,
            waiting_s=one.plan.waiting_s,
            tail_s=one.plan.tail_s,
            start_s=self.began_s + lead_s,
            epoch_ns=epoch_ns,
            # A granted session has an identifier, and a reflector that grants counts.
            stateful=one.method == STAMP and one.ssid != 0,
        )
        super().__init__(
            one.socket, schedule, timeline=timeline, running=running, family=one.family
        )
        self._one = one
        self._enough = enough
        self._schedule = schedule
        self._messages = _messages(one, epoch_ns)
        self._strangers = 0
        self._warm_up = b""
        if one.method != STAMP:
            self._send_warm_up(one.plan.payload_bytes)

    def act(self, now_s: float) -> None:
        """Send a probe if one is due, unless the series has enough."""
        if self._enough() or (self._one.gives_up and self._is_silent(now_s)):
            self._schedule.end()
        super().act(now_s)

    def measured(self, reason: Reason | None, ended_s: float) -> Measurement:
        """Return the measurement of a run that is over, and why it ended before if it did."""
        one, state = self._one, self.state(reason)
        observed = self._schedule.series(
            now_s=ended_s,
            payload_bytes=self._messages.length,
            load=one.load,
            clock_steps=one.socket.clock_steps,
            report=_report(one.far_report) if self.went_out else None,
            answers_limited=one.method == UDP_UNREACHABLE,
            authenticated=one.key is not None if one.method == STAMP else None,
        )
        return Measurement(
            kind=Kind.DELAY,
            role=one.role,
            state=state,
            method=one.method,
            started_s=self.began_s,
            duration_s=ended_s - self.began_s,
            family=one.family,
            address=one.address,
            clock=self.stamped_by(),
            reason=reason or self._unusable(ended_s),
            observed=None if state is State.FAILED else observed,
        )

    def _unusable(self, ended_s: float) -> Reason | None:
        """Return why a whole series says nothing: none of its answers was one, or none came."""
        one = self._one
        if self._strangers and not self._answered:
            problem = f"{self._strangers} answers that belong to no probe"
            return Reason.of(BadReply(address=one.address, problem=problem))
        if one.method == STAMP or not self._is_silent(ended_s):
            return None
        values: dict[str, Scalar] = {"means": one.method, "probes": self._schedule.attempted}
        return Reason(code="means-silent", values=values)

    def _is_silent(self, now_s: float) -> bool:
        return self._schedule.silent_for(SILENT_AFTER, now_s)

    def _send_warm_up(self, length: int) -> None:
        """Send a probe that is no part of the series: its stamps may not be the kernel's yet.

        Not to a reflector, which counts what it gets.
        """
        self._warm_up = secrets.token_bytes(length)
        try:
            self._socket.send(self._warm_up)
        except CannotMeasure:
            # The first probe of the series meets the same refusal, and is noted for it.
            return
        self._numbers.append(WARM_UP)
        self._running.used(length + self._header_bytes)

    def _send(self, now_s: float) -> None:
        number = self._schedule.take(now_s)
        self._put_out(number, self._messages.encode(number, now_s))

    def _hear(self, event: Event) -> None:
        if isinstance(event, Sent):
            if self._numbers[event.index] != WARM_UP:
                super()._hear(event)
            return
        told = event.quoted if isinstance(event, Failed) else event.payload
        if self._warm_up and self._warm_up.startswith(told):
            # Also an error that quotes nothing: it was the first to be sent.
            self._warm_up = b""
            return
        super()._hear(event)

    def _take(self, event: Received | Failed, at_s: float) -> None:
        if isinstance(event, Failed):
            self._take_error(event, at_s)
            return
        self._running.used(len(event.payload) + self._header_bytes)
        found = self._messages.decode(event.payload)
        if found is None or not self._replies_to(found[0], event.sequence):
            self._strangers += 1
            return
        number, reflection = found
        self._note_answer(number, event.clock)
        self._schedule.on_received(number, at_s, reflection)

    def _replies_to(self, number: int, sequence: int | None) -> bool:
        """Tell whether a reply names the very request that its data were sent in."""
        if sequence is None:
            return True
        sent = range(sequence, len(self._numbers), ECHO_SEQUENCES)
        return any(self._numbers[index] == number for index in sent)

    def _take_error(self, event: Failed, at_s: float) -> None:
        number = self._about(event)
        if number is None:
            return
        if self._answers(event):
            self._note_answer(number, event.clock)
            self._schedule.on_received(number, at_s)
            return
        kind = f"{event.icmp_type}/{event.icmp_code}"
        self._schedule.on_error(number, event.source or "", kind)

    def _about(self, event: Failed) -> int | None:
        number = self._messages.quoted(event.quoted)
        outstanding = self._schedule.outstanding()
        if number is not None or event.quoted or len(outstanding) != 1:
            return number
        # A short quote names no probe; with one probe under way there is nothing to guess.
        return outstanding[0]

    def _answers(self, event: Failed) -> bool:
        """Tell whether an error is the very answer that the method asks for."""
        kind = (event.icmp_type, event.icmp_code)
        asked = self._one.method == UDP_UNREACHABLE and kind == PORT_UNREACHABLE[self._one.family]
        return asked and _same(event.source, self._one.address)


def _same(source: str | None, address: str) -> bool:
    """Tell whether two texts are one address, however they are written (RFC 5952)."""
    target = ip_address(address.partition("%")[0])
    return source is not None and ip_address(source.partition("%")[0]) == target
