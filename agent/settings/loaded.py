"""What loading gives: the settings, their hash, and where each value comes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from agent.settings.model import Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """The settings in force.

    `sha256` is of the canonical JSON (keys sorted, no blanks) of all settings but the identity and
    the server's token: those say nothing of how a line is judged, and a hash over a name or a
    secret would let it be guessed from a redacted record. `sources` maps each key path that was
    set to the file, variable or "command line" that set it; paths absent are built in.
    """

    settings: Settings
    sha256: str
    sources: Mapping[str, str]
