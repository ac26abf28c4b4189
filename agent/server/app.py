"""The operator's server as one call: it serves until it is told to stop."""

from __future__ import annotations

import select
import socket
import ssl
import threading
from collections.abc import Callable
from contextlib import ExitStack, closing

from agent.errors import UsageError, printable
from agent.server.answering import Answering
from agent.server.answers import of_refusal, write_answer
from agent.server.connection import Connection
from agent.server.listening import (
    ServerAddress,
    address_of,
    congestion_control,
    open_answering,
    open_sockets,
)
from agent.server.options import Patience, ReflectorLimits, ServeOptions
from agent.server.payload import Payload
from agent.server.peer import Peer
from agent.server.port import interface_of
from agent.server.refusal import RefusedRequest
from agent.server.remote import Reflector
from agent.server.site import Site
from agent.server.wire import SecureWire, Wire

__all__ = ["Patience", "ReflectorLimits", "ServeOptions", "ServerAddress", "serve"]

TICK_S = 0.1
# How often the server looks at its own load and at its reflector.
TEND_S = 1.0
JOIN_S = 10.0
# A client's connections beyond its transfers: cards, receipts, reflector sessions.
SPARE_CONNECTIONS = 48
TOO_MANY = write_answer(
    of_refusal(RefusedRequest(503, "too-many-connections", wait_s=5.0)), keep=False
)


def serve(
    options: ServeOptions,
    ready: Callable[[ServerAddress], None] | None = None,
    stop: threading.Event | None = None,
) -> None:
    """Serve until `stop` is set; `ready` is told the address once clients can connect.

    Every socket is closed, every thread and the reflector's process have ended on return. Raises
    UsageError where the address or the certificate cannot be used.
    """
    context = _tls(options)
    tcp, udp = open_sockets(options)
    with (
        ExitStack() as answering,
        closing(tcp),
        closing(udp),
        Payload() as payload,
        closing(Reflector(udp, options.reflector, options.clock)) as reflector,
    ):
        ports = open_answering(options)
        if ports is not None:
            answering.enter_context(Answering(*ports, options.clock))
        site = Site(
            options,
            payload,
            reflector,
            interface=interface_of(tcp.getsockname()[0]),
            congestion_control=congestion_control(tcp),
            answer_port=None if ports is None else ports[0].getsockname()[1],
        )
        address = address_of(tcp, udp, secure=context is not None, capacity_bps=site.capacity_bps)
        _Server(site, tcp, context, stop or threading.Event()).run(address, ready)


class _Server:
    """The threads of one server: one accepts and looks after the rest, one for each connection."""

    def __init__(
        self,
        site: Site,
        tcp: socket.socket,
        context: ssl.SSLContext | None,
        stop: threading.Event,
    ) -> None:
        self._site = site
        self._tcp = tcp
        self._context = context
        self._stop = stop
        self._ending = threading.Event()
        self._lock = threading.Lock()
        self._open: dict[threading.Thread, tuple[Wire, str]] = {}

    def run(self, address: ServerAddress, ready: Callable[[ServerAddress], None] | None) -> None:
        """Serve until told to stop; every thread has ended on return."""
        try:
            if ready is not None:
                ready(address)
            self._accept_until_stopped()
        finally:
            self._ending.set()
            self._end_connections()

    def _accept_until_stopped(self) -> None:
        tended_s = 0.0
        poll = select.poll()
        poll.register(self._tcp, select.POLLIN)
        while not self._stop.is_set():
            now_s = self._site.now_s()
            if now_s - tended_s >= TEND_S:
                self._site.tend(now_s)
                tended_s = now_s
            if poll.poll(TICK_S * 1000):
                self._accept()

    def _accept(self) -> None:
        try:
            sock, sockaddr = self._tcp.accept()
        except BlockingIOError:
            return
        except OSError as error:
            self._site.options.log(printable(f"cannot accept: {error}"))
            self._ending.wait(TICK_S)
            return
        self._take(sock, Peer.of(sockaddr))

    def _take(self, sock: socket.socket, peer: Peer) -> None:
        """Give a connection its thread, or turn it away."""
        try:
            wire = self._wire(sock)
        except OSError:
            sock.close()
            return
        if self._has_room(peer.client):
            self._start(wire, peer)
        else:
            self._site.note(peer, "closed: too many connections")
            wire.turn_away(TOO_MANY)

    def _has_room(self, client: str) -> bool:
        with self._lock:
            own = [held for _, held in self._open.values()].count(client)
            total = len(self._open)
        options = self._site.options
        return total < options.max_connections and own < options.max_flows + SPARE_CONNECTIONS

    def _start(self, wire: Wire, peer: Peer) -> None:
        thread = threading.Thread(target=self._serve, args=(wire, peer), daemon=True)
        with self._lock:
            self._open[thread] = (wire, peer.client)
        try:
            thread.start()
        except RuntimeError:
            self._forget(thread, wire)
            self._site.note(peer, "closed: this system gives no more threads")

    def _serve(self, wire: Wire, peer: Peer) -> None:
        try:
            Connection(self._site, wire, peer).serve()
        except Exception as error:  # noqa: BLE001 - one connection's fault never ends the server
            self._site.note(peer, f"fault: {type(error).__name__} {error}")
        finally:
            self._forget(threading.current_thread(), wire)

    def _forget(self, thread: threading.Thread, wire: Wire) -> None:
        wire.close()
        with self._lock:
            del self._open[thread]

    def _wire(self, sock: socket.socket) -> Wire:
        clock = self._site.options.clock
        if self._context is None:
            return Wire(sock, clock)
        return SecureWire(sock, clock, self._context)

    def _end_connections(self) -> None:
        with self._lock:
            held = dict(self._open)
        for wire, _ in held.values():
            wire.abort()
        by_s = self._site.now_s() + JOIN_S
        for thread in held:
            thread.join(max(0.0, by_s - self._site.now_s()))


def _tls(options: ServeOptions) -> ssl.SSLContext | None:
    if options.certificate is None:
        return None
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.set_alpn_protocols(["http/1.1"])
    try:
        context.load_cert_chain(options.certificate, options.key)
    except OSError as error:
        raise UsageError(
            problem=f"The certificate {options.certificate} cannot be used: {error}.",
            remedy="Give a PEM chain and its private key.",
        ) from error
    return context
