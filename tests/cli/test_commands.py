"""The command line: names, exit codes, what goes to which stream; no network."""

import json
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from agent import __version__
from agent.cli.app import app
from agent.cli.asked import rate_bps, size_bytes
from agent.errors import UsageError

COMMANDS = ("visit", "measure", "sheet", "compare", "verify", "serve", "practice", "settings")
HEAVY = ("httpx", "scapy", "icmplib", "pydantic", "rich")


def run(*arguments):
    """Run the command line in this process."""
    return CliRunner().invoke(app, list(arguments))


def test_help_names_every_command_and_nothing_that_does_not_work():
    done = run("--help")
    assert done.exit_code == 0
    listed = done.stdout[done.stdout.index("Commands:") :].splitlines()[1:]
    assert {line.split()[0] for line in listed if line[:3].strip()} == set(COMMANDS)


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself_with_an_example(command):
    done = run(command, "--help")
    assert done.exit_code == 0
    if command != "settings":
        assert "Example: doorstep" in done.stdout


def test_the_version_is_told():
    done = subprocess.run(
        [sys.executable, "-m", "agent", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout == f"doorstep {__version__}\n"


def test_help_loads_none_of_the_heavy_libraries():
    look = (
        "import sys; sys.argv = ['doorstep', '--help']\n"
        "from agent.__main__ import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", look], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("visit", "--tier", "no such tier"), "no such tier"),
        (("visit", "--plan", "no such plan"), "no such plan"),
        (("visit", "--settings", "no-such-file.toml"), "no-such-file.toml"),
        (("visit", "--server", "ftp.example"), "--server"),
        (("visit", "--max-data", "lots"), "--max-data"),
        (("visit", "--reading", "modem timeouts few"), "--reading"),
        (("practice", "no-such-fault"), "no-such-fault"),
        (("practice", "lossy-line:dreadful"), "dreadful"),
        (("practice", "--down", "fast"), "--down"),
        (("practice", "--loss", "2"), "--loss"),
        (("measure", "everything"), "everything"),
        (("visit", "--no-such-option"), "--no-such-option"),
    ],
)
def test_wrong_usage_is_exit_2_with_the_place_named(arguments, said):
    done = subprocess.run(
        [sys.executable, "-m", "agent", *arguments],
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
    )
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def test_settings_are_checked_shown_and_described(tmp_path):
    assert run("settings", "check").exit_code == 0
    schema = json.loads(run("settings", "schema").stdout)
    assert "plans" in schema["properties"]
    mine = tmp_path / "company.toml"
    mine.write_text('[identity]\ncompany = "Tern Bay Fibre"\n')
    shown = run("settings", "show", "--settings", str(mine)).stdout
    assert 'identity.company = "Tern Bay Fibre"' in shown
    assert "company.toml" in shown


def test_faulty_settings_are_exit_2_and_all_faults_are_listed(tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text('[identity]\ncompani = "x"\n[line]\nmodem_address = "nowhere"\n')
    done = run("settings", "check", "--settings", str(bad))
    assert done.exit_code == 2
    assert "compani" in done.stderr
    assert "modem_address" in done.stderr


def test_tiers_are_listed_and_searched(tmp_path):
    every = run("settings", "tiers")
    assert every.exit_code == 0
    assert max(map(len, every.stdout.splitlines())) <= 80
    few = run("settings", "tiers", "CABLE", "100m").stdout
    assert "Tern Bay 100/20" in few
    assert "Tern Bay 300/30" not in few
    none = run("settings", "tiers", "fiber", "7M")
    assert none.exit_code == 2
    assert none.stdout == ""
    assert "No tier fits 'fiber 7M'. Nearest: Tern Bay 250/100" in none.stderr
    assert run("settings", "tiers", "//").exit_code == 2


def test_what_is_odd_is_said_beside_sound_settings(tmp_path):
    odd = tmp_path / "odd.toml"
    odd.write_text(
        '[[tiers]]\nname = "Home"\ndown_bps = 20_000_000\nup_bps = 5_000_000\nprovisioned = 0.95\n'
    )
    done = run("settings", "check", "--settings", str(odd))
    assert done.exit_code == 0
    assert "The settings are sound" in done.stdout
    assert "Worth a look: " in done.stderr
    assert "tiers.Home.provisioned" in done.stderr


def test_the_practice_faults_are_listed_with_their_place():
    lines = run("practice", "--list").stdout.splitlines()
    assert any(line.startswith("slow-line") and " access " in line for line in lines)


def test_the_practice_homes_are_listed_and_no_other_is_played():
    assert "\ndual-stack " in run("practice", "--list").stdout
    refused = run("practice", "--home", "castle")
    assert refused.exit_code == 2
    assert "dual-stack" in refused.stderr


@pytest.mark.parametrize(
    ("text", "expected"),
    [("200M", 200_000_000), ("1.5G", 1_500_000_000), ("750k", 750_000), ("1234", 1234)],
)
def test_sizes_and_rates_are_decimal(text, expected):
    """IEC 80000-13: k, M and G are powers of ten."""
    assert size_bytes(text, "--max-data") == expected
    assert rate_bps(text, "--down") == expected


@pytest.mark.parametrize("text", ["", "M", "-5M", "5 Mbit/s", "1e9", "0x10"])
def test_other_sizes_are_refused(text):
    with pytest.raises(UsageError, match="--max-data"):
        size_bytes(text, "--max-data")
