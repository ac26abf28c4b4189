"""What the settings allow, in words: read from the published schema, never written twice."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from typing import Any

from agent.settings.schema import json_schema

Node = dict[str, Any]

_RATE = "bit/s; 100 Mbit/s is 100_000_000"
_UNITS = {
    "bps": _RATE,
    "s": "seconds",
    "ms": "milliseconds",
    "bytes": "bytes",
    "ratio": "a share, 1 is all",
}
_KINDS = {
    "integer": "a whole number",
    "number": "a number",
    "boolean": "true or false",
    "object": "a table",
}
_FOREIGN = {
    "bps": {"kbps": 1e3, "mbps": 1e6, "gbps": 1e9, "kbit": 1e3, "mbit": 1e6, "gbit": 1e9},
    "s": {"ms": 1e-3, "us": 1e-6, "min": 60.0, "sec": 1.0, "seconds": 1.0},
    "ms": {"s": 1e3, "us": 1e-3, "sec": 1e3},
    "bytes": {"kb": 1e3, "mb": 1e6, "kib": 1024.0, "mib": 1024.0**2, "bits": 0.125},
    "ratio": {"percent": 0.01, "pct": 0.01},
}


def node_at(location: Sequence[str | int]) -> Node:
    """Return the schema of a place; empty where the schema knows no such place.

    A location that ends in `[key]` means the name before it, not what it names.
    """
    if location and location[-1] == "[key]":
        return _resolved(dict(node_at(location[:-2]).get("propertyNames", {})))
    node: Node = json_schema()
    for part in location:
        node = _step(_resolved(node), part)
    return _resolved(node)


def keys_at(location: Sequence[str | int]) -> tuple[str, ...]:
    """Return the keys that a table at this place may hold."""
    return tuple(node_at(location).get("properties", {}))


def in_words(node: Node, key: str = "") -> str:
    """Return what a schema node allows, with the unit that the key's ending names."""
    options = [_resolved(option) for option in node.get("anyOf", ()) if _says(option)]
    if options:
        return " or ".join(in_words(option, key) for option in options)
    unit = _UNITS.get(key.rpartition("_")[2] if "_" in key else "")
    words = _enumeration(node) or _kind(node)
    return f"{words} ({unit})" if unit else words


def choices(node: Node, wanted: str) -> str:
    """Return the values a node lists, and which of them was probably meant."""
    close = closest(wanted, [str(value) for value in node.get("enum", ())], 1)
    return f"{in_words(node)}; did you mean {close[0]}?" if close else in_words(node)


def suggestion(key: str, value: object, known: Sequence[str]) -> str:
    """Return what an unknown key was probably meant to be, else the keys there are."""
    for candidate in known:
        factor = _conversion(key, candidate)
        if factor is not None:
            return _in_our_unit(candidate, value, factor)
    close = closest(key, known, 1)
    return f"did you mean {close[0]}?" if close else f"one of {', '.join(known)}"


def closest(wanted: str, known: Sequence[str], count: int) -> list[str]:
    """Return known names near a wanted one, the nearest first."""
    return difflib.get_close_matches(wanted, known, count, cutoff=0.6)


def number(value: float) -> str:
    """Return a number as a settings file would write it."""
    return f"{int(value):_}" if float(value).is_integer() else f"{value:g}"


def _resolved(node: Node) -> Node:
    while "$ref" in node:
        node = json_schema()["$defs"][node["$ref"].rpartition("/")[2]]
    options = [option for option in node.get("anyOf", ()) if _says(option)]
    return _resolved(options[0]) if len(options) == 1 else node


def _says(option: Node) -> bool:
    return option.get("type") != "null"


def _step(node: Node, part: str | int) -> Node:
    if isinstance(part, int):
        return dict(node.get("items", {}))
    inner = node.get("properties", {}).get(part) or node.get("additionalProperties")
    return dict(inner) if isinstance(inner, dict) else {}


def _enumeration(node: Node) -> str:
    if "const" in node:
        return f'"{node["const"]}"'
    return ", ".join(f'"{value}"' for value in node.get("enum", ()))


def _kind(node: Node) -> str:
    kind = str(node.get("type"))
    if kind == "string":
        return _text(node)
    if kind == "array":
        return f"a list in [ ], each {in_words(_resolved(dict(node.get('items', {}))))}"
    return f"{_KINDS.get(kind, 'a value of another kind')}{_bounds(node)}"


def _text(node: Node) -> str:
    if "description" in node:
        return str(node["description"])
    longest = node.get("maxLength")
    size = f" of 1 to {longest} characters" if longest else ""
    pattern = f" of the form {node['pattern']}" if "pattern" in node else ""
    return f'a text in "quotes"{size}{pattern}'


def _bounds(node: Node) -> str:
    signs = {"minimum": "≥", "exclusiveMinimum": ">", "maximum": "≤", "exclusiveMaximum": "<"}
    shown = [f"{sign} {number(node[name])}" for name, sign in signs.items() if name in node]
    return f" {' and '.join(shown)}" if shown else ""


def _conversion(key: str, candidate: str) -> float | None:
    """Return the factor from a key's unit to its candidate's: 0 for no unit, None for no pair."""
    stem, _, unit = candidate.rpartition("_")
    if key == stem and unit in _UNITS:
        return 0.0
    name, _, foreign = key.lower().rpartition("_")
    return _FOREIGN.get(unit, {}).get(foreign) if name == stem else None


def _in_our_unit(candidate: str, value: object, factor: float) -> str:
    unit = _UNITS[candidate.rpartition("_")[2]]
    if factor and isinstance(value, int | float) and not isinstance(value, bool):
        return f"{candidate} = {number(value * factor)} ({unit})"
    return f"{candidate} ({unit})"
