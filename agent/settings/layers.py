"""Laying one document over another: tables deep, named entries by name, everything else whole.

The laws (held by tests): an empty document changes nothing, a document over itself is itself,
and laying three over one another gives the same in either grouping as long as none of them puts a
value where another has a table.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from agent.errors import Fault
from agent.settings.keys import NAMED, Document, Path, at, leaves, parsed, written

REPLACES = "replaces"
"""Top-level key of a file: named lists of which nothing from earlier layers is kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One file, variable or flag: where it is, what it says, which lists it begins anew."""

    place: str
    document: Document
    replaces: tuple[Path, ...] = ()


Layer = tuple[Source, ...]
"""Sources of equal rank: the files of one folder, the variables, the flags."""


def laid_over(base: Document, over: Document) -> Document:
    """Return a new document: what `over` says, else what `base` says."""
    merged = dict(base)
    for key, value in over.items():
        below = merged.get(key)
        both = isinstance(below, dict) and isinstance(value, dict)
        merged[key] = laid_over(below, value) if both else value  # type: ignore[arg-type]
    return merged


def without(table: Document, path: Path) -> Document:
    """Return the document with nothing at a path."""
    head, rest = path[0], path[1:]
    inner = table.get(head)
    if rest and isinstance(inner, dict):
        return {**table, head: without(inner, rest)}
    return {key: value for key, value in table.items() if key != head}


def merged(layers: Iterable[Layer]) -> Document:
    """Return what all layers say together, the later over the earlier."""
    whole: Document = {}
    for layer in layers:
        for source in layer:
            for path in source.replaces:
                whole = without(whole, path)
        for source in layer:
            whole = laid_over(whole, source.document)
    return whole


def origins(layers: Iterable[Layer]) -> dict[Path, str]:
    """Return for every value's path the place that said it last, the latest at the end."""
    places: dict[Path, str] = {}
    for source in (source for layer in layers for source in layer):
        for path, _ in leaves(source.document):
            places.pop(path, None)
            places[path] = source.place
    return places


def contradictions(layer: Layer) -> Iterator[Fault]:
    """Yield a fault for everything that two sources of the same rank both set."""
    seen: dict[Path, str] = {}
    for source in layer:
        for path in {_claim(path) for path, _ in leaves(source.document)}:
            first = seen.setdefault(path, source.place)
            if first != source.place:
                yield Fault(
                    place=source.place,
                    key=written(path),
                    found=f"set here and in {first}",
                    allowed="once in one folder",
                )


def _claim(path: Path) -> Path:
    """Return what setting a path lays claim to: a named entry as a whole, else the path."""
    for named in NAMED:
        if path[: len(named)] == named:
            return path[: len(named) + 1]
    return path


def taken_apart(place: str, raw: Document) -> tuple[Source, tuple[Fault, ...]]:
    """Return a file's content as a source with its named lists by name, and what is wrong there."""
    faults: list[Fault] = []
    document = dict(raw)
    replaces = tuple(_replaced(place, document.pop(REPLACES, []), faults))
    for path in NAMED:
        entries = at(document, path)
        if entries is not None:
            by_name = _by_name(place, path, entries, faults)
            document = laid_over(without(document, path), _held(path, by_name))
    return Source(place=place, document=document, replaces=replaces), tuple(faults)


def _held(path: Path, value: Document) -> Document:
    return {path[0]: value if len(path) == 1 else _held(path[1:], value)}


def _replaced(place: str, value: object, faults: list[Fault]) -> Iterator[Path]:
    for item in value if isinstance(value, list) else [value]:
        path = parsed(item) if isinstance(item, str) else None
        if path in NAMED:
            yield path
        else:
            known = ", ".join(f'"{written(named)}"' for named in NAMED)
            faults.append(
                Fault(place=place, key=REPLACES, found=repr(item), allowed=f"a list of {known}")
            )


def _by_name(place: str, path: Path, entries: object, faults: list[Fault]) -> Document:
    key = written(path)
    if not isinstance(entries, list):
        found = "a table in single brackets" if isinstance(entries, dict) else repr(entries)
        faults.append(
            Fault(place=place, key=key, found=found, allowed=f"entries that begin with [[{key}]]")
        )
        return {}
    named: Document = {}
    for position, entry in enumerate(entries, start=1):
        name = entry.get("name") if isinstance(entry, dict) else None
        if not isinstance(name, str):
            found, allowed = f"entry {position} without a name", 'name = "…" in every entry'
            faults.append(Fault(place=place, key=key, found=found, allowed=allowed))
        elif name in named:
            where = written((*path, name))
            found, allowed = f"entry {position} with the same name", "each name once"
            faults.append(Fault(place=place, key=where, found=found, allowed=allowed))
        else:
            named[name] = entry
    return named
