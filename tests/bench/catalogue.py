"""Print how long a catalogue of 200 tiers takes to load, check and search, and the whole command.

The catalogue is made in a temporary folder. Load reads all settings and checks them, check runs the
rules alone once more, search looks for a name, for words that fit nothing, and for a rate.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from practice_visits import ROOT, table

sys.path[:0] = [str(Path(__file__).parents[2])]

from agent.errors import UsageError  # noqa: E402 - the package is beside
from agent.settings.catalogue import found_tiers  # noqa: E402 - as above
from agent.settings.checks import Parts, problems  # noqa: E402 - as above
from agent.settings.choose import pick_tier  # noqa: E402 - as above
from agent.settings.loader import load  # noqa: E402 - as above

TIERS, RUNS = 200, 10
ACCESS = ("fibre", "cable", "dsl", "wireless")
LAYERS = ("payload", "ip", "frame", "docsis-frame", "wire")


def entry(number):
    """Return one tier with everything that a tier may say."""
    down, up = 5_000_000 * number, 1_000_000 * number
    rates = {"minimum": 0.6, "normal": 0.8, "maximum": 1, "advertised": 1}
    promised = "\n".join(
        f"{name} = {{ down_bps = {round(down * share)}, up_bps = {round(up * share)} }}"
        for name, share in rates.items()
    )
    return (
        f'[[tiers]]\nname = "Tern Bay {5 * number}/{number}"\ndown_bps = {down}\nup_bps = {up}\n'
        f'layer = "{LAYERS[number % 5]}"\naccess = "{ACCESS[number % 4]}"\n'
        f"accept = {{ down = 0.8, up = 0.8 }}\n{promised}\nprovisioned = 1.1\n"
    )


def ms(work):
    """Return the median wall time of some runs, in ms."""
    taken = []
    for _ in range(RUNS):
        began = time.perf_counter()
        work()
        taken.append((time.perf_counter() - began) * 1000)
    return f"{statistics.median(taken):.1f}"


def nothing_fits(tiers):
    """Look for words that fit no tier, with the nearest names for the error."""
    try:
        found_tiers(tiers, ("Tern Buy", "1234/567"))
    except UsageError:
        return
    raise AssertionError


def main():
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "catalogue.toml"
        path.write_text('replaces = ["tiers"]\n' + "".join(map(entry, range(1, TIERS + 1))))
        settings = load(path, {}, {}).settings
        assert len(settings.tiers) == TIERS
        names = set(Parts.model_fields) - {"fitness"}
        parts = Parts.model_validate({name: getattr(settings, name) for name in names})
        command = [sys.executable, "-m", "agent", "settings", "tiers", f"--settings={path}"]
        rows = [
            ("load and check all settings", ms(lambda: load(path, {}, {}))),
            ("check alone", ms(lambda: list(problems(parts)))),
            ("pick one by name", ms(lambda: pick_tier(settings, "tern bay 1000-200"))),
            ("search, one fits", ms(lambda: found_tiers(settings.tiers, ("tern", "1000/200")))),
            ("search, a rate", ms(lambda: found_tiers(settings.tiers, ("50M", "dsl")))),
            ("search, none fits", ms(lambda: nothing_fits(settings.tiers))),
            ("doorstep settings tiers, all", ms(lambda: whole(command))),
            ("doorstep settings tiers 50M", ms(lambda: whole([*command, "50M"]))),
            ("doorstep settings check", ms(lambda: whole([*command[:4], "check", command[-1]]))),
        ]
    table((f"{TIERS} tiers, medians of {RUNS}", "ms"), rows)


def whole(command):
    """Run a command as a process of its own."""
    subprocess.run(command, cwd=ROOT, capture_output=True, check=True)


if __name__ == "__main__":
    main()
