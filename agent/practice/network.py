"""The practice network as a context manager: builds it, runs programs on its hosts, ends it."""

from __future__ import annotations

import json
import mmap
import os
from types import TracebackType
from typing import Any, Self

from agent.practice import faults
from agent.practice.addresses import plan_addresses, plan_addresses_6
from agent.practice.handle import Supervision
from agent.practice.homes import HOMES
from agent.practice.host import Host
from agent.practice.line import LineSpec
from agent.practice.orders import spec_document
from agent.practice.relay import COUNTERS, WAYS
from agent.practice.topology import LAPTOP_PORT, core_names, home_routers
from agent.practice.truths import played_on

Scalar = str | float | bool | None
HOSTS = ("laptop", "router", "modem", "edge", "core", "server", "outside")


class PracticeNetwork:
    """A line and the hosts on both sides of it, alive inside the `with` block.

    Hosts are attributes: `laptop` (port `interface`), `router`, `modem`, `edge`, `core`, `server`,
    `outside`; `host(name)` also gives `line` and `core1` …. Raises PracticeRefused where
    namespaces are not allowed, PracticeBroken where a part does not start, UsageError for a fault
    that does not exist.
    """

    interface = LAPTOP_PORT

    def __init__(self, spec: LineSpec) -> None:
        self.spec = spec
        self.struck = faults.as_struck(spec)
        routers = HOMES[self.struck.home].routers
        self.addresses = plan_addresses(spec.seed, self.struck.hops, routers=routers)
        self.addresses_6 = plan_addresses_6(spec.seed, self.struck.hops)
        self.built: dict[str, Any] = {}

    def __enter__(self) -> Self:
        self._supervision = Supervision()
        self._counters = os.memfd_create("counters")
        self._log = os.memfd_create("losses")
        os.ftruncate(self._counters, mmap.PAGESIZE)
        try:
            document = spec_document(self.spec)
            self.built = self._supervision.build(document, self._counters, self._log)
        except BaseException:
            self.close()
            raise
        return self

    def host(self, name: str) -> Host:
        """Return a host by name."""
        known = {
            "laptop": self.built.get("laptop"),
            "router": self.addresses.router,
            "modem": self.addresses.modem,
            "edge": self.addresses.edge,
            "server": self.addresses.server,
            "outside": self.addresses.outside,
        }
        for core, pair in zip(core_names(self.struck.hops), self.addresses.core, strict=True):
            known[core] = pair[1]
        return Host(self._supervision.start, name, known.get(name))

    def __getattr__(self, name: str) -> Host:
        if name in HOSTS:
            return self.host(name)
        raise AttributeError(name)

    def counters(self) -> dict[str, dict[str, int]]:
        """Return what the line did so far: way ("up", "down") to counter to frames."""
        values = memoryview(os.pread(self._counters, 8 * len(WAYS) * len(COUNTERS), 0)).cast("Q")
        width = len(COUNTERS)
        return {
            way: dict(zip(COUNTERS, values[place * width :], strict=False))
            for place, way in enumerate(WAYS)
        }

    def losses(self) -> tuple[dict[str, Any], ...]:
        """Return every packet that the line lost: way, monotonic seconds, its first octets."""
        size = os.fstat(self._log).st_size
        return tuple(json.loads(line) for line in os.pread(self._log, size, 0).splitlines())

    def ways(self, family: int = 4) -> tuple[str | None, ...]:
        """Return who answers at each distance from 1 to the server's, None for a silent router."""
        plan = self.addresses if family == 4 else self.addresses_6
        home = (plan.router, self.addresses.between_routers[0])[: len(home_routers(self.struck))]
        chain = (*home, plan.edge, *(pair[1] for pair in plan.core), plan.server)
        silent = self.struck.path.silent
        return tuple(None if at in silent else one for at, one in enumerate(chain, start=1))

    @property
    def server_address(self) -> str:
        """Return the address of the operator's server that this home's laptop can reach."""
        plan = self.addresses if HOMES[self.struck.home].ipv4 else self.addresses_6
        return plan.server

    def truth(self) -> dict[str, Scalar]:
        """Return what the line really is: rates at the frame layer, delay, losses, segment."""
        spec = self.struck
        return {
            "down_bps": spec.shaped_down_bps,
            "up_bps": spec.shaped_up_bps,
            "layer": "frame",
            "rtt_ms": spec.rtt_ms,
            "jitter_ms": spec.jitter_ms,
            "loss_down": spec.loss_down,
            "loss_up": spec.loss_up,
            "segment": faults.segment_of(self.spec),
            "home": spec.home,
            "translated": bool(self.built.get("translates")),
            "seed": spec.seed,
            **played_on(spec),
            **faults.played_figures(spec),
        }

    def close(self) -> None:
        """End every process and namespace of the network."""
        self._supervision.close()
        os.close(self._counters)
        os.close(self._log)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
