"""The system bus: questions to services that already run, all answered within one short time.

jeepney writes and reads the messages. Its own connection waits for the first answer without end,
so the socket is ours, and every wait on it ends at one deadline.
"""

from __future__ import annotations

import socket
import time
from contextlib import ExitStack
from pathlib import Path
from types import TracebackType
from typing import Any, Self

PLACE = "run/dbus/system_bus_socket"
"""D-Bus specification, "Well-known Message Bus Instances": below /var/run, a link to /run."""

WITHIN_S = 0.5
MOST_BYTES = 1 << 20
CHUNK = 1 << 16
PROPERTIES = "org.freedesktop.DBus.Properties"


class SystemBus:
    """A connection to the bus under `root`; see `connect`."""

    def __init__(self, sock: socket.socket, deadline: float) -> None:
        from jeepney import Parser  # noqa: PLC0415 - only where there is a bus

        self._sock = sock
        self._deadline = deadline
        self._parser = Parser()
        self._serial = 0
        self._read = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._sock.close()

    def call(
        self, service: str, path: str, member: str, *arguments: object, signature: str = ""
    ) -> tuple[Any, ...] | None:
        """Return what a method of a running service answers, None where it refuses.

        `member` is the interface and the method. Nothing is started by asking. Raises OSError and
        its TimeoutError, ValueError for a malformed answer.
        """
        from jeepney import DBusAddress, MessageFlag, new_method_call  # noqa: PLC0415 - as above

        interface, _, method = member.rpartition(".")
        address = DBusAddress(path, bus_name=service, interface=interface)
        message = new_method_call(address, method, signature or None, arguments)
        message.header.flags |= MessageFlag.no_auto_start
        self._serial += 1
        self._wait()
        self._sock.sendall(message.serialise(serial=self._serial))
        return self._answer(self._serial)

    def properties(self, service: str, path: str, interface: str) -> dict[str, Any]:
        """Return all properties of an object, without their type signatures; none where refused."""
        member = f"{PROPERTIES}.GetAll"
        answer = self.call(service, path, member, interface, signature="s")
        found = plain(answer[0]) if answer else {}
        return found if isinstance(found, dict) else {}

    def _answer(self, serial: int) -> tuple[Any, ...] | None:
        from jeepney import HeaderFields, MessageType  # noqa: PLC0415 - as above

        while True:
            message = self._parser.get_next_message()
            if message is None:
                self._wait()
                self._take(self._sock.recv(CHUNK))
            elif message.header.fields.get(HeaderFields.reply_serial) == serial:
                good = message.header.message_type is MessageType.method_return
                return tuple(message.body) if good else None

    def _take(self, data: bytes) -> None:
        self._read += len(data)
        if not data or self._read > MOST_BYTES:
            raise ConnectionResetError
        self._parser.add_data(data, fds=[])

    def _wait(self) -> None:
        left = self._deadline - time.monotonic()
        if left <= 0:
            raise TimeoutError
        self._sock.settimeout(left)


def connect(root: Path, within_s: float = WITHIN_S) -> SystemBus:
    """Return a connection to the bus whose every wait ends `within_s` from now.

    Raises OSError and its TimeoutError where there is no bus, or none that lets us in.
    """
    place = root / PLACE
    if not place.is_socket():
        raise FileNotFoundError
    from jeepney.auth import AuthenticationError  # noqa: PLC0415 - only where there is a bus
    from jeepney.io.blocking import prep_socket  # noqa: PLC0415 - as above

    deadline = time.monotonic() + within_s
    with ExitStack() as kept:
        try:
            sock = kept.enter_context(prep_socket(str(place), timeout=within_s))
        except AuthenticationError as error:
            raise ConnectionRefusedError from error
        bus = SystemBus(sock, deadline)
        bus.call("org.freedesktop.DBus", "/org/freedesktop/DBus", "org.freedesktop.DBus.Hello")
        kept.pop_all()
    return bus


def plain(value: object) -> object:
    """Return a value of jeepney's without the signatures of its variants."""
    if isinstance(value, tuple) and len(value) == 2 and isinstance(value[0], str):
        return plain(value[1])
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    return [plain(inner) for inner in value] if isinstance(value, list) else value
