"""One visit on the practice network: server and visit as processes of their own, truth after it."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from agent.errors import PracticeBroken, PracticeRefused
from agent.practice import faults
from agent.practice.fault import SERVER
from agent.practice.handle import python_path
from agent.practice.host import FOLDER, Host
from agent.practice.line import LineSpec
from agent.practice.line_settings import (
    SERVER_PORT,
    server_url,
    settings_for_line,
    settings_text,
)
from agent.practice.network import PracticeNetwork, Scalar
from agent.practice.open_ports import ANSWER_PORT
from agent.practice.process import PIPE, HostProcess
from agent.practice.topology import home_routers
from agent.settings.model import Settings
from agent.settings.outside import PRACTICE_FACTS

SETTINGS_FILE = "practice.toml"
RECORD = "record.json"
SERVING = re.compile(rb"Serving on (\S+)")
LOOPBACK_DATA = "200M"
"""Bounds what a loopback visit moves: it proves nothing, and no line limits it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What was played; `fault` and `severity` join several with "+"."""

    fault: str | None
    severity: str | None
    values: Mapping[str, Scalar]


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeVisit:
    """What the visit is told: exactly what a technician on this line would say.

    `arguments` are further options of `doorstep visit`, the tier not among them. `output` is where
    the visit's standard output goes: None where ours does, DEVNULL, or a descriptor. With `probes`
    it starts with the rights of an administrator, so that it can probe for addresses.
    """

    settings: Settings
    reports: Path
    tier: str | None
    access: str | None = None
    arguments: Sequence[str] = ()
    output: int | None = None
    probes: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Practised:
    """What came of a practice run; `records` are the files that the visit wrote."""

    exit_code: int
    truth: Truth
    records: tuple[Path, ...] = ()
    refusal: str | None = None


@dataclass(slots=True)
class _Reports:
    """Tells the records of one visit from those already there."""

    folder: Path
    before: set[Path] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.before = set(self.folder.glob(f"*/{RECORD}"))

    def new(self) -> tuple[Path, ...]:
        return tuple(sorted(set(self.folder.glob(f"*/{RECORD}")) - self.before))


def run_practice(
    spec: LineSpec,
    visit: PracticeVisit,
    *,
    keep: Callable[[Path, Truth], object],
    note: Callable[[str], None],
    loopback: bool = True,
) -> Practised:
    """Run a visit behind the practice modem and add the truth to its record afterwards.

    `keep` stores the truth in a record; `note` takes lines for the user. Where namespaces are
    refused the visit runs over loopback without a tier, so that it cannot meet one; not without
    `loopback`. Raises UsageError for a fault that does not exist, PracticeBroken, PracticeRefused.
    """
    faults.as_struck(spec)
    reports = _Reports(visit.reports)
    try:
        code, truth, refusal = *_on_network(spec, visit), None
    except PracticeRefused as error:
        if not loopback:
            raise
        note(error.sentence())
        note("The visit runs over loopback instead and cannot say whether a tier is met.")
        code, truth, refusal = *_over_loopback(visit), str(error.fields["problem"])
    records = reports.new()
    for record in records:
        keep(record, truth)
    return Practised(exit_code=code, truth=truth, records=records, refusal=refusal)


def _on_network(spec: LineSpec, visit: PracticeVisit) -> tuple[int, Truth]:
    with PracticeNetwork(spec) as network:
        if SERVER not in faults.silent_services(spec):
            _start_server(network.server, network.server_address)
        process = network.laptop.popen(
            visit_command(network, visit),
            stdin=None,
            stdout=visit.output,
            stderr=None,
            env=visit_environment(os.environ) | told_environment(spec, network.interface),
            plain=not visit.probes,
            attached=True,
            files={SETTINGS_FILE: _settings_for(network, visit)},
        )
        with _interrupts_left_to_the_visit():
            code = process.wait()
        return _exit_code(code), _truth(network)


def visit_command(network: PracticeNetwork, visit: PracticeVisit) -> list[str]:
    """Return the command line of the visit; it says nothing that the laptop could not know."""
    return [
        *_doorstep("visit"),
        *visit.arguments,
        f"--settings={FOLDER}/{SETTINGS_FILE}",
        f"--server={server_url(network.server_address)}",
        f"--interface={network.interface}",
        f"--out={visit.reports.resolve()}",
        f"--handover={network.struck.handover}",
        f"--plugged-into={'router' if home_routers(network.struck) else 'modem'}",
        "--nothing-else-on",
        "--consent",
        *([f"--tier={visit.tier}"] if visit.tier else ()),
        *([f"--access={visit.access}"] if visit.access else ()),
    ]


def visit_environment(environment: Mapping[str, str]) -> dict[str, str]:
    """Return the environment of the visit: no setting or proxy of this computer."""
    kept = {k: v for k, v in environment.items() if not _is_of_this_computer(k)}
    own = dict.fromkeys(("XDG_CONFIG_HOME", "XDG_DATA_HOME"), f"{FOLDER}/none")
    return {**kept, "PYTHONPATH": python_path(environment), **own}


def _is_of_this_computer(name: str) -> bool:
    return name.startswith("DOORSTEP_") or name.upper().endswith("_PROXY")


def told_environment(spec: LineSpec, interface: str) -> dict[str, str]:
    """Return what tells the visit the facts that no kernel can play, empty without one."""
    told = faults.told_facts(spec)
    return {PRACTICE_FACTS: json.dumps({interface: told})} if told else {}


def _doorstep(command: str) -> tuple[str, ...]:
    return (sys.executable, "-m", "agent", command)


def _settings_for(network: PracticeNetwork, visit: PracticeVisit) -> str:
    translated = bool(network.built["translates"])
    return settings_text(
        settings_for_line(
            visit.settings,
            network.addresses,
            translated=translated,
            addresses_6=network.addresses_6 if network.struck.ipv6 else None,
            server=network.server_address,
        )
    )


def _start_server(host: Host, address: str) -> HostProcess:
    """Start the operator's server and wait until it serves. Raises PracticeBroken."""
    ports = (
        f"--port={SERVER_PORT}",
        f"--reflector-port={SERVER_PORT}",
        f"--answer-port={ANSWER_PORT}",
    )
    process = host.popen(
        [*_doorstep("serve"), f"--host={address}", *ports],
        env={**os.environ, "PYTHONPATH": python_path(os.environ)},
        plain=True,
    )
    assert process.stderr is not None
    _serving_url(process.stderr.readline())
    return process


