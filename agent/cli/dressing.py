"""How a company's settings dress a page: language, paper, footer, and a logo made harmless."""

from __future__ import annotations

import os
from base64 import b64encode
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from agent.cli.guard import say
from agent.errors import LogoError, printable
from agent.settings.loader import Loaded, load

if TYPE_CHECKING:
    from agent.settings.model import Identity
    from agent.sheet.view import Dress

MOST_BYTES = 256_001
"""A byte more than any logo may have, so that a larger one is refused and not cut."""
MEDIA = {"svg": "image/svg+xml", "png": "image/png"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How pages look: the dress of the sheet, and the paper of the printed one."""

    dress: Dress
    paper: str


def settings_of(path: Path | None, language: str | None) -> Loaded:
    """Return the settings in force, with the language of the command line. Raises SettingsError."""
    return load(path, os.environ, {"identity.language": language})


def look_of(identity: Identity, *, paper: str | None = None) -> Look:
    """Return how a company's pages look; a logo that cannot be shown is said and left out."""
    from agent.sheet.view import Dress

    try:
        logo, ratio = _logo(identity.logo)
    except LogoError as error:
        say(error.sentence())
        logo, ratio = "", 1.0
    dress = Dress(
        language=identity.language, footer=identity.footer or "", logo=logo, logo_ratio=ratio
    )
    return Look(dress=dress, paper=paper or identity.paper)


def _logo(path: str | None) -> tuple[str, float]:
    """Return a logo as a data URI (RFC 2397) and its width over height. Raises LogoError."""
    if path is None:
        return "", 1.0
    from agent.sheet.logos import read_logo

    try:
        with Path(path).open("rb") as file:
            content = file.read(MOST_BYTES)
    except OSError as error:
        raise LogoError(problem=f"{printable(path)} cannot be read: {printable(error)}") from error
    logo = read_logo(content)
    return f"data:{MEDIA[logo.kind]};base64,{b64encode(logo.content).decode()}", logo.width_ratio
