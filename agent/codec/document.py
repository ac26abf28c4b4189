"""Bounded JSON documents from outside: read into plain values, then taken member by member.

Every fault, whatever its kind, is a MalformedMessage that names the member.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any, Never, TypeVar

from agent.errors import MalformedMessage

MAX_BYTES = 1_048_576
MAX_TEXT = 300
# The largest integer that every JSON reader keeps exactly (RFC 8259 §6).
MAX_WHOLE = 2**53 - 1

T = TypeVar("T")


class Document:
    """The members of one JSON object, each taken with its type and range.

    Members that nobody takes are ignored, so that a newer server stays readable.
    """

    def __init__(self, members: Mapping[str, Any], message: str, path: str = "") -> None:
        self._members = members
        self._message = message
        self._path = path

    def refuse(self, name: str, problem: str) -> Never:
        """Raise MalformedMessage for one member."""
        where = f"{self._path}{name}"
        raise MalformedMessage(message=self._message, offset=0, problem=f"{where} {problem}")

    def whole(self, name: str, least: int = 0, most: int = MAX_WHOLE) -> int:
        """Return an integer within bounds."""
        return self._whole(name, self._member(name), least, most)

    def number(self, name: str, least: float = 0.0, most: float = 1e15) -> float:
        """Return a finite number within bounds, as float."""
        value = self._member(name)
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.refuse(name, "is not a number")
        if not least <= value <= most:
            self.refuse(name, "is out of range")
        return float(value)

    def truth(self, name: str) -> bool:
        """Return true or false."""
        value = self._member(name)
        if not isinstance(value, bool):
            self.refuse(name, "is not true or false")
        return value

    def text(self, name: str, most: int = MAX_TEXT) -> str:
        """Return one line of printable text, 1 to `most` characters."""
        value = self._member(name)
        if not isinstance(value, str) or not 1 <= len(value) <= most or not value.isprintable():
            self.refuse(name, f"is not one line of 1 to {most} printable characters")
        return value

    def wholes(self, name: str, most_items: int) -> tuple[int, ...]:
        """Return a list of integers >= 0, at most `most_items` of them."""
        items = self._items(name, self._member(name), most_items)
        return tuple(self._whole(name, item, 0, MAX_WHOLE) for item in items)

    def pairs(self, name: str, most_items: int) -> tuple[tuple[int, int], ...]:
        """Return a list of pairs of integers >= 0, at most `most_items` of them."""
        items = self._items(name, self._member(name), most_items)
        return tuple(self._pair(name, item) for item in items)

    def inner(self, name: str) -> Document:
        """Return a member that is itself an object."""
        value = self._member(name)
        if not isinstance(value, dict):
            self.refuse(name, "is not an object")
        return Document(value, self._message, f"{self._path}{name}.")

    def maybe(self, name: str, take: Callable[[str], T]) -> T | None:
        """Return what `take` reads, None where the member is absent or null."""
        return None if self._members.get(name) is None else take(name)

    def _member(self, name: str) -> Any:
        if name not in self._members:
            self.refuse(name, "is missing")
        return self._members[name]

    def _whole(self, name: str, value: Any, least: int, most: int) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            self.refuse(name, "is not a whole number")
        if not least <= value <= most:
            self.refuse(name, "is out of range")
        return value

    def _items(self, name: str, value: Any, most: int) -> list[Any]:
        if not isinstance(value, list) or len(value) > most:
            self.refuse(name, f"is not a list of at most {most} items")
        return value

    def _pair(self, name: str, item: Any) -> tuple[int, int]:
        if not isinstance(item, list) or len(item) != 2:
            self.refuse(name, "is not a list of pairs")
        first, second = (self._whole(name, value, 0, MAX_WHOLE) for value in item)
        return first, second


def read_document(data: bytes, message: str, max_bytes: int = MAX_BYTES) -> Document:
    """Return the members of a JSON object in UTF-8 (RFC 8259).

    Raises MalformedMessage for anything else: too long, too deep, a member twice, NaN.
    """

    def refuse(problem: str, offset: int = 0) -> Never:
        raise MalformedMessage(message=message, offset=offset, problem=problem)

    if len(data) > max_bytes:
        refuse(f"longer than {max_bytes} bytes", max_bytes)
    try:
        value = json.loads(
            data.decode("utf-8"), parse_constant=_no_constant, object_pairs_hook=_once
        )
    except json.JSONDecodeError as error:
        refuse("not JSON", error.pos)
    except UnicodeDecodeError as error:
        refuse("not UTF-8", error.start)
    except RecursionError:
        refuse("too deep")
    except ValueError as error:
        refuse(str(error))
    if not isinstance(value, dict):
        refuse("not an object")
    return Document(value, message)


def write_document(document: Mapping[str, object]) -> bytes:
    """Return an object as compact JSON in ASCII; a value that JSON cannot hold is a ValueError."""
    return json.dumps(document, allow_nan=False, separators=(",", ":")).encode("ascii")


def _no_constant(name: str) -> Never:
    raise ValueError(f"{name} is no number")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        raise ValueError("a member stands twice")
    return members
