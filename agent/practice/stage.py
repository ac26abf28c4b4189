"""The built network with its running services: what faults act on and visits run in."""

from __future__ import annotations

import os
import signal
import socket
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from agent.errors import PracticeBroken
from agent.practice.addresses import Addresses, Addresses6, plan_addresses_6
from agent.practice.bench import Bench
from agent.practice.kernel import inside
from agent.practice.line import LineSpec
from agent.practice.services import Service, listening
from agent.practice.spawn import Place, Program, fork_into, start
from agent.practice.trust import TRUST_FILE

READY_WITHIN_S = 10.0
LOOK_EVERY_S = 0.01


@dataclass(slots=True)
class Stage:
    """One network being played; `files` is the laptop's mount namespace.

    `router_lifetime_s` is how long the home router says that it is a way out over IPv6. `laid`
    are parts of the home that a fault has built already.
    """

    bench: Bench
    spec: LineSpec
    addresses: Addresses
    scratch: Path
    files: int | None = None
    services: dict[str, int] = field(default_factory=dict)
    silent: list[socket.socket] = field(default_factory=list)
    router_lifetime_s: int = 1800
    laid: set[str] = field(default_factory=set)

    @property
    def addresses_6(self) -> Addresses6 | None:
        """Return who has which IPv6 address, None on a network without."""
        return plan_addresses_6(self.spec.seed, self.spec.hops) if self.spec.ipv6 else None

    def place(self, host: str) -> Place:
        """Return where a program of a host runs."""
        files = self.files if host == "laptop" else None
        return Place(network=self.bench.networks[host], files=files)

    def surroundings(self, host: str) -> dict[str, str]:
        """Return what is added to the environment of a host's programs.

        The laptop trusts the network's own authority in place of this computer's.
        """
        trust = self.scratch / TRUST_FILE
        return {"SSL_CERT_FILE": str(trust)} if host == "laptop" and trust.exists() else {}

    def serve(self, service: Service) -> None:
        """Start a service; it is awaited where it says how. Raises PracticeBroken."""
        self.services[service.name] = self._start(service)
        if service.listens:
            self._await(service.name, service.host, service.listens)

    def _start(self, service: Service) -> int:
        if not isinstance(service.run, Sequence):
            return fork_into(self.place(service.host), service.run)
        with Path(os.devnull).open("r+b") as nothing:
            sink = nothing.fileno()
            program = Program(
                argv=service.run,
                environment={"PATH": os.environ.get("PATH", os.defpath), "LC_ALL": "C"},
                folder="/",
                streams=(sink, sink, sink),
            )
            return start(self.place(service.host), program)

    def _await(self, name: str, host: str, address: tuple[str, int]) -> None:
        deadline = time.monotonic() + READY_WITHIN_S
        with inside(self.bench.networks[host]):
            while not listening(*address):
                if time.monotonic() > deadline or self._has_ended(name):
                    raise PracticeBroken(problem=f"the {name} service did not start")
                time.sleep(LOOK_EVERY_S)

    def _has_ended(self, name: str) -> bool:
        return os.waitpid(self.services[name], os.WNOHANG)[0] != 0

    def stop(self, name: str) -> None:
        """End a service that runs, and wait until its ports are free."""
        process = self.services.pop(name, None)
        if process is not None:
            os.kill(process, signal.SIGKILL)
            os.waitpid(process, 0)

    def run_now(self, host: str, argv: tuple[str, ...], text: str) -> bool:
        """Run a short command on a host with a text on its input; return whether it succeeded."""
        there, here = os.pipe()
        os.write(here, text.encode())
        os.close(here)
        sink = os.open(os.devnull, os.O_WRONLY | os.O_CLOEXEC)
        program = Program(
            argv=argv, environment={"LC_ALL": "C"}, folder="/", streams=(there, sink, sink)
        )
        child = start(self.place(host), program)
        os.close(there)
        os.close(sink)
        return os.waitpid(child, 0)[1] == 0
