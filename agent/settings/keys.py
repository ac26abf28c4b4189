"""Key paths of the settings: how they are written, read and compared.

A document is held with its named lists as tables by name: `[[tiers]]` entries become
`{"tiers": {"Tern Bay 100/20": {...}}}`, so that a path is a tuple of texts and merging is one
rule. `listed` turns it back into the shape that the settings model reads.
"""

from __future__ import annotations

import json
import re
import tomllib
import unicodedata
from collections.abc import Iterator

Document = dict[str, object]
Path = tuple[str, ...]

NAMED: tuple[Path, ...] = (
    ("plans",),
    ("tiers",),
    ("targets", "web"),
    ("targets", "encrypted"),
    ("targets", "ports"),
)
"""The lists whose entries are known by `name`."""

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_APART = re.compile(r"[\W_]+")


def written(path: Path) -> str:
    """Return a path as TOML would write it: `tiers."Tern Bay 100/20".down_bps`."""
    return ".".join(part if _BARE.fullmatch(part) else _quoted(part) for part in path)


def _quoted(part: str) -> str:
    """Return a TOML basic string: JSON's, but for DEL, which TOML wants escaped too."""
    return json.dumps(part, ensure_ascii=False).replace("\x7f", "\\u007f")


def parsed(text: str) -> Path | None:
    """Return the path a TOML key path stands for, None where it is none."""
    try:
        table: object = tomllib.loads(f"{text} = 0")
    except (ValueError, RecursionError):
        return None
    path: list[str] = []
    while isinstance(table, dict) and len(table) == 1:
        key, table = next(iter(table.items()))
        path.append(key)
    return tuple(path) if table == 0 else None


def alike(wanted: str, known: Iterator[str]) -> str | None:
    """Return the known name equal to the wanted one but for case and marks between words."""
    sought = folded(wanted)
    return next((name for name in known if folded(name) == sought), None)


def folded(name: str) -> str:
    """Return a name without case, accents and marks, its words joined by one underscore."""
    apart = unicodedata.normalize("NFKD", name.casefold())
    bare = "".join(c for c in apart if not unicodedata.combining(c))
    return _APART.sub("_", bare).strip("_")


def leaves(table: Document, path: Path = ()) -> Iterator[tuple[Path, object]]:
    """Yield every value that is no table, with its path; a list is one value."""
    for key, value in table.items():
        if isinstance(value, dict) and value:
            yield from leaves(value, (*path, key))
        else:
            yield (*path, key), value


def at(table: Document, path: Path) -> object:
    """Return what stands at a path, None where nothing does."""
    here: object = table
    for part in path:
        if not isinstance(here, dict) or part not in here:
            return None
        here = here[part]
    return here


def nested(path: Path, value: object) -> Document:
    """Return the document that holds one value at one path."""
    for part in reversed(path):
        value = {part: value}
    return value if isinstance(value, dict) else {}


def listed(table: Document) -> Document:
    """Return the document with its named tables as lists again, in the order they came."""
    whole = _copy(table)
    for path in NAMED:
        holder, entries = at(whole, path[:-1]), at(whole, path)
        if isinstance(holder, dict) and isinstance(entries, dict):
            holder[path[-1]] = [_entry(name, entry) for name, entry in entries.items()]
    return whole


def _entry(name: str, entry: object) -> object:
    return {"name": name, **entry} if isinstance(entry, dict) else entry


def _copy(table: Document) -> Document:
    return {k: _copy(v) if isinstance(v, dict) else v for k, v in table.items()}
