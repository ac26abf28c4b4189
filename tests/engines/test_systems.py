"""The choice of engines by operating system; those of macOS and Windows are only stood in for."""

import os
import socket
import struct
import subprocess
import sys

import pytest

from agent.engines import macos_echo, systems, windows_calls
from agent.engines.linux_facts import LinuxFacts
from agent.engines.plain_datagram import PlainDatagramSocket
from agent.engines.portable_facts import PortableFacts
from agent.engines.systems import facts_of, open_probe_socket
from agent.errors import CannotMeasure, MeansNotWritten, NoAddress, SystemNotSupported
from agent.ports.binding import Binding

UNTRIED = ["darwin", "win32"]
ROW = struct.Struct("<4s4sI4sII8I")
"""MIB_IPFORWARDROW (from memory)."""


class StandInHelper:
    """The IP helper library of a laptop whose gateway is 192.0.2.1."""

    def open(self, family):
        return family

    def close(self, handle):
        assert handle in (4, 6)

    def best_route(self, address):
        hop = socket.inet_aton("192.0.2.1")
        return ROW.pack(bytes(4), bytes(4), 0, hop, 14, 4, *(0,) * 8)


@pytest.fixture
def helper(monkeypatch):
    monkeypatch.setattr(windows_calls, "IpHelper", StandInHelper)


@pytest.fixture
def opened():
    """Open a socket by platform and method; closed at the end."""
    sockets = []

    def opener(*asked, **more):
        sockets.append(open_probe_socket(*asked, **more))
        return sockets[-1]

    yield opener
    for sock in sockets:
        sock.close()


@pytest.mark.usefixtures("helper")
@pytest.mark.parametrize(("platform", "name"), [("darwin", "macOS"), ("win32", "Windows")])
def test_untried_systems_say_so_in_their_load(platform, name):
    facts = facts_of(platform)
    assert isinstance(facts, PortableFacts)
    assert facts.load().unverified_system == name


def test_linux_has_its_own_facts_and_every_other_system_none():
    assert isinstance(facts_of("linux"), LinuxFacts)
    assert facts_of("linux").load().unverified_system is None
    for other in ("freebsd14", "aix", ""):
        with pytest.raises(SystemNotSupported):
            facts_of(other)
        with pytest.raises(CannotMeasure):
            open_probe_socket(other, "stamp", Binding(), "127.0.0.1", 9)


@pytest.mark.usefixtures("helper")
@pytest.mark.parametrize("method", ["icmp-echo", "udp-path"])
def test_echo_serves_the_walk_too_where_no_user_is_told_who_refused(opened, monkeypatch, method):
    asked = []
    stand_in = StandInHelper()
    monkeypatch.setattr(
        macos_echo, "open_echo_socket", lambda binding, to: asked.append(to) or _Closing(stand_in)
    )
    opened("darwin", method, Binding(), "198.51.100.10", 33_434)
    assert asked == ["198.51.100.10"]
    far = opened("win32", method, Binding(), "198.51.100.10", 33_434)
    assert far.protocol == "icmp"


class _Closing:
    def __init__(self, helper):
        self.helper = helper

    def close(self):
        self.helper.close(4)


@pytest.mark.loopback
@pytest.mark.parametrize("platform", UNTRIED)
@pytest.mark.parametrize("method", ["stamp", "udp-unreachable"])
def test_plain_udp_serves_a_reflector(opened, platform, method):
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as far:
        far.bind(("127.0.0.1", 0))
        far.settimeout(5)
        port = far.getsockname()[1]
        near = opened(platform, method, Binding(ipv4="127.0.0.1"), "127.0.0.1", port)
        assert isinstance(near, PlainDatagramSocket)
        near.send(b"probe")
        assert far.recv(100) == b"probe"


@pytest.mark.parametrize("platform", UNTRIED)
@pytest.mark.parametrize("method", ["tcp-connect", "stamp-whole", "of-the-future"])
def test_what_is_not_written_for_a_system_is_refused_by_name(platform, method):
    with pytest.raises(MeansNotWritten) as caught:
        open_probe_socket(platform, method, Binding(), "127.0.0.1", 9)
    assert method in str(caught.value)
    assert systems.NAMES[platform] in str(caught.value)


def test_windows_keeps_to_an_interface_by_its_address_or_not_at_all(opened):
    with pytest.raises(NoAddress):
        opened("win32", "stamp", Binding(interface="Ethernet"), "127.0.0.1", 9)


ELSEWHERE = """
import sys, socket, select, subprocess, ssl, ctypes, signal, pathlib, tempfile, threading
import importlib.metadata, http.client, logging, uuid, platform, shutil, asyncio, webbrowser
import httpx, psutil, pydantic.main, typer, rich.console, zoneinfo, cryptography.x509
for name in ("fcntl", "pwd", "grp", "resource", "termios", "pty", "tty", "agent.helper.frames"):
    sys.modules[name] = None
sys.platform = {platform!r}
import agent.session.means, agent.session.prober.__main__, agent.session.visit, agent.cli.app
from agent.engines.rights import split_rights
assert split_rights(want_frames=True).frames_reason == "system-not-supported"
linux = sorted(n for n in sys.modules if n in ("agent.engines.linux_facts",
    "agent.engines.linux_datagram", "agent.engines.linux_netlink", "agent.engines.linux_ethtool"))
assert not linux, linux
"""


@pytest.mark.parametrize("platform", UNTRIED)
def test_a_visit_can_be_loaded_without_what_only_linux_has(platform):
    """A stand-in for the other system: its name, and none of the modules that it lacks."""
    done = subprocess.run(
        [sys.executable, "-c", ELSEWHERE.format(platform=platform)],
        check=False,
        capture_output=True,
        text=True,
        timeout=60,
        env=os.environ,
    )
    assert done.returncode == 0, done.stderr
