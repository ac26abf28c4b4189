"""The search for the path MTU: STAMP packets of many sizes to the operator's reflector, whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from agent.clock import Timeline, unix_ns
from agent.errors import DoorstepError, TooLarge
from agent.measurements import MtuSearch, TcpSegments
from agent.ports.datagram import Failed, ProbeSocket, Received
from agent.ports.running import Running
from agent.probes.echo_messages import StampMessages
from agent.probes.probe_run import HEADER_BYTES, ProbeRun
from agent.schedules.far import FarReport, received_by_report
from agent.schedules.mtu import MtuSchedule
from agent.units import NS_PER_S

STAMP = "stamp"
SEARCHING_S = 2.5
"""How long sizes are tried at most, so that the far end's log is there within three seconds."""

WHOLE_WAY = 255
"""The hop limit of STAMP packets (RFC 8762 §4.2.1, which takes it from RFC 5357: from memory)."""

TOO_BIG = {4: (3, 4), 6: (2, 0)}
"""Fragmentation needed (RFC 1191 §4) and packet too big (RFC 4443 §3.2): ICMP type and code."""

TIME_EXCEEDED = {4: (11, 0), 6: (3, 0)}
"""A hop limit that ran out (RFC 792; RFC 4443 §3.3): ICMP type and code."""


def search_mtu(
    socket: ProbeSocket,
    *,
    ssid: int,
    key: bytes | None,
    timeline: Timeline,
    target: str,
    family: int,
    running: Running,
    far_report: Callable[[], FarReport],
    tcp: TcpSegments | None = None,
    within_s: float = SEARCHING_S,
) -> MtuSearch:
    """Return what became of packets of many sizes on the way to `target` and back.

    `socket` must send them whole (RFC 8899 §3 item 1), and the reflector answer each in its own
    length. `far_report` is asked once, at the end, for what reached the far end.
    """
    started_s = timeline.now_s()
    schedule = MtuSchedule(family=family, start_s=started_s, until_s=started_s + within_s)
    epoch_ns = unix_ns() - round(started_s * NS_PER_S)
    messages = StampMessages(ssid=ssid, length=0, epoch_ns=epoch_ns, key=key)
    run = _MtuRun(socket, schedule, messages, timeline=timeline, running=running, family=family)
    reason = run.until(started_s + within_s)
    found = schedule.search(
        now_s=timeline.now_s(), target=target, protocol=STAMP, header_bytes=HEADER_BYTES[family]
    )
    told = replace(
        found,
        tcp=tcp,
        not_measured=None if reason is None or reason.code == "time-limit" else reason.code,
    )
    told = _with_report(told, far_report)
    return replace(told, duration_s=timeline.now_s() - started_s)


def _with_report(search: MtuSearch, far_report: Callable[[], FarReport]) -> MtuSearch:
    """Return the search with what the far end received; without its log that stays unknown."""
    try:
        report = far_report()
    except DoorstepError:
        return search
    received, _ = received_by_report(report, [o == "answered" for o in search.outcome])
    return replace(search, far_received=received)


class _MtuRun(ProbeRun):
    """The loop between the schedule and its socket."""

    def __init__(
        self,
        socket: ProbeSocket,
        schedule: MtuSchedule,
        messages: StampMessages,
        *,
        timeline: Timeline,
        running: Running,
        family: int,
    ) -> None:
        super().__init__(socket, schedule, timeline=timeline, running=running, family=family)
        self._schedule = schedule
        self._messages = messages
        self._family = family
        self._lengths: dict[int, int] = {}

    def _send(self, now_s: float) -> None:
        probe = self._schedule.take(now_s)
        length = probe.size - HEADER_BYTES[self._family]
        self._lengths[probe.number] = length
        self._messages.length = length
        payload = self._messages.encode(probe.number, now_s)
        self._put_out(probe.number, payload, probe.distance or WHOLE_WAY)
        if isinstance(self._refusal, TooLarge):
            self._schedule.on_held_back(probe.number)
            self._refusal = None

    def _take(self, event: Received | Failed, at_s: float) -> None:
        if isinstance(event, Received):
            self._take_answer(event, at_s)
            return
        told = (event.icmp_type, event.icmp_code)
        number = self._messages.quoted(event.quoted)
        number = number if number in self._lengths else None
        if told == TOO_BIG[self._family]:
            self._schedule.on_refusal(number, event.source, event.mtu_bytes)
        elif told == TIME_EXCEEDED[self._family] and number is not None:
            self._schedule.on_passed(number, at_s, event.source)

    def _take_answer(self, event: Received, at_s: float) -> None:
        found = self._messages.decode(event.payload)
        if found is not None and self._lengths.get(found[0]) == len(event.payload):
            self._schedule.on_answer(found[0], at_s)
