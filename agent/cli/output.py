"""Where records and pages go."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def data_folder() -> Path:
    """Return this user's folder for records on this system."""
    home = _home()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_DATA_HOME") or home / ".local" / "share")
    return base / "doorstep" / "reports"


def _home() -> Path:
    """Return the user's home, the current folder for a user who has none."""
    try:
        return Path.home()
    except RuntimeError:
        return Path.cwd()


def reports_folder(out: Path | None) -> Path:
    """Return where visits are kept: --out, else ./reports where it exists, else the user's own."""
    if out is not None:
        return out
    here = Path("reports")
    return here if here.is_dir() else data_folder()
