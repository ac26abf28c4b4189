"""Reflector sessions: who may be answered, how often, and what arrived. No socket here.

A session belongs to one source address, proven by the TCP connection that asked for it, and one
SSID (RFC 8972 §3). Packets with its SSID from elsewhere are counted and never answered: an address
translator with a pool may send UDP and TCP from two addresses. A session with a key takes only
packets in authenticated mode, one without only unauthenticated ones. Times are monotonic seconds,
given by the caller.
"""

from __future__ import annotations

import secrets
import threading
from array import array
from collections.abc import Iterator
from dataclasses import dataclass

from agent.codec.card import MAX_PACKETS, MAX_RUNS, ReflectorGrant, ReflectorReport
from agent.codec.stamp_authenticated import KEY_LENGTH
from agent.server.options import ReflectorLimits

# A report can be fetched this long after its session ended.
REPORT_KEPT_S = 60.0
# A session that heard nothing for this long makes room for a new one of the same client.
QUIET_S = 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """What a session saw, as it is counted; `firsts` and `counts` are the two columns of its runs.

    Columns of numbers, because making a report of many runs takes longer than a reflector may rest.
    """

    received: int
    reflected: int
    elsewhere: int
    unverified: int
    firsts: array[int]
    counts: array[int]
    cut: bool

    def report(self) -> ReflectorReport:
        """Return the same as a report."""
        return ReflectorReport(
            received=self.received,
            reflected=self.reflected,
            refused=self.received - self.reflected,
            runs=tuple(zip(self.firsts, self.counts, strict=True)),
            cut=self.cut,
            elsewhere=self.elsewhere,
            unverified=self.unverified,
        )


class Session:
    """One session's count, rate and order of arrival."""

    def __init__(self, address: str, client: str, grant: ReflectorGrant, now_s: float) -> None:
        self.address = address
        self.client = client
        self.grant = grant
        self.key = grant.secret
        self.ends_s = now_s + grant.seconds
        self.heard_s = now_s
        self._received = 0
        self._reflected = 0
        self._elsewhere = 0
        self._unverified = 0
        self._tokens = float(grant.packets_per_s)
        self._filled_s = now_s
        self._firsts = array("I")
        self._counts = array("I")
        self._cut = False

    def arrive(self, sequence: int, now_s: float) -> int | None:
        """Count one packet; return the reflector's own sequence number, None for no answer.

        The number counts from 0 what was answered (stateful mode, RFC 8762 §4.3.1).
        """
        self.heard_s = now_s
        if self._received >= MAX_PACKETS:
            return None
        self._received += 1
        self._note(sequence)
        if not self._allowed(now_s):
            return None
        self._reflected += 1
        return self._reflected - 1

    def arrive_elsewhere(self) -> None:
        """Count one packet that bore the SSID and came from another address."""
        self._elsewhere = min(self._elsewhere + 1, MAX_PACKETS)

    def arrive_unverified(self) -> None:
        """Count one packet of the granted address that was not in the session's mode and key."""
        self._unverified = min(self._unverified + 1, MAX_PACKETS)

    def tally(self) -> Tally:
        """Return what arrived so far."""
        return Tally(
            received=self._received,
            reflected=self._reflected,
            elsewhere=self._elsewhere,
            unverified=self._unverified,
            firsts=self._firsts[:],
            counts=self._counts[:],
            cut=self._cut,
        )

    def _note(self, sequence: int) -> None:
        if not self._cut and self._firsts and self._firsts[-1] + self._counts[-1] == sequence:
            self._counts[-1] += 1
        elif len(self._firsts) < MAX_RUNS and not self._cut:
            self._firsts.append(sequence)
            self._counts.append(1)
        else:
            self._cut = True

    def _allowed(self, now_s: float) -> bool:
        rate = self.grant.packets_per_s
        self._tokens = min(float(rate), self._tokens + (now_s - self._filled_s) * rate)
        self._filled_s = now_s
        if self._tokens < 1.0 or self._reflected >= self.grant.max_packets or now_s > self.ends_s:
            return False
        self._tokens -= 1.0
        return True


class SessionBook:
    """All sessions, found by their SSID, which no two share, or by their secret name."""

    def __init__(self, limits: ReflectorLimits, port: int) -> None:
        self._limits = limits
        self._port = port
        self._by_ssid: dict[int, Session] = {}
        self._by_name: dict[str, Session] = {}
        self._lock = threading.Lock()

    def open(
        self, address: str, client: str, now_s: float, *, authenticated: bool = False
    ) -> ReflectorGrant | None:
        """Grant a session to an address, with a key if asked; None where too many are in use."""
        with self._lock:
            self._expire(now_s)
            if not self._room_for(client, now_s):
                return None
            session = Session(address, client, self._new_grant(authenticated), now_s)
            self._by_ssid[session.grant.ssid] = session
            self._by_name[session.grant.session] = session
            return session.grant

    def find(self, address: str, ssid: int) -> Session | None:
        """Return the session that a packet with this SSID from this address may belong to."""
        with self._lock:
            session = self._by_ssid.get(ssid)
            if session is not None and session.address != address:
                session.arrive_elsewhere()
                return None
            return session

    def arrive(self, session: Session, sequence: int, now_s: float) -> int | None:
        """Count a packet that was found to be of a session, by its key where it has one.

        Return the own sequence number of the answer, None for silence.
        """
        with self._lock:
            return session.arrive(sequence, now_s)

    def refuse(self, session: Session) -> None:
        """Count a packet that was found not to be of the session it names."""
        with self._lock:
            session.arrive_unverified()

    def tally(self, name: str, now_s: float) -> Tally | None:
        """Return what a session saw so far, None for a name that is not known."""
        with self._lock:
            self._expire(now_s)
            session = self._by_name.get(name)
            return None if session is None else session.tally()

    def close(self, name: str, now_s: float) -> Tally | None:
        """End a session and return what it saw, None for a name that is not known."""
        with self._lock:
            self._expire(now_s)
            session = self._by_name.get(name)
            if session is None:
                return None
            self._drop(session)
            return session.tally()

    def _new_grant(self, authenticated: bool) -> ReflectorGrant:
        return ReflectorGrant(
            port=self._port,
            ssid=next(ssid for ssid in _ssids() if ssid not in self._by_ssid),
            session=secrets.token_hex(16),
            seconds=self._limits.seconds,
            packets_per_s=self._limits.packets_per_s,
            max_packets=self._limits.max_packets,
            key=secrets.token_hex(KEY_LENGTH) if authenticated else None,
        )

    def _room_for(self, client: str, now_s: float) -> bool:
        own = [s for s in self._by_name.values() if s.client == client]
        if len(own) < self._limits.per_client:
            return len(self._by_name) < self._limits.sessions
        quietest = min(own, key=lambda s: s.heard_s)
        if now_s - quietest.heard_s < QUIET_S:
            return False
        self._drop(quietest)
        return True

    def _expire(self, now_s: float) -> None:
        for session in list(self._by_name.values()):
            if now_s > session.ends_s + REPORT_KEPT_S:
                self._drop(session)

    def _drop(self, session: Session) -> None:
        del self._by_ssid[session.grant.ssid]
        del self._by_name[session.grant.session]


def _ssids() -> Iterator[int]:
    """Yield random SSIDs without end; 0 means that SSIDs are not in use (RFC 8972 §3)."""
    while True:
        yield secrets.randbelow(0xFFFF) + 1
