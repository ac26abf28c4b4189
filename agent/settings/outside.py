"""Settings from outside the files: `DOORSTEP_…` variables and flags.

`DOORSTEP_SERVER__CARD=http://192.0.2.10/card` sets `server.card`; a double underscore parts the
path, entries of named lists are found by their name whatever its case and marks
(`DOORSTEP_PLANS__NO_FILL__DNS__QUERIES=40`). A value is read as a TOML value, else as a text.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import date, time

from agent.errors import Fault
from agent.settings.keys import NAMED, Document, Path, alike, at, nested, parsed
from agent.settings.layers import Layer, Source, taken_apart

PREFIX = "DOORSTEP_"
PRACTICE_FACTS = "DOORSTEP_PRACTICE_FACTS"
"""Facts of the laptop that a practice network tells its visit, a JSON object by interface."""

NO_SETTINGS = frozenset({"DOORSTEP_SERVE_TOKEN", PRACTICE_FACTS})
"""Variables that belong to a command's own options."""

COMMAND_LINE = "command line"


def from_environment(
    environment: Mapping[str, str], base: Document
) -> tuple[Layer, tuple[Fault, ...]]:
    """Return one source for each variable; `base` is what the files say, to find names in."""
    sources, faults = [], []
    for variable in _ours(environment):
        path = tuple(variable[len(PREFIX) :].lower().split("__"))
        value = _value(environment[variable])
        if len(path) < 2 or not all(path):
            faults.append(_fault(variable, "no key path", "names such as DOORSTEP_SERVER__CARD"))
        elif not _sayable(value):
            faults.append(_fault(variable, "bytes that are no text", "UTF-8 text"))
        else:
            source, found = _source(variable, _known(path, base), value)
            sources.append(source)
            faults.extend(found)
    return tuple(sources), tuple(faults)


def from_flags(overrides: Mapping[str, object]) -> tuple[Layer, tuple[Fault, ...]]:
    """Return one source for each flag; keys are TOML key paths, None means not given."""
    sources, faults = [], []
    for key, value in overrides.items():
        path = parsed(key)
        if value is None:
            continue
        if path is None:
            faults.append(_fault(COMMAND_LINE, f"the key {key!r}", "a key path"))
        elif not _sayable(value):
            faults.append(_fault(COMMAND_LINE, "bytes that are no text", "UTF-8 text", key))
        else:
            plain = list(value) if isinstance(value, tuple) else value
            source, found = _source(COMMAND_LINE, path, plain)
            sources.append(source)
            faults.extend(found)
    return tuple(sources), tuple(faults)


def _ours(environment: Mapping[str, str]) -> list[str]:
    named = (name for name in environment if name.upper().startswith(PREFIX))
    return sorted(name for name in named if name.upper() not in NO_SETTINGS)


def _source(place: str, path: Path, value: object) -> tuple[Source, tuple[Fault, ...]]:
    document = nested(path, value)
    if any(path[: len(named)] == named and len(path) > len(named) for named in NAMED):
        return Source(place=place, document=document), ()
    return taken_apart(place, document)


def _known(path: Path, base: Document) -> Path:
    for named in NAMED:
        entries = at(base, named)
        if path[: len(named)] == named and len(path) > len(named) and isinstance(entries, dict):
            wanted = path[len(named)]
            found = alike(wanted, iter(entries)) or wanted
            return (*named, found, *path[len(named) + 1 :])
    return path


def _value(text: str) -> object:
    try:
        table = tomllib.loads(f"value = {text}")
    except (ValueError, RecursionError):
        return text
    value = table["value"]
    return text if len(table) > 1 or isinstance(value, date | time | dict) else value


def _sayable(value: object) -> bool:
    try:
        str(value).encode()
    except UnicodeEncodeError:
        return False
    return True


def _fault(place: str, found: str, allowed: str, key: str = "") -> Fault:
    return Fault(place=place, key=key, found=found, allowed=allowed)
