"""From files, variables and flags to the settings in force; every fault at once.

Later wins: shipped defaults, the user's folder, `--settings`, `DOORSTEP_…`, flags.
"""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Mapping
from pathlib import Path

from pydantic import ValidationError

from agent.errors import Fault, SettingsError
from agent.settings import files, outside
from agent.settings.checks import Parts, Problem, odd_tiers, problems
from agent.settings.choose import accept_for, limits_for, pick_plan, pick_tier
from agent.settings.explain import explained, place_of
from agent.settings.keys import Document, at, listed, written
from agent.settings.keys import Path as KeyPath
from agent.settings.layers import Layer, contradictions, merged, origins
from agent.settings.loaded import Loaded
from agent.settings.model import Settings
from agent.settings.pictures import logo_of, with_logo
from agent.settings.show import describe

__all__ = [
    "Loaded",
    "accept_for",
    "describe",
    "limits_for",
    "load",
    "pick_plan",
    "pick_tier",
    "remarks",
    "settings_sha256",
]

_UNHASHED: dict[str, bool | set[str]] = {"identity": True, "server": {"token"}}


def load(
    path: Path | None,
    environment: Mapping[str, str],
    overrides: Mapping[str, object],
    *,
    defaults: Path | None = None,
    user: Path | None = None,
) -> Loaded:
    """Return the settings that all layers give together.

    `path` is a file or a folder of `.toml` files; `overrides` maps key paths to values, None for
    a flag that was not given. `defaults` and `user` are the folders of the two lowest layers, by
    default the shipped one and the one the environment names. Raises SettingsError with every
    fault of every layer.
    """
    user = user or files.user_folder(environment, sys.platform)
    layers, faults = _file_layers(defaults or files.default_folder(), user, path)
    for layer, found in (
        outside.from_environment(environment, merged(layers)),
        outside.from_flags(overrides),
    ):
        layers.append(layer)
        faults.extend(found)
    return _judged(layers, faults)


def remarks(loaded: Loaded) -> tuple[Fault, ...]:
    """Return what is allowed but seldom meant, at its place."""
    return tuple(
        Fault(
            place=loaded.sources.get(written(problem.path), "the settings"),
            key=written(problem.path),
            found=problem.found,
            allowed=problem.allowed,
        )
        for problem in odd_tiers(loaded.settings.tiers)
    )


def settings_sha256(settings: Settings) -> str:
    """Return the hash that `Loaded` describes, in hexadecimal."""
    document = settings.model_dump(mode="json", exclude=_UNHASHED)
    canonical = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(canonical.encode()).hexdigest()


def _file_layers(
    defaults: Path, user: Path | None, chosen: Path | None
) -> tuple[list[Layer], list[Fault]]:
    folders = [defaults]
    if user is not None and _has_settings(user):
        folders.append(user)
    if chosen is not None:
        folders.append(chosen)
    read = [files.read_layer(folder) for folder in folders]
    faults = [fault for _, found in read for fault in found]
    faults += [fault for layer, _ in read for fault in contradictions(layer)]
    return [layer for layer, _ in read], faults


def _has_settings(folder: Path) -> bool:
    try:
        return any(folder.glob("*.toml"))
    except OSError:
        return False


def _judged(layers: list[Layer], faults: list[Fault]) -> Loaded:
    whole, places = merged(layers), origins(layers)
    document = listed(whole)
    try:
        settings = Settings.model_validate_json(_json(document))
    except ValidationError as error:
        faults += explained(error, document, places)
        parts = _sound(document, error)
    else:
        parts = _parts(settings)
    faults += (_fault(problem, places) for problem in problems(parts))
    logo, missing = logo_of(whole, places)
    faults += missing
    if faults:
        raise SettingsError(faults=tuple(dict.fromkeys(faults)))
    settings = with_logo(settings, logo)
    sources = {written(path): place for path, place in places.items() if _is_set(whole, path)}
    return Loaded(settings=settings, sha256=settings_sha256(settings), sources=sources)


def _fault(problem: Problem, places: Mapping[KeyPath, str]) -> Fault:
    other, order = problem.other, list(places)
    if other and _rank(other.path, order) > _rank(problem.path, order):
        problem = other
    return Fault(
        place=place_of(problem.path, places),
        key=written(problem.path),
        found=problem.found,
        allowed=problem.allowed,
    )


def _rank(path: KeyPath, order: list[KeyPath]) -> int:
    """Return how late a path, or anything below it, was set; -1 for what is built in."""
    return max((i for i, known in enumerate(order) if known[: len(path)] == path), default=-1)


def _json(document: Document) -> str:
    return json.dumps(document, default=str)


def _parts(settings: Settings) -> Parts:
    return Parts.model_validate(
        {name: getattr(settings, name) for name in Parts.model_fields if name != "fitness"}
        | {"fitness": dict(settings.fitness)}
    )


def _sound(document: Document, error: ValidationError) -> Parts:
    """Return what is left of a document without the entries that the model refuses."""
    left = {name: document[name] for name in Parts.model_fields if name in document}
    refused = {d["loc"][:2] for d in error.errors(include_url=False) if d["loc"]}
    for name in ("plans", "tiers", "limits", "accept", "usual", "fitness"):
        bad = {loc[1] for loc in refused if loc[0] == name and len(loc) > 1}
        left[name] = _kept(left.get(name), bad)
    for name in ("targets", "server", "line"):
        if any(loc[0] == name for loc in refused):
            left.pop(name, None)
    try:
        return Parts.model_validate_json(_json(left))
    except ValidationError:
        return Parts()


def _kept(entries: object, refused: set[int | str]) -> object:
    if isinstance(entries, dict):
        return {key: value for key, value in entries.items() if key not in refused}
    if isinstance(entries, list):
        return [value for index, value in enumerate(entries) if index not in refused]
    return {}


def _is_set(whole: Document, path: KeyPath) -> bool:
    """Return whether a value, not a table, still stands at a path after all merging."""
    holder = at(whole, path[:-1])
    return isinstance(holder, dict) and not isinstance(holder.get(path[-1], {}), dict)
