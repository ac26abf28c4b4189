"""What feeds this laptop and what keeps it slow, as /sys tells it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from agent.engines.linux_sysfs import read_number, read_text

MOST = 64
"""Supplies and processors looked at; no laptop has more, and a hostile /sys is no excuse."""

SAVING_PROFILES = ("low-power", "quiet")
"""Of linux: Documentation/ABI/testing/sysfs-class-platform-profile."""

OWN_GOVERNORS = ("intel_pstate", "amd-pstate-epp", "amd_pstate_epp")
"""Drivers whose "powersave" follows the load, and is what they run at by default."""

NOTHING = "none"


def on_battery(root: Path) -> bool:
    """Return True only where a battery of the laptop's own is drained and no mains are there.

    Batteries of mice and headsets say that their scope is a device (sysfs-class-power).
    """
    supplies = list(_entries(root / "sys/class/power_supply"))
    own = [one for one in supplies if read_text(one / "scope") != "Device"]
    mains = [one for one in own if read_text(one / "type") in ("Mains", "USB")]
    if any(read_number(one / "online") for one in mains):
        return False
    batteries = [one for one in own if read_text(one / "type") == "Battery"]
    return any(read_text(one / "status") == "Discharging" for one in batteries)


def power_saver(root: Path) -> str | None:
    """Return what keeps the laptop slow, "none" where nothing does, None where nothing is told.

    That is the platform's profile, the preference of the processor, or its governor.
    """
    profile = read_text(root / "sys/firmware/acpi/platform_profile")
    if profile in SAVING_PROFILES:
        return profile
    processors = [one / "cpufreq" for one in _entries(root / "sys/devices/system/cpu")]
    told = [found for one in processors if (found := _slow(one)) is not None]
    saving = next((one for one in told if one != NOTHING), None)
    return saving or (NOTHING if told or profile else None)


def _slow(frequency: Path) -> str | None:
    governor = read_text(frequency / "scaling_governor")
    if governor is None:
        return None
    if read_text(frequency / "energy_performance_preference") == "power":
        return "power-preference"
    own = read_text(frequency / "scaling_driver") in OWN_GOVERNORS
    return "powersave-governor" if governor == "powersave" and not own else NOTHING


def _entries(folder: Path) -> Iterator[Path]:
    try:
        yield from sorted(folder.iterdir())[:MOST]
    except OSError:
        return
