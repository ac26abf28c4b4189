"""The reflector's process: there when granted, gone with its server, replaced when it dies."""

import os
import signal
import socket
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace

import psutil
import pytest

from agent.clock import SystemClock
from agent.codec.stamp import SenderPacket, encode_sender
from agent.errors import UsageError
from agent.server import remote
from agent.server.options import ReflectorLimits
from agent.server.refusal import RefusedRequest
from agent.server.remote import Reflector

pytestmark = pytest.mark.loopback

ROOT = Path(__file__).parents[2]
WAIT_S = 20.0
HERE = "127.0.0.1"


def bound():
    """Return a UDP socket as the server opens it."""
    sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    sock.bind((HERE, 0))
    return sock


@pytest.fixture
def udp():
    with closing(bound()) as sock:
        yield sock


@pytest.fixture
def reflector(udp):
    with closing(Reflector(udp, ReflectorLimits(), SystemClock())) as made:
        yield made


def asker(reflector):
    """Return a socket that speaks to the reflector."""
    sock = bound()
    sock.settimeout(WAIT_S)
    sock.connect((HERE, reflector.port))
    return sock


def packet(ssid, sequence=0):
    return encode_sender(SenderPacket(sequence=sequence, timestamp=1, ssid=ssid))


def ended(pid):
    """Wait until a process that need not be our child is gone."""
    try:
        psutil.Process(pid).wait(WAIT_S)
    except psutil.NoSuchProcess:
        return True
    return not psutil.pid_exists(pid)


def test_a_granted_packet_is_answered_at_once(reflector):
    with closing(asker(reflector)) as sock:
        for _ in range(5):
            sock.send(packet(reflector.open(HERE, HERE).ssid))
            assert len(sock.recv(2_048)) == 44
    assert reflector.pid != os.getpid()


def test_the_report_comes_across_whole(reflector):
    grant = reflector.open(HERE, HERE)
    with closing(asker(reflector)) as sock:
        for number in (0, 1, 5, 5):
            sock.send(packet(grant.ssid, number))
            sock.recv(2_048)
    report = reflector.report(grant.session)
    assert list(report.arrivals()) == [0, 1, 5, 5]
    assert reflector.close_session(grant.session) == report
    assert reflector.report(grant.session) is None


def test_the_limits_are_the_servers(udp):
    with closing(Reflector(udp, ReflectorLimits(per_client=1), SystemClock())) as made:
        assert [made.open(HERE, HERE) is None for _ in range(2)] == [False, True]


def test_many_threads_ask_and_each_hears_its_own_answer(reflector):
    heard = {}

    def ask(number):
        address = f"198.51.100.{number}"
        grant = reflector.open(address, address)
        heard[number] = reflector.report(grant.session).received, grant.ssid

    threads = [threading.Thread(target=ask, args=(number,)) for number in range(16)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [received for received, _ in heard.values()] == [0] * 16
    assert len({ssid for _, ssid in heard.values()}) == 16


def test_it_has_ended_when_closed(udp):
    made = Reflector(udp, ReflectorLimits(), SystemClock())
    made.open(HERE, HERE)
    made.close()
    assert not psutil.pid_exists(made.pid)


def test_while_it_is_dead_its_users_are_asked_to_wait_and_then_it_is_replaced(udp):
    clock = SimpleNamespace(monotonic_s=lambda: 0.0)
    with closing(Reflector(udp, ReflectorLimits(), clock)) as made:
        grant = made.open(HERE, HERE)
        os.kill(made.pid, signal.SIGKILL)
        made._process.wait(WAIT_S)
        with pytest.raises(RefusedRequest) as refused:
            made.report(grant.session)
        assert (refused.value.status, refused.value.refusal.code) == (503, "no-reflector")
        assert not made.tend()
        clock.monotonic_s = lambda: 60.0
        assert made.tend()
        assert made.report(grant.session) is None
        assert made.open(HERE, HERE) is not None
        assert not made.tend()


def test_one_that_never_answers_is_given_up(udp, monkeypatch):
    with closing(Reflector(udp, ReflectorLimits(), SystemClock())) as made:
        made.open(HERE, HERE)
        os.kill(made.pid, signal.SIGSTOP)
        os.waitpid(made.pid, os.WUNTRACED)
        monkeypatch.setattr(remote, "ANSWER_WITHIN_S", 0.05)
        with pytest.raises(RefusedRequest):
            made.open(HERE, HERE)
        assert ended(made.pid)


def test_a_system_that_gives_no_process_is_one_sentence(udp, monkeypatch):
    def refuse(*_arguments, **_options):
        raise BlockingIOError("no more processes")

    monkeypatch.setattr(remote.subprocess, "Popen", refuse)
    with pytest.raises(UsageError, match="cannot be started"):
        Reflector(udp, ReflectorLimits(), SystemClock())


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_it_dies_with_the_server_however_that_ends(number):
    command = [sys.executable, "-m", "agent", "serve", "--host", HERE, "--port", "0"]
    with subprocess.Popen(
        [*command, "--reflector-port", "0"], cwd=ROOT, stderr=subprocess.PIPE
    ) as server:
        try:
            assert b"Serving on" in server.stderr.readline()
            (child,) = psutil.Process(server.pid).children()
            server.send_signal(number)
            status = server.wait(WAIT_S)
            assert ended(child.pid)
        finally:
            server.kill()
        assert b"Traceback" not in server.stderr.read()
    assert status == (-signal.SIGKILL if number == signal.SIGKILL else 0)


def test_a_server_says_that_it_replaced_its_reflector(start):
    before = {child.pid for child in psutil.Process().children()}
    serving = start()
    (child,) = [c for c in psutil.Process().children() if c.pid not in before]
    child.kill()
    serving.logged("the reflector had ended; started another")
    assert serving.ask("POST", "/reflector")[0] == 201
