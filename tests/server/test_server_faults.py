"""What goes wrong inside or around the server ends one connection at most."""

import errno
import os
import threading
from types import SimpleNamespace

import pytest

from agent.server import app, connection, load, site
from agent.server.app import ServeOptions
from agent.server.head import Request
from agent.server.peer import Peer
from agent.server.refusal import RefusedRequest

ASK = b"GET /card HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
PEER = Peer(address="203.0.113.7", port=4000, client="203.0.113.7")


def quiet_site(**chosen):
    """Return a site with no socket behind it."""
    return site.Site(ServeOptions(**chosen), payload=None, reflector=SimpleNamespace(port=1))


@pytest.mark.loopback
def test_a_fault_of_ours_is_logged_and_ends_one_connection_only(start, monkeypatch):
    serving = start()
    with monkeypatch.context() as broken:
        broken.setattr(connection, "small_answer", lambda *_: 1 // 0)
        assert serving.raw(ASK) == b""
    serving.logged("fault: ZeroDivisionError")
    assert serving.raw(ASK).startswith(b"HTTP/1.1 200 OK")


@pytest.mark.loopback
def test_a_system_out_of_threads_closes_the_connection_and_serves_the_next(start, monkeypatch):
    serving = start()
    really_start = threading.Thread.start

    def refuse(thread):
        if thread._target.__name__ == "_serve":
            raise RuntimeError("can't start new thread")
        really_start(thread)

    with monkeypatch.context() as short:
        short.setattr(threading.Thread, "start", refuse)
        assert serving.socket().recv(1) == b""
    serving.logged("no more threads")
    assert serving.raw(ASK).startswith(b"HTTP/1.1 200 OK")


def test_a_system_out_of_descriptors_is_logged_and_waited_out():
    class Exhausted:
        def accept(self):
            raise OSError(errno.EMFILE, os.strerror(errno.EMFILE))

    lines = []
    place = site.Site(
        ServeOptions(log=lines.append), payload=None, reflector=SimpleNamespace(port=1)
    )
    server = app._Server(place, Exhausted(), None, threading.Event())
    server._ending.set()
    server._accept()
    assert lines == ["cannot accept: [Errno 24] Too many open files"]


@pytest.mark.loopback
def test_a_small_body_that_never_comes_ends_the_connection(start):
    serving = start()
    request = b"POST /reflector HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n\r\n{}"
    assert serving.raw(request, end=True) == b""
    serving.logged("gone: ConnectionResetError")


def test_a_log_line_holds_no_control_characters():
    lines = []
    place = site.Site(
        ServeOptions(log=lines.append), payload=None, reflector=SimpleNamespace(port=1)
    )
    place.note(PEER, "bad \x1b[31m\n line")
    assert len(lines) == 1
    assert lines[0].isprintable()


def test_a_busy_processor_keeps_new_clients_waiting_but_not_the_one_being_served(monkeypatch):
    spent = iter([10.0, 11.9])
    monkeypatch.setattr(
        load.os, "times", lambda: SimpleNamespace(user=next(spent), system=0.0), raising=True
    )
    monkeypatch.setattr(load, "_processors", lambda: 2)
    place = quiet_site(busy_ratio=0.9)
    place.processor.read(100.0)
    assert place.processor.ratio is None
    place.processor.read(101.0)
    assert place.processor.ratio == pytest.approx(0.95)
    ask = Request(method="GET", path="/download")
    place.admit(PEER, ask)
    place.admit(PEER, ask)
    other = Peer(address="203.0.113.8", port=4000, client="203.0.113.8")
    with pytest.raises(RefusedRequest) as refused:
        place.admit(other, ask)
    assert refused.value.status == 503
    assert refused.value.refusal.code == "busy"
    assert place.card(other, ask).load.wait_s >= 1.0
    assert place.card(PEER, ask).load.wait_s == 0.0
