"""Addresses leave the body: each becomes a token, and only the private part knows its value."""

from __future__ import annotations

import ipaddress
import math
import re
from collections.abc import Callable, Iterator, Mapping

TOKEN = re.compile(r"address:\d+")

# Candidates only: what looks like an address must also parse as one.
_CANDIDATE = re.compile(
    r"(?P<hardware>(?<![\w:-])[0-9A-Fa-f]{2}([:-])(?:[0-9A-Fa-f]{2}\2){4}[0-9A-Fa-f]{2}(?![\w-]|:[0-9A-Fa-f]))"
    r"|(?P<v6>(?<![\w.])(?=[0-9A-Fa-f]*:[0-9A-Fa-f]*:)"
    r"(?:[0-9A-Fa-f:]*:(?:\d{1,3}\.){3}\d{1,3}|[0-9A-Fa-f:]+)(?:%[\w-]+)?(?!\w))"
    r"|(?P<v4>(?<![\w.])(?:\d{1,3}\.){3}\d{1,3}(?!\w|\.\d))"
)

# RFC 8785 §3.2.2.3 bounds whole numbers by IEEE 754 doubles (I-JSON, RFC 7493 §2.2).
LARGEST_WHOLE = 2**53 - 1


class Tokens:
    """Hands out one token per distinct value, in order of first appearance."""

    def __init__(self, names: frozenset[str], known: Mapping[str, str]) -> None:
        self._names = names
        self._token = {value: token for token, value in known.items()}

    def values(self) -> dict[str, str]:
        """Return the value of each token."""
        return {token: value for value, token in self._token.items()}

    def hide(self, text: str) -> str:
        """Return the text with every address in it replaced.

        A text that looks like a token already is hidden whole, or `shown` could not be exact.
        """
        if text in self._names or TOKEN.search(text):
            return self._of(text)
        return _CANDIDATE.sub(self._replace, text)

    def _replace(self, match: re.Match[str]) -> str:
        text = match.group()
        if match.lastgroup == "hardware" or _is_address(text):
            return self._of(text)
        # What follows a colon may not belong to it: "fe80::1: refused".
        head, _, tail = text.rpartition(":")
        return f"{self._of(head)}:{tail}" if _is_address(head) else text

    def _of(self, value: str) -> str:
        return self._token.setdefault(value, f"address:{len(self._token) + 1}")


def hidden(body: object, known: Mapping[str, str] | None = None) -> tuple[object, dict[str, str]]:
    """Return the body without addresses and hop names, and the value of each token.

    `known` holds tokens given out before, which are used again for their values.
    """
    tokens = Tokens(frozenset(hop_names(body)), known or {})
    return mapped(body, tokens.hide), tokens.values()


def shown(body: object, addresses: Mapping[str, str]) -> object:
    """Return the body with every token that has a value replaced by it."""

    def reveal(text: str) -> str:
        return TOKEN.sub(lambda match: addresses.get(match.group(), match.group()), text)

    return mapped(body, reveal)


def mapped(node: object, change: Callable[[str], str]) -> object:
    """Return a copy of a JSON value with every string, names of members included, changed."""
    if isinstance(node, str):
        return change(node)
    if isinstance(node, Mapping):
        return {change(str(key)): mapped(value, change) for key, value in node.items()}
    if isinstance(node, list | tuple):
        return [mapped(value, change) for value in node]
    return node


def plain(node: object) -> object:
    """Return a JSON value that the canonical form can hold: finite numbers, whole characters."""
    if isinstance(node, str):
        return node.encode("utf-8", "replace").decode()
    if isinstance(node, float) and not math.isfinite(node):
        return None
    if isinstance(node, int) and abs(node) > LARGEST_WHOLE:
        return float(node) if abs(node) < 1e300 else None
    if isinstance(node, Mapping):
        return {str(plain(str(key))): plain(value) for key, value in node.items()}
    if isinstance(node, list | tuple):
        return [plain(value) for value in node]
    return node


def hop_names(body: object) -> Iterator[str]:
    """Yield every host name that a hop walk found."""
    if not isinstance(body, Mapping):
        return
    for measurement in _items(body.get("measurements")):
        for pair in _items(_member(measurement, "observed", "names")):
            yield from (text for text in _items(pair)[1:] if isinstance(text, str) and text)
        for hop in _items(_member(measurement, "statistics", "hops")):
            names = _items(_member(hop, "names"))
            yield from (text for text in names if isinstance(text, str) and text)


def _items(node: object) -> list[object]:
    return list(node) if isinstance(node, list | tuple) else []


def _member(node: object, *path: str) -> object:
    for name in path:
        node = node.get(name) if isinstance(node, Mapping) else None
    return node


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True
