"""The server's side of its reflector: starts the process, asks it, ends it."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import threading
from dataclasses import asdict
from multiprocessing.connection import Connection
from pathlib import Path

from agent.clock import Clock
from agent.codec.card import ReflectorGrant, ReflectorReport
from agent.errors import UsageError
from agent.server.options import ReflectorLimits
from agent.server.questions import Answer, Look, Open, Question
from agent.server.refusal import RefusedRequest
from agent.server.sessions import Tally

# Long enough for the process to start on a busy machine; an answer itself takes far less.
ANSWER_WITHIN_S = 10.0
ENDS_WITHIN_S = 5.0
# One that cannot live is not started over and over.
RESTART_AFTER_S = 1.0
WAIT_S = 5.0


class Reflector:
    """A reflector in a process of its own; every method may be called by any thread."""

    def __init__(self, udp: socket.socket, limits: ReflectorLimits, clock: Clock) -> None:
        self.port: int = udp.getsockname()[1]
        self._udp = udp
        self._limits = limits
        self._clock = clock
        self._lock = threading.Lock()
        self._start()

    def open(
        self, address: str, client: str, *, authenticated: bool = False
    ) -> ReflectorGrant | None:
        """Grant a session to an address at once; None where too many are in use.

        This and the next two raise RefusedRequest while there is no reflector.
        """
        grant = self._ask(Open(address=address, client=client, authenticated=authenticated))
        return grant if isinstance(grant, ReflectorGrant) else None

    def report(self, name: str) -> ReflectorReport | None:
        """Return a session's report, None for a name that is not known."""
        return _report(self._ask(Look(name=name)))

    def close_session(self, name: str) -> ReflectorReport | None:
        """End a session and return its last report, None for a name that is not known."""
        return _report(self._ask(Look(name=name, close=True)))

    def tend(self) -> bool:
        """Replace a process that ended by itself; return whether that was so.

        Its sessions are gone: those who ask for them hear that they are not known.
        """
        if self._process.poll() is None or self._age_s() < RESTART_AFTER_S:
            return False
        with self._lock:
            self._end()
            self._start()
        return True

    def close(self) -> None:
        """End the process; it has ended on return. The socket stays the caller's to close."""
        with self._lock:
            self._end()

    @property
    def pid(self) -> int:
        """Return the process that reflects now."""
        return self._process.pid

    def _ask(self, question: Question) -> Answer:
        with self._lock:
            try:
                self._control.send(question)
                if self._control.poll(ANSWER_WITHIN_S):
                    answer: Answer = self._control.recv()
                    return answer
            except (OSError, EOFError):
                pass
            # An answer that comes later would be taken for that to the next question.
            self._process.kill()
        raise RefusedRequest(503, "no-reflector", wait_s=WAIT_S)

    def _start(self) -> None:
        ours, theirs = socket.socketpair()
        try:
            self._process = self._spawn(theirs)
        except OSError as error:
            ours.close()
            raise UsageError(
                problem=f"The reflector's process cannot be started: {error}.",
                remedy="Look at the limits of this account.",
            ) from error
        finally:
            theirs.close()
        self._started_s = self._clock.monotonic_s()
        self._control = Connection(ours.detach())

    def _spawn(self, control: socket.socket) -> subprocess.Popen[bytes]:
        inherited = (self._udp.fileno(), control.fileno())
        limits = json.dumps(asdict(self._limits))
        return subprocess.Popen(
            [sys.executable, "-s", "-m", "agent.server.reflecting", *map(str, inherited), limits],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            pass_fds=inherited,
            env={**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[2])},
            # Ctrl-C in a terminal is for the server, which then ends this process.
            process_group=0,
        )

    def _end(self) -> None:
        self._control.close()
        self._process.kill()
        self._process.wait(ENDS_WITHIN_S)

    def _age_s(self) -> float:
        return self._clock.monotonic_s() - self._started_s


def _report(answer: Answer) -> ReflectorReport | None:
    return answer.report() if isinstance(answer, Tally) else None
