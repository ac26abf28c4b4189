"""One bounded reader for every message from outside: it never looks past the end."""

from __future__ import annotations

from typing import NoReturn, Self

from agent.errors import MalformedMessage

_Octets = bytes


class Reader:
    """Reads big-endian fields one after the other from bytes that may be hostile.

    `offset` counts from the first byte of the outermost message. Every method raises
    MalformedMessage, naming `message`, where fewer bytes are left than asked for.
    """

    __slots__ = ("_data", "_end", "_origin", "_position", "message")

    def __init__(self, data: _Octets, message: str = "message", *, origin: int = 0) -> None:
        self._data = data
        self._position = 0
        self._end = len(data)
        self._origin = origin
        self.message = message

    @property
    def offset(self) -> int:
        """Return where the next field starts."""
        return self._origin + self._position

    @property
    def remaining(self) -> int:
        """Return how many bytes are still unread."""
        return self._end - self._position

    def bytes(self, count: int) -> _Octets:
        """Return the next `count` bytes."""
        if not 0 <= count <= self.remaining:
            self.fail(f"{count} bytes are needed, {self.remaining} are left")
        start = self._position
        self._position += count
        return self._data[start : self._position]

    def u8(self) -> int:
        """Return the next byte as a number."""
        return self._number(1)

    def u16(self) -> int:
        """Return the next two bytes as a number."""
        return self._number(2)

    def u32(self) -> int:
        """Return the next four bytes as a number."""
        return self._number(4)

    def u64(self) -> int:
        """Return the next eight bytes as a number."""
        return self._number(8)

    def rest(self) -> _Octets:
        """Return everything that is left."""
        return self.bytes(self.remaining)

    def limited(self, count: int) -> Self:
        """Return a reader that sees only the next `count` bytes, and step over them."""
        origin = self.offset
        return type(self)(self.bytes(count), self.message, origin=origin)

    def fail(self, problem: str) -> NoReturn:
        """Raise MalformedMessage at the present place."""
        raise MalformedMessage(message=self.message, offset=self.offset, problem=problem)

    def _number(self, count: int) -> int:
        return int.from_bytes(self.bytes(count), "big")
