"""Reading settings files: where they lie, bounded reading, and what keeps one from being read."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

from agent.errors import Fault
from agent.settings.keys import Document
from agent.settings.layers import Layer, Source, taken_apart

MAX_BYTES = 1_000_000
"""A catalogue of 200 tiers needs about 60,000; beyond this the file is something else."""
MAX_LINE = 2_000
"""Characters of one line; keeps the work of reading a dotted key bounded."""
MAX_DEPTH = 12
"""Tables within tables; the settings need five."""
MAX_FILES = 100
"""Files of one folder."""

_APP = "doorstep"
_LINE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)")


def default_folder() -> Path:
    """Return the folder of the shipped defaults: inside the wheel, or `config/` of a checkout."""
    shipped = Path(__file__).parent / "defaults"
    return shipped if shipped.is_dir() else Path(__file__).parents[2] / "config"


def user_folder(environment: Mapping[str, str], platform: str) -> Path | None:
    """Return where a user's own settings lie, None where the environment names no home.

    Linux and others: XDG Base Directory Specification (`XDG_CONFIG_HOME`, absolute, else
    `~/.config`). Windows: `%APPDATA%`. macOS: `~/Library/Application Support`.
    """
    home = environment.get("HOME")
    if platform == "win32":
        roaming = environment.get("APPDATA")
        return Path(roaming) / _APP if roaming else None
    if platform == "darwin":
        return Path(home) / "Library" / "Application Support" / _APP if home else None
    chosen = environment.get("XDG_CONFIG_HOME")
    if chosen and Path(chosen).is_absolute():
        return Path(chosen) / _APP
    return Path(home) / ".config" / _APP if home else None


def read_layer(path: Path) -> tuple[Layer, tuple[Fault, ...]]:
    """Return a file, or the `.toml` files of a folder in the order of their names, as one layer."""
    try:
        files = sorted(path.glob("*.toml")) if path.is_dir() else [path]
    except OSError as error:
        return (), (_unreadable(path, str(error.strerror)),)
    if not files:
        return (), (_fault(path, "a folder without a .toml file", "a file, or a folder of them"),)
    if len(files) > MAX_FILES:
        return (), (_fault(path, f"{len(files)} files", f"at most {MAX_FILES} files"),)
    read = [read_file(file) for file in files]
    sources = tuple(source for source, _ in read if source is not None)
    return sources, tuple(fault for _, faults in read for fault in faults)


def read_file(path: Path) -> tuple[Source | None, tuple[Fault, ...]]:
    """Return one file as a source, None where it cannot be read, and its faults."""
    raw = _bytes(path)
    if isinstance(raw, Fault):
        return None, (raw,)
    text = _text(path, raw)
    if isinstance(text, Fault):
        return None, (text,)
    table = _table(path, text)
    if isinstance(table, Fault):
        return None, (table,)
    return taken_apart(str(path), table)


def _bytes(path: Path) -> bytes | Fault:
    try:
        if not path.exists():
            return _fault(path, "no such file or folder", "a settings file, or a folder of them")
        if not path.is_file():
            return _fault(path, "something that is no file", "a plain file")
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        return _unreadable(path, str(getattr(error, "strerror", None) or error))
    if len(raw) > MAX_BYTES:
        return _fault(path, f"more than {MAX_BYTES:_} bytes", f"at most {MAX_BYTES:_} bytes")
    return raw


def _text(path: Path, raw: bytes) -> str | Fault:
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        return _fault(path, f"byte {error.start} is not UTF-8", "text saved as UTF-8", line=line)
    for number, line_text in enumerate(text.split("\n"), start=1):
        if len(line_text) > MAX_LINE:
            found, allowed = f"{len(line_text)} characters", f"at most {MAX_LINE} in one line"
            return _fault(path, found, allowed, line=number)
    return text


def _table(path: Path, text: str) -> Document | Fault:
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return _syntax(path, text, str(error))
    except (ValueError, RecursionError):
        return _fault(path, "a number or nesting beyond all use", "TOML of ordinary size")
    if _deeper_than(table, MAX_DEPTH):
        return _fault(path, f"more than {MAX_DEPTH} tables deep", f"at most {MAX_DEPTH}")
    return table


def _syntax(path: Path, text: str, message: str) -> Fault:
    where = _LINE.search(message)
    line = int(where[1]) if where and where[1] else text.count("\n") + 1
    found = f"no TOML: {_LINE.sub('', message)}"
    return _fault(path, found, 'lines such as key = value, texts in "quotes"', line=line)


def _deeper_than(table: object, depth: int) -> bool:
    level = [table]
    for _ in range(depth + 1):
        level = [inner for outer in level for inner in _within(outer)]
    return bool(level)


def _within(value: object) -> list[object]:
    if isinstance(value, dict):
        return list(value.values())
    return list(value) if isinstance(value, list) else []


def _fault(path: Path, found: str, allowed: str, line: int | None = None) -> Fault:
    return Fault(place=str(path), key="", found=found, allowed=allowed, line=line)


def _unreadable(path: Path, problem: str) -> Fault:
    return _fault(path, f"it cannot be read ({problem})", "a file this user may read")
