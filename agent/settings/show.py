"""The settings in force as lines of text: key, value, and where it comes from."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

from agent.settings.keys import NAMED, at, leaves, written
from agent.settings.loaded import Loaded

HIDDEN = "(hidden)"
BUILT_IN = "built in"

_SECRET = ("server.token",)
_PASSWORD = re.compile(r"(?<=://)[^/@\s]+@")


def describe(loaded: Loaded) -> Iterator[str]:
    """Yield `key = value   (from place)` for every setting that has a value; secrets hidden."""
    document = loaded.settings.model_dump(mode="json")
    for path in NAMED:
        holder = at(document, path[:-1])
        if isinstance(holder, dict):
            holder[path[-1]] = {entry["name"]: entry for entry in holder[path[-1]]}
    for path, value in leaves(document):
        if value is not None and value != {}:
            yield _line(written(path), value, loaded)


def _line(key: str, value: object, loaded: Loaded) -> str:
    text = json.dumps(value, ensure_ascii=False)
    text = HIDDEN if key in _SECRET else _PASSWORD.sub("…@", text)
    line = f"{key} = {text}   (from {loaded.sources.get(key, BUILT_IN)})"
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in line)
