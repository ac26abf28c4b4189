"""The control connection of FTP by ftplib, tied to the tested line and bounded in time and size.

RFC 959 with the extended passive mode of RFC 2428. Data connections go to the far end of the
control connection and nowhere else, whatever address a reply names.
"""

from __future__ import annotations

import ftplib
import re
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from urllib.parse import unquote, urlsplit

from agent.engines.connecting import Deadline, Peer, translate
from agent.engines.http import HttpxEngine
from agent.errors import BadReply, CannotMeasure, ClosedEarly, ServerBusy

FTP_PORT = 21
MAX_LINE_BYTES = 1_024
MAX_REPLY_LINES = 100
# A reply of 421 names no time to wait (RFC 959 §4.2).
BUSY_WAIT_S = 10

_TOO_MANY = "421"
_CODE = re.compile(r"[1-5][0-5][0-9]")
_MORE = re.compile(r"[1-5][0-5][0-9]-")
_EXTENDED = re.compile(r"\(\|\|\|([0-9]{1,5})\|\)")
_PASSIVE = re.compile(r"[0-9]{1,3}(?:,[0-9]{1,3}){3},([0-9]{1,3}),([0-9]{1,3})")
_ANONYMOUS = "anonymous"


@dataclass(frozen=True, slots=True, kw_only=True)
class FtpTarget:
    """A URL's parts (RFC 1738 §3.2); the path is relative to where the login leads."""

    host: str
    port: int
    path: str
    user: str = field(default=_ANONYMOUS, repr=False)
    password: str = field(default="", repr=False)

    @classmethod
    def parse(cls, url: str) -> FtpTarget:
        """Return the target of an `ftp:` URL; raises BadReply, which never names a password."""
        try:
            parts = urlsplit(url)
            host, port = parts.hostname or "", parts.port or FTP_PORT
        except ValueError as error:
            raise BadReply(address="ftp", problem=f"not a usable URL: {error}") from None
        target = cls(
            host=host,
            port=port,
            path=unquote(parts.path.removeprefix("/")),
            user=unquote(parts.username or _ANONYMOUS),
            password=unquote(parts.password or ""),
        )
        if not host or not (target.path + target.user + target.password).isprintable():
            raise BadReply(address=host or "ftp", problem="not a usable FTP URL")
        return target


class BoundFtp(ftplib.FTP):
    """One control connection and the data connections it orders.

    `deadline` bounds the command under way and may be replaced between two. What ftplib and the
    system raise is translated where `answers` is around it.
    """

    def __init__(self, engine: HttpxEngine, peer: Peer, deadline: Deadline) -> None:
        super().__init__(encoding="utf-8")
        self._engine = engine
        self._peer = peer
        self._received = bytearray()
        self.deadline = deadline

    def reach(self) -> None:
        """Connect from the tested interface and take the greeting; raises CannotMeasure."""
        self.sock = self._engine.dial(self._peer, self.deadline)
        self.af = self.sock.family
        with self.answers():
            self.welcome = self.getresp()

    def enter(self, target: FtpTarget) -> None:
        """Log in and ask for octets as they are; raises CannotMeasure."""
        with self.answers():
            self.login(target.user, target.password)
            self.voidcmd("TYPE I")

    def length(self, path: str) -> int | None:
        """Return the size of a file (RFC 3659 §4), None where the server does not tell."""
        try:
            with self.answers():
                return self.size(path)
        except BadReply:
            return None

    def data(self) -> socket.socket:
        """Return a data connection to the same far end on a port that it chose."""
        with self.answers():
            port = self._passive_port()
        if not 0 < port < 65_536:
            raise BadReply(address=self._peer.address, problem=f"a passive reply with port {port}")
        return self._engine.dial(Peer(address=self._peer.address, port=port), self.deadline)

    def start(self, command: str) -> None:
        """Begin a transfer on the data connection made before; raises CannotMeasure."""
        with self.answers():
            reply = self.sendcmd(command)
            if not reply.startswith("1"):
                raise _refusal(self._peer.address, reply)

    def done(self) -> None:
        """Take the reply that ends a transfer; raises CannotMeasure where it is no success."""
        with self.answers():
            self.voidresp()

    def remove(self, path: str) -> None:
        """Delete what was uploaded; raises CannotMeasure."""
        with self.answers():
            self.delete(path)

    def _passive_port(self) -> int:
        """Return the port of a passive reply: RFC 2428 §3, for IPv4 else RFC 959 §4.1.2."""
        try:
            found = _EXTENDED.search(self.sendcmd("EPSV"))
        except ftplib.error_perm:
            if self._peer.family == 6:
                raise
        else:
            if found:
                return int(found[1])
        found = _PASSIVE.search(self.sendcmd("PASV"))
        if found is None:
            raise BadReply(address=self._peer.address, problem="a passive reply without a port")
        return int(found[1]) << 8 | int(found[2])

    def putline(self, line: str) -> None:
        """Send one command line."""
        assert self.sock is not None
        self.sock.settimeout(self.deadline.left_s(self._peer.address))
        super().putline(line)

    def getline(self) -> str:
        """Return one line of a reply; raises EOFError at the end of the connection."""
        assert self.sock is not None
        while b"\n" not in self._received:
            if len(self._received) > MAX_LINE_BYTES:
                raise BadReply(address=self._peer.address, problem="an FTP line without end")
            self.sock.settimeout(self.deadline.left_s(self._peer.address))
            data = self.sock.recv(MAX_LINE_BYTES)
            if not data:
                raise EOFError
            self._received += data
        line, _, rest = bytes(self._received).partition(b"\n")
        self._received = bytearray(rest)
        return line.decode("latin-1").rstrip("\r")

    def getmultiline(self) -> str:
        """Return one reply of a bounded number of lines (RFC 959 §4.2)."""
        first = line = self.getline()
        lines = 1
        while _MORE.match(first) and line[:4] != f"{first[:3]} ":
            lines += 1
            if lines > MAX_REPLY_LINES:
                raise BadReply(address=self._peer.address, problem="an FTP reply without end")
            line = self.getline()
        return first

    @contextmanager
    def answers(self) -> Iterator[None]:
        """Translate what goes wrong inside into our own errors; no reply's text is repeated."""
        address = self._peer.address
        try:
            yield
        except EOFError as error:
            raise ClosedEarly(address=address, bytes=0) from error
        except ftplib.Error as error:
            raise _refusal(address, str(error)) from None
        except OSError as error:
            raise translate(error, address, after_s=self.deadline.within_s) from error
        except (ValueError, OverflowError):
            raise BadReply(address=address, problem="an FTP reply that cannot be read") from None


def _refusal(address: str, reply: str) -> CannotMeasure:
    """Return our error for a reply; its text stays out, since it may repeat a login."""
    code = reply[:3]
    if code == _TOO_MANY:
        return ServerBusy(address=address, wait_s=BUSY_WAIT_S)
    told = f"FTP reply {code}" if _CODE.fullmatch(code) else "not FTP"
    return BadReply(address=address, problem=told)
