"""The visit's side of the prober: start it, hand it orders, take in what it measured."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import agent
from agent.errors import ProberFailed, RecordError
from agent.measurements import Measurement
from agent.probes.means import ICMP_ECHO
from agent.record.typed import measurement_of
from agent.session.prober.channel import Channel
from agent.session.prober.order import Order, document_of

STARTING_S = 5.0
"""What an interpreter and the sockets may take; half a second on an idle laptop."""

SETTLING_S = 4.0
"""Beyond an order's own waiting time: fetches under way, and the answer itself."""

ENDING_S = 2.0

HANDS_SOCKETS = os.name == "posix"
"""Whether a process can be given a socket as its standard input."""

RawIcmp = Callable[[int], socket.socket | None]


class ProberClient:
    """A running prober; `raw` gives raw ICMP sockets where the system needs them for echo."""

    def __init__(self, process: subprocess.Popen[bytes], channel: Channel, raw: RawIcmp) -> None:
        self._process = process
        self._channel = channel
        self._raw = raw
        self._said: dict[int, dict[str, dict[str, Any]]] = {}

    @property
    def pid(self) -> int:
        """The prober's process."""
        return self._process.pid

    @classmethod
    def start(cls, raw: RawIcmp) -> ProberClient:
        """Start the process; it needs no right but those of its sockets. Raises ProberFailed.

        Windows cannot hand it its channel: there the loaded line is filled without being timed.
        """
        if not HANDS_SOCKETS:
            raise ProberFailed(problem="Windows gives it no channel")
        ours, theirs = socket.socketpair()
        place = str(Path(agent.__file__).parents[1])
        try:
            process = subprocess.Popen(
                [sys.executable, "-P", "-m", "agent.session.prober"],
                stdin=theirs.fileno(),
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                env=os.environ | {"PYTHONPATH": place},
                close_fds=True,
                start_new_session=True,
            )
        except OSError as error:
            ours.close()
            raise ProberFailed(problem=str(error)) from error
        finally:
            theirs.close()
        return cls(process, Channel(ours), raw)

    def begin(self, order: Order) -> SeriesUnderWay:
        """Begin the series of an order and return once their sockets are open.

        Raises ProberFailed.
        """
        number = len(self._said)
        self._said[number] = {}
        raws = self._raw_sockets(order)
        try:
            self._send({"do": "begin", "number": number, **document_of(order)}, raws)
        finally:
            for one in raws:
                one.close()
        self.heard(number, "ready", STARTING_S)
        return SeriesUnderWay(self, number, order)

    def end(self, number: int) -> None:
        """Tell an order's series to send no more. Raises ProberFailed."""
        self._send({"do": "end", "number": number})

    def heard(self, number: int, what: str, within_s: float) -> dict[str, Any]:
        """Return what the prober says of an order, once it does. Raises ProberFailed."""
        try:
            while what not in self._said[number]:
                if "failed" in self._said[number]:
                    raise ProberFailed(problem=self._said[number]["failed"]["problem"])
                self._take(within_s)
        except TimeoutError as error:
            raise ProberFailed(problem=f"no word within {within_s:g} s") from error
        except (OSError, ValueError, TypeError, KeyError) as error:
            raise ProberFailed(problem="it broke off") from error
        return self._said[number][what]

    def close(self) -> None:
        """End the prober: by the end of its channel, then by signal."""
        self._channel.close()
        try:
            self._process.wait(ENDING_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()

    def _take(self, within_s: float) -> None:
        message = self._channel.receive(within_s)
        if message is None:
            raise ProberFailed(problem="it has ended")
        self._said[message.document["number"]][message.document["said"]] = message.document

    def _send(self, document: dict[str, Any], sockets: tuple[socket.socket, ...] = ()) -> None:
        try:
            self._channel.send(document, sockets)
        except OSError as error:
            raise ProberFailed(problem="it has ended") from error

    def _raw_sockets(self, order: Order) -> tuple[socket.socket, ...]:
        wanted = (self._raw(one.family) for one in order.series if one.method == ICMP_ECHO)
        return tuple(one for one in wanted if one is not None)


class SeriesUnderWay:
    """The series of one order, from their beginning to what came of them."""

    def __init__(self, prober: ProberClient, number: int, order: Order) -> None:
        self._prober = prober
        self._number = number
        self._waiting_s = order.plan.waiting_s + order.plan.tail_s

    def end(self) -> None:
        """Send no more probes. Raises ProberFailed."""
        self._prober.end(self._number)

    def results(self) -> tuple[tuple[Measurement, ...], int]:
        """Return the measurements and the bytes they moved, waiting for the last answers.

        Only after `end`. Raises ProberFailed.
        """
        said = self._prober.heard(self._number, "done", self._waiting_s + SETTLING_S)
        try:
            measurements = tuple(measurement_of(one) for one in said["measurements"])
            return measurements, int(said["bytes"])
        except (RecordError, KeyError, TypeError, ValueError) as error:
            raise ProberFailed(problem="no measurement of its form") from error
