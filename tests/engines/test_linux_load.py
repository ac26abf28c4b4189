"""Power and memory of a laptop from /sys and /proc built by hand."""

import pytest

from agent.engines.linux_load import read_load
from agent.engines.linux_power import MOST, on_battery, power_saver
from agent.engines.linux_sysfs import memory

SUPPLY = "sys/class/power_supply"
CPU = "sys/devices/system/cpu/cpu0/cpufreq"


@pytest.fixture
def tree(tmp_path):
    """Return a writer of files under a root, a value each."""

    def write(folder, **values):
        for name, value in values.items():
            target = tmp_path / folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(f"{value}\n")
        return tmp_path

    return write


DRAINED = {"type": "Battery", "status": "Discharging"}


@pytest.mark.parametrize(
    ("supplies", "expected"),
    [
        ({}, False),
        ({"BAT0": DRAINED}, True),
        ({"BAT0": DRAINED, "AC": {"type": "Mains", "online": 0}}, True),
        ({"BAT0": {"type": "Battery", "status": "Charging"}}, False),
        ({"BAT0": DRAINED, "ucsi": {"type": "USB", "online": 1}}, False),
        ({"mouse": {**DRAINED, "scope": "Device"}}, False),
    ],
)
def test_a_laptop_on_battery(tree, tmp_path, supplies, expected):
    """Documentation/ABI/testing/sysfs-class-power of the kernel names the files and words."""
    for name, values in supplies.items():
        tree(f"{SUPPLY}/{name}", **values)
    assert on_battery(tmp_path) is expected


@pytest.mark.parametrize(
    ("profile", "cpu", "expected"),
    [
        (None, {}, None),
        ("balanced", {}, "none"),
        ("low-power", {}, "low-power"),
        ("quiet", {"scaling_governor": "performance"}, "quiet"),
        (None, {"scaling_governor": "schedutil"}, "none"),
        (None, {"scaling_governor": "powersave"}, "powersave-governor"),
        (None, {"scaling_governor": "powersave", "scaling_driver": "intel_pstate"}, "none"),
        (
            "balanced",
            {
                "scaling_governor": "powersave",
                "scaling_driver": "intel_pstate",
                "energy_performance_preference": "power",
            },
            "power-preference",
        ),
    ],
)
def test_what_keeps_a_laptop_slow(tree, tmp_path, profile, cpu, expected):
    """Documentation: sysfs-class-platform-profile, admin-guide/pm/cpufreq and intel_pstate."""
    tree("sys/firmware/acpi", **({"platform_profile": profile} if profile else {}))
    tree(CPU, **cpu)
    assert power_saver(tmp_path) == expected


def test_a_processor_among_others_that_saves_is_seen(tree, tmp_path):
    for number in range(3):
        governor = "powersave" if number == 2 else "performance"
        tree(f"sys/devices/system/cpu/cpu{number}/cpufreq", scaling_governor=governor)
    assert power_saver(tmp_path) == "powersave-governor"


def test_a_system_that_lists_without_end_is_read_in_part(tree, tmp_path):
    for number in range(MOST + 5):
        tree(f"{SUPPLY}/A{number:03}", type="Mains", online=0)
    tree(f"{SUPPLY}/Z", **DRAINED)
    assert on_battery(tmp_path) is False


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("MemTotal:  8000 kB\nMemFree: 1 kB\nMemAvailable:   400 kB\n", (8_192_000, 409_600)),
        ("MemTotal: 8000 kB\n", (8_192_000, None)),
        ("MemTotal: many kB\nMemAvailable:\n", (None, None)),
        ("MemTotal: " + "9" * 40 + " kB\n", (None, None)),
        ("", (None, None)),
    ],
)
def test_memory(tree, tmp_path, text, expected):
    tree("proc", meminfo=text)
    assert memory(tmp_path) == expected


def test_the_load_holds_all_of_it(tree, tmp_path):
    tree("proc", meminfo="MemTotal: 8000 kB\nMemAvailable: 4000 kB")
    tree("sys/firmware/acpi", platform_profile="low-power")
    load = read_load(tmp_path)
    assert (load.power_saver, load.on_battery) == ("low-power", False)
    assert (load.memory_bytes, load.memory_free_bytes) == (8_192_000, 4_096_000)
    assert load.total_s > 0
