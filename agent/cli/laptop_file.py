"""What this laptop knows of itself between visits: a number of its own, and its own checks.

They stand in one small file in the user's folder. A file that cannot be read is no reason not to
measure: it is said, and passed over.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from agent.cli.guard import say
from agent.cli.output import data_folder
from agent.measurements import LaptopCheck, Medium
from agent.record.store import write_file

FILE = "laptop.json"
MOST_BYTES = 65_536
MOST_CHECKS = 32
DEVICE_BYTES = 8
SECONDS_PER_DAY = 86_400
UNREADABLE = "What this laptop knows of itself cannot be read ({path}); its checks are passed over."


@dataclass(frozen=True, slots=True, kw_only=True)
class Laptop:
    """This laptop's own number, None before its first check, and its checks, newest first."""

    device_id: str | None = None
    checks: tuple[LaptopCheck, ...] = ()

    def checks_at(self, now: datetime) -> tuple[LaptopCheck, ...]:
        """Return the checks with their age at a moment."""
        return tuple(replace(one, age_days=_age_days(one, now)) for one in self.checks)

    def with_check(self, check: LaptopCheck) -> Laptop:
        """Return the laptop with a check in the place of the former one of that interface."""
        others = (one for one in self.checks if one.interface != check.interface)
        return Laptop(device_id=check.device_id, checks=(check, *others)[:MOST_CHECKS])


def laptop_file() -> Path:
    """Return where it stands for this user."""
    return data_folder().parent / FILE


def read_laptop(path: Path) -> Laptop:
    """Return what is known, nothing where there is no file yet or none that can be read."""
    try:
        with path.open("rb") as file:
            document = json.loads(file.read(MOST_BYTES))
        return _laptop(document)
    except FileNotFoundError:
        return Laptop()
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        say(UNREADABLE.format(path=path))
        return Laptop()


def keep_check(path: Path, check: LaptopCheck, before: Laptop) -> None:
    """Write the check down. Raises OutputError."""
    laptop = before.with_check(check)
    checks = [{k: v for k, v in asdict(one).items() if k != "age_days"} for one in laptop.checks]
    text = json.dumps({"format": 1, "device_id": laptop.device_id, "checks": checks}, indent=1)
    write_file(path, f"{text}\n".encode())


def new_device_id() -> str:
    """Return a number by chance: it tells laptops apart and says nothing of them."""
    return secrets.token_hex(DEVICE_BYTES)


def _age_days(check: LaptopCheck, now: datetime) -> float:
    passed = now - datetime.fromisoformat(check.checked)
    return max(0.0, passed.total_seconds() / SECONDS_PER_DAY)


def _laptop(document: Mapping[str, object]) -> Laptop:
    entries = document["checks"]
    if not isinstance(entries, list):
        raise TypeError
    device_id = _text(document["device_id"])
    return Laptop(device_id=device_id, checks=tuple(_check(one) for one in entries[:MOST_CHECKS]))


def _check(entry: Mapping[str, object]) -> LaptopCheck:
    checked = datetime.fromisoformat(_text(entry["checked"]))
    return LaptopCheck(
        device_id=_text(entry["device_id"]),
        checked=checked.astimezone(UTC).isoformat(timespec="seconds"),
        interface=_text(entry["interface"]),
        medium=Medium(_text(entry["medium"])),
        speed_bps=_whole(entry.get("speed_bps")),
        bus_bps=_whole(entry.get("bus_bps")),
        down_bps=_number(entry.get("down_bps")),
        up_bps=_number(entry.get("up_bps")),
        server=None if entry.get("server") is None else _text(entry["server"]),
    )


def _text(value: object) -> str:
    if not isinstance(value, str) or len(value) > 200:
        raise TypeError
    return value


def _number(value: object) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < 1e15:
        raise TypeError
    return float(value)


def _whole(value: object) -> int | None:
    number = _number(value)
    return None if number is None else int(number)
