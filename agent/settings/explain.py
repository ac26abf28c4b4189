"""From what the model refuses to faults that a person can mend: place, key, found, allowed."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from agent.errors import Fault
from agent.settings.allowed import choices, in_words, keys_at, node_at, suggestion
from agent.settings.keys import NAMED, Document, Path, written

Location = tuple[str | int, ...]

_SHOWN = 60


def explained(
    error: ValidationError, document: Document, origins: Mapping[Path, str]
) -> Iterator[Fault]:
    """Yield one fault for each error; `document` is what was validated, with lists as lists."""
    for details in error.errors(include_url=False):
        location = details["loc"]
        path, index = _path(location, document)
        found, allowed = _told(details, location)
        yield Fault(
            place=place_of(path, origins), key=written(path) + index, found=found, allowed=allowed
        )


def place_of(path: Path, origins: Mapping[Path, str]) -> str:
    """Return the place that last set a path or, where nothing did, what stands around it."""
    for length in range(len(path), 0, -1):
        stem = path[:length]
        near = [place for known, place in origins.items() if known[:length] == stem]
        if near:
            return near[-1]
    return "the settings"


def shown(value: object) -> str:
    """Return a value as TOML would show it, shortened; tables and lists by their kind."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, bool | str):
        text = json.dumps(value, ensure_ascii=False)
    elif isinstance(value, list):
        text = f"[{', '.join(shown(item) for item in value[:5])}{', …' if value[5:] else ''}]"
    else:
        text = str(value)
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"


def _path(location: Location, document: Document) -> tuple[Path, str]:
    """Return the key path of a location, entries by name, and the index in a plain list."""
    here: object = document
    path: list[str] = []
    for part in location:
        here = _into(here, part)
        if isinstance(part, str):
            path += [part] if part != "[key]" else []
        elif tuple(path) in NAMED and isinstance(here, dict):
            path.append(str(here.get("name", part)))
        else:
            return tuple(path), f"[{part}]"
    return tuple(path), ""


def _into(here: object, part: str | int) -> object:
    try:
        return here[part]  # type: ignore[index]
    except (KeyError, IndexError, TypeError):
        return None


def _told(details: ErrorDetails, location: Location) -> tuple[str, str]:
    key = next((part for part in reversed(location) if isinstance(part, str)), "")
    match details["type"]:
        case "extra_forbidden":
            known = keys_at(location[:-1])
            return f"the unknown key {key}", suggestion(key, details["input"], known)
        case "missing":
            return "nothing", f"it is required: {in_words(node_at(location), key)}"
        case "value_error":
            return "a contradiction", str(details["ctx"]["error"])
        case "enum" | "literal_error":
            return shown(details["input"]), choices(node_at(location), str(details["input"]))
        case _:
            return shown(details["input"]), in_words(node_at(location), key)