def _serving_url(line: bytes) -> str:
    found = SERVING.search(line)
    if found is None:
        raise PracticeBroken(problem=f"the operator's server did not start ({line.decode()!r})")
    return found[1].decode()


@contextmanager
def _interrupts_left_to_the_visit() -> Iterator[None]:
    """Let Ctrl-C end the visit, which then writes what it has, and not the network under it."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _exit_code(status: int) -> int:
    """Return the visit's exit status. Raises PracticeBroken where it was killed."""
    if status < 0:
        raise PracticeBroken(problem="the visit, or the network under it, was ended from outside")
    return status


def _truth(network: PracticeNetwork) -> Truth:
    chosen = network.spec.faults
    return Truth(
        fault="+".join(choice.name for choice in chosen) or None,
        severity="+".join(choice.severity for choice in chosen) or None,
        values=network.truth(),
    )


def _over_loopback(visit: PracticeVisit) -> tuple[int, Truth]:
    environment = {**os.environ, "PYTHONPATH": python_path(os.environ)}
    serve = [*_doorstep("serve"), "--host=127.0.0.1", "--port=0", "--reflector-port=0"]
    with subprocess.Popen(serve, env=environment, stderr=PIPE, stdin=subprocess.DEVNULL) as server:
        try:
            assert server.stderr is not None
            url = _serving_url(server.stderr.readline())
            command = [
                *_doorstep("visit"),
                *visit.arguments,
                f"--server={url}",
                "--interface=lo",
                f"--out={visit.reports.resolve()}",
                "--consent",
                f"--max-data={LOOPBACK_DATA}",
            ]
            with _interrupts_left_to_the_visit():
                visited = subprocess.run(command, env=environment, stdout=visit.output, check=False)
        finally:
            server.terminate()
    return _exit_code(visited.returncode), Truth(
        fault=None, severity=None, values={"played": "loopback"}
    )
