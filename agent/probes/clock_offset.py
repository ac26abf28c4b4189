"""How far this laptop's clock is off: one exchange with a time server, never more.

The answer counts only where it returns what was sent (RFC 5905 §8, "bogus" otherwise); a server
that asks to be left alone (§7.4) is not asked again, and neither is any other.
"""

from __future__ import annotations

from agent.clock import Clock
from agent.codec import ntp
from agent.errors import CannotMeasure, MalformedMessage
from agent.measurements import ClockExchange, Reason
from agent.ports.datagram import ProbeSocket, Received, Sent
from agent.units import NS_PER_S

METHOD = "stamp"
"""The kind of socket that is asked for: connected UDP with time stamps."""

MOST_EVENTS = 64
"""So many answers to one question are a flood, and none of them is believed any longer."""


def ask_time(
    probe_socket: ProbeSocket, server: str, nonce: int, clock: Clock, *, within_s: float
) -> ClockExchange:
    """Return what one question told; `nonce` are 64 unforeseeable bits.

    The nonce stands in the place of the time of sending, which an answer must return and which
    tells nobody what this clock shows.
    """
    waiting = _Waiting(server, nonce, clock)
    try:
        probe_socket.send(ntp.encode_request(nonce))
    except CannotMeasure as error:
        return ClockExchange(server=server, reason=Reason.of(error))
    return waiting.answer(probe_socket, within_s)


class _Waiting:
    """The wait for the one answer; wall time is read once, the rest is monotonic."""

    def __init__(self, server: str, nonce: int, clock: Clock) -> None:
        self._server = server
        self._nonce = nonce
        self._clock = clock
        self._began_ns = round(clock.wall().timestamp() * NS_PER_S)
        self._began_s = self._sent_s = clock.monotonic_s()
        self._seen = 0

    def answer(self, probe_socket: ProbeSocket, within_s: float) -> ClockExchange:
        """Return what came in time."""
        deadline_s = self._began_s + within_s
        while (left := deadline_s - self._clock.monotonic_s()) > 0 and self._seen < MOST_EVENTS:
            for event in probe_socket.poll(left):
                self._seen += 1
                if isinstance(event, Sent):
                    self._sent_s = event.at_s
                    continue
                found = self._read(event) if isinstance(event, Received) else self._told("refused")
                if found is not None:
                    return found
        return self._told("timed-out")

    def _read(self, event: Received) -> ClockExchange | None:
        """Return what an answer tells, None for one that is not to this question."""
        try:
            reply = ntp.decode_reply(event.payload)
        except MalformedMessage:
            return None
        if reply.origin != self._nonce:
            return None
        if reply.kiss_code is not None:
            return self._told("time-refused", kiss=reply.kiss_code)
        if not reply.synchronized:
            return self._told("time-not-set", stratum=reply.stratum)
        return ClockExchange(
            server=self._server,
            there_s=ntp.apart_s(reply.receive, self._stamp(self._sent_s)),
            back_s=ntp.apart_s(self._stamp(event.at_s), reply.transmit),
            stratum=reply.stratum,
        )

    def _stamp(self, at_s: float) -> int:
        passed_ns = round((at_s - self._began_s) * NS_PER_S)
        return ntp.from_unix_ns(self._began_ns + passed_ns)

    def _told(self, code: str, **values: str | int) -> ClockExchange:
        return ClockExchange(server=self._server, reason=Reason(code=code, values=values))
