"""The published shape of the settings, as JSON Schema (draft 2020-12)."""

from __future__ import annotations

from functools import cache
from typing import Any

from agent.settings.model import Settings

_DIALECT = "https://json-schema.org/draft/2020-12/schema"


@cache
def json_schema() -> dict[str, Any]:
    """Return the JSON Schema of the merged settings; treat it as read-only."""
    return {"$schema": _DIALECT, **Settings.model_json_schema()}
