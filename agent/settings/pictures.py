"""Where the company's logo lies: a path in a file is one from the folder of that file."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from agent.errors import Fault
from agent.settings.identity import PICTURE, PICTURE_WANTED
from agent.settings.keys import Document, at, written
from agent.settings.keys import Path as KeyPath
from agent.settings.model import Settings

LOGO = ("identity", "logo")


def logo_of(
    whole: Document, places: Mapping[KeyPath, str]
) -> tuple[Path | None, tuple[Fault, ...]]:
    """Return where the logo lies, or the fault that it does not lie there.

    Neither where none is named, or what names it is no such path: that is the model's to say. A
    variable and a flag have no folder; theirs is the one that the program runs in.
    """
    named = at(whole, LOGO)
    if not isinstance(named, str) or not re.fullmatch(PICTURE, named):
        return None, ()
    place = places[LOGO]
    path = Path(place).parent.absolute() / named
    if _is_file(path):
        return path, ()
    found = f"no file {path}"
    return None, (Fault(place=place, key=written(LOGO), found=found, allowed=PICTURE_WANTED),)


def with_logo(settings: Settings, path: Path | None) -> Settings:
    """Return settings that name the logo by where it lies."""
    if path is None:
        return settings
    identity = settings.identity.model_copy(update={"logo": str(path)})
    return settings.model_copy(update={"identity": identity})


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except OSError:
        return False
