"""What the attributes of a drawing may say: each rule returns a value as it is kept, or None.

Sections are those of the W3C's SVG 1.1 (Second Edition). What could reach outside the drawing, or
cost far more to draw than to write, has no rule: no address, no dash pattern, no script, no face.
"""

from __future__ import annotations

import re
from collections.abc import Callable

Rule = Callable[[str], str | None]

NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?"
MOST = 1e6
"""The largest number; beyond it what draws the picture would run out of digits."""

NAME = r"[A-Za-z_][A-Za-z0-9_.-]{0,63}"
"""Identifiers as XML has them (Extensible Markup Language 1.0 §2.3), in ASCII alone."""

PX_OF = {
    "": 1.0,
    "px": 1.0,
    "pt": 96 / 72,
    "pc": 16.0,
    "in": 96.0,
    "cm": 96 / 2.54,
    "mm": 96 / 25.4,
}
"""Absolute units (§7.10), the pixel as CSS 2.1 §4.3.2 fixes it."""

_NUMBER = re.compile(NUMBER)
_LENGTH = re.compile(rf"({NUMBER})(px|pt|pc|in|cm|mm|%)?")
_PATH_REST = frozenset("MmZzLlHhVvCcSsQqTtAa, \t\r\n")
_LIST_REST = frozenset(", \t\r\n")
_STEP = re.compile(
    r"(matrix|translate|scale|rotate|skewX|skewY)[ \t\r\n]*\(([^()]{1,400})\)[, \t\r\n]*"
)
_COLOUR = re.compile(
    r"#(?:[0-9a-fA-F]{3,4}|[0-9a-fA-F]{6}|[0-9a-fA-F]{8})"
    r"|[A-Za-z]{3,24}"
    r"|rgba?\([0-9., %]{5,40}\)"
)
_LINK = re.compile(rf"url\([ \t]*[\"']?#({NAME})[\"']?[ \t]*\)[ \t]*(.{{0,60}})")


def one_line(text: str) -> str:
    """Return a text with single blanks for all white space."""
    return " ".join(text.split())


def numbers(text: str) -> list[float] | None:
    """Return the numbers of a list, None where anything else is in it."""
    return _found(text, _LIST_REST)


def size(text: str) -> float | None:
    """Return an absolute length in pixels, None where it is none."""
    length = _LENGTH.fullmatch(text.strip())
    if length is None or (length[2] or "") not in PX_OF:
        return None
    value = float(length[1]) * PX_OF[length[2] or ""]
    return value if abs(value) <= MOST else None


def length(text: str) -> str | None:
    """A length or a share (§7.10)."""
    found = _LENGTH.fullmatch(text.strip())
    return found[0] if found and abs(float(found[1])) <= MOST else None


def path(text: str) -> str | None:
    """Path data (§8.3); what draws it stops at a fault of its grammar, as that section says."""
    return one_line(text) if _found(text, _PATH_REST) else None


def points(text: str) -> str | None:
    """A list of points (§9.7.1)."""
    return one_line(text) if numbers(text) else None


def transform(text: str) -> str | None:
    """A list of transformations (§7.6)."""
    at, steps = 0, []
    stripped = text.strip()
    while at < len(stripped):
        step = _STEP.match(stripped, at)
        values = numbers(step[2]) if step else None
        if step is None or not values:
            return None
        steps.append(f"{step[1]}({one_line(step[2])})")
        at = step.end()
    return " ".join(steps) or None


def colour(text: str) -> str | None:
    """A colour (§4.2): by name, in hexadecimal, or by red, green and blue."""
    said = one_line(text)
    return said if _COLOUR.fullmatch(said) else None


def paint(text: str) -> str | None:
    """A colour, none, or a gradient of the same drawing and what stands in for it (§11.2)."""
    link = _LINK.fullmatch(one_line(text))
    if link is None:
        return colour(text)
    return f"url(#{link[1]}) {colour(link[2]) or 'none'}"


def clip(text: str) -> str | None:
    """A clipping path of the same drawing (§14.3.5)."""
    link = _LINK.fullmatch(one_line(text))
    return f"url(#{link[1]})" if link and not link[2] else None


def linked(value: str) -> str | None:
    """Return the identifier that a kept value leads to, None where it leads nowhere."""
    link = _LINK.match(value)
    return link[1] if link else None


def stand_in(value: str) -> str:
    """Return what a kept paint is without the gradient it leads to."""
    link = _LINK.match(value)
    return link[2] if link else value


def identifier(text: str) -> str | None:
    """A name by which a gradient or a clipping path is found."""
    return text if re.fullmatch(NAME, text) else None


def word(*known: str) -> Rule:
    """Return the rule of an attribute that takes some words."""

    def rule(text: str) -> str | None:
        return text.strip() if text.strip() in known else None

    return rule


def _found(text: str, rest: frozenset[str]) -> list[float] | None:
    """Return the numbers of a text, None where one is too large or `rest` lacks what is left."""
    found = [float(number) for number in _NUMBER.findall(text)]
    if not rest.issuperset(_NUMBER.sub("", text)) or any(abs(n) > MOST for n in found):
        return None
    return found
