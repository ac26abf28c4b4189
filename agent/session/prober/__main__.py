"""The prober process: its standard input is one end of the channel, and it ends with it."""

from __future__ import annotations

import contextlib
import signal
import socket
import sys
from collections.abc import Sequence

from agent.clock import SystemClock
from agent.engines.http import HttpxEngine
from agent.engines.systems import open_probe_socket
from agent.engines.waiting import wait_together
from agent.errors import NameNotResolved
from agent.ports.binding import Binding
from agent.ports.datagram import ProbeSocket
from agent.ports.http import HttpPort
from agent.ports.names import NameAnswer, NameQuestion
from agent.session.prober.channel import Channel
from agent.session.prober.serving import Prober
from agent.session.targets import EchoTarget


class _OneName:
    """A names port on which every name is one address: the visit has looked it up already."""

    def __init__(self, address: str) -> None:
        self._address = address

    def resolve(self, name: str, family: int, within_s: float) -> tuple[str, ...]:  # noqa: ARG002 - the form of the port
        return (self._address,)

    def query(self, resolver: str, name: str, qtype: str, within_s: float) -> NameAnswer:  # noqa: ARG002 - as above
        raise NameNotResolved(name=name, problem=f"{resolver} is not asked for {qtype} here")

    def ask(self, question: NameQuestion, within_s: float) -> NameAnswer:  # noqa: ARG002 - as above
        raise NameNotResolved(name=question.name, problem="nobody is asked for it here")


class _Means:
    """The engines of this system."""

    def probe_socket(
        self, target: EchoTarget, binding: Binding, raw: socket.socket | None
    ) -> ProbeSocket:
        return open_probe_socket(
            sys.platform, target.method, binding, target.address, target.port, raw=raw
        )

    def wait_together(
        self, sockets: Sequence[ProbeSocket], timeout_s: float
    ) -> Sequence[ProbeSocket]:
        return wait_together(sockets, timeout_s)

    def http(self, binding: Binding, address: str) -> HttpPort:
        return HttpxEngine(binding, _OneName(address))


def main() -> int:
    """Serve the channel on standard input; die with the visit even where it is killed."""
    if sys.platform == "linux":
        from agent.engines.linux_capabilities import die_with_parent  # noqa: PLC0415

        die_with_parent(signal.SIGKILL)
    with socket.socket(fileno=0) as sock, contextlib.suppress(OSError):
        Prober(Channel(sock), _Means(), SystemClock()).serve()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
