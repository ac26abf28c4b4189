"""The real means of a visit on this computer, with the rights split off first."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from agent.engines.bulk import BulkEngine
from agent.engines.http import HttpxEngine
from agent.engines.name_secure import EncryptedNames
from agent.engines.names import BoundNames
from agent.engines.reach import SystemReach
from agent.engines.rights import Rights, split_rights
from agent.engines.systems import facts_of, open_probe_socket
from agent.engines.waiting import wait_together
from agent.measurements import TcpSegments
from agent.ports.binding import Binding
from agent.ports.datagram import ProbeSocket
from agent.ports.facts import FactsPort
from agent.ports.frames import FramePort
from agent.ports.http import HttpPort
from agent.ports.injected import with_told
from agent.ports.names import AskingPort, NamesPort
from agent.ports.reach import ReachPort
from agent.ports.stream import StreamPort
from agent.probes.means import ICMP_ECHO
from agent.session.prober.client import ProberClient
from agent.session.workshop import Prober
from agent.settings.outside import PRACTICE_FACTS


class SystemMeans:
    """Makes every port of a visit from this system's engines; a `Workshop`."""

    def __init__(self, rights: Rights, facts: FactsPort) -> None:
        self._rights = rights
        self._facts = facts

    @classmethod
    @contextmanager
    def take(cls, *, want_frames: bool) -> Iterator[SystemMeans]:
        """Split the rights, then hand out the means; the helper ends with the block.

        Must be entered before any network input is read. Raises SystemNotSupported on systems
        whose engines are not written, RightMissing where rights cannot be given up.
        """
        facts = with_told(facts_of(sys.platform), os.environ.get(PRACTICE_FACTS))
        rights = split_rights(want_frames)
        try:
            yield cls(rights, facts)
        finally:
            rights.close()

    @property
    def facts(self) -> FactsPort:
        """The computer's own facts."""
        return self._facts

    @property
    def frames(self) -> FramePort | None:
        """The privileged helper, None where there is none."""
        return self._rights.frames

    @property
    def frames_reason(self) -> str | None:
        """Why there is no helper, as a reason code."""
        return self._rights.frames_reason

    def names(self, binding: Binding, resolvers: tuple[str, ...]) -> NamesPort:
        """Return the names port over the given resolvers."""
        return BoundNames(binding, resolvers)

    def encrypted_names(
        self, binding: Binding, names: NamesPort, port: int | None, path: str
    ) -> AskingPort:
        """Return queries over TLS and HTTPS; `names` finds the resolvers' own addresses."""
        return EncryptedNames(binding, names, HttpxEngine(binding, names), port=port, path=path)

    def http(self, binding: Binding, names: NamesPort) -> HttpPort:
        """Return the HTTP port."""
        return HttpxEngine(binding, names)

    def streams(self, binding: Binding, names: NamesPort) -> StreamPort:
        """Return the bulk streams."""
        return BulkEngine(HttpxEngine(binding, names))

    def probe_socket(self, method: str, binding: Binding, address: str, port: int) -> ProbeSocket:
        """Return a socket for STAMP, a means of echo, or "udp-path"; raises CannotMeasure."""
        raw = None
        if method == ICMP_ECHO:
            raw = self._rights.take_raw_icmp(6 if ":" in address else 4)
        return open_probe_socket(sys.platform, method, binding, address, port, raw=raw)

    def wait_together(
        self, sockets: Sequence[ProbeSocket], timeout_s: float
    ) -> Sequence[ProbeSocket]:
        """Wait on probe sockets; see `WaitTogether`."""
        return wait_together(sockets, timeout_s)

    def reach(self, binding: Binding) -> ReachPort:
        """Return single attempts on ports."""
        return SystemReach(binding)

    def tcp_segments(
        self, binding: Binding, address: str, port: int, within_s: float
    ) -> TcpSegments | None:
        """Return what TCP agrees on with a listener; raises CannotMeasure."""
        if sys.platform != "linux":
            return None
        from agent.engines.linux_mtu_socket import read_segments  # noqa: PLC0415 - Linux only

        return read_segments(binding, address, port, within_s)

    def prober(self) -> Prober:
        """Start the process that times the loaded line; raises ProberFailed."""
        return ProberClient.start(self._rights.take_raw_icmp)
