"""A visit on the practice network: what it is told, what it is not, what is added afterwards."""

import json
import os
import select
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest
from test_leaving import family_of

from agent.practice.addresses import plan_addresses
from agent.practice.line_settings import settings_for_line, settings_text
from agent.practice.runner import visit_environment
from agent.settings.loader import load

RUN = """
import subprocess, sys
from dataclasses import replace
from pathlib import Path
from agent.practice.line import FaultChoice
from agent.practice.runner import PracticeVisit, run_practice
from agent.practice.tiers import line_for
from agent.record.model import PracticeTruth
from agent.record.store import add_practice
from agent.settings.loader import load, pick_tier

settings = load(None, {}, {}).settings
tier = pick_tier(settings, "Tern Bay 25/5")
faults = tuple(FaultChoice.parse(text) for text in sys.argv[2].split())
spec = replace(line_for(tier, rtt_ms=7, loss=0.0023, seed=8), faults=faults)
done = run_practice(
    spec,
    PracticeVisit(
        settings=settings,
        reports=Path(sys.argv[1]),
        output=subprocess.DEVNULL,
        tier=tier.name,
        arguments=["--quiet", *sys.argv[3:]],
    ),
    keep=lambda path, truth: add_practice(
        path, PracticeTruth(fault=truth.fault, severity=truth.severity, truth=truth.values)
    ),
    note=lambda text: print(text, file=sys.stderr),
)
sys.exit(done.exit_code)
"""
SHORT = [f"--without={kind}" for kind in ("throughput", "delay", "path", "lease")]
REPOSITORY = Path(__file__).parents[2]


def settings_in_force():
    return load(None, {}, {}).settings


@pytest.fixture
def reports(tmp_path):
    folder = tmp_path / "reports"
    folder.mkdir()
    return folder


def practice(reports, faults, *arguments, path=None):
    environment = {**os.environ, "HOME": str(reports.parent)}
    if path:
        environment["PATH"] = f"{path}{os.pathsep}{environment['PATH']}"
    return subprocess.Popen(
        [sys.executable, "-c", RUN, str(reports), faults, *arguments],
        cwd=REPOSITORY,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )


def of_visits(process):
    """Yield, while it runs, what a process of the visit could read of itself."""
    while not select.select([process.stdout], [], [], 0.05)[0]:
        for child in family_of(process.pid):
            with suppress(OSError):
                command = Path(f"/proc/{child}/cmdline").read_text()
                if "\0visit\0" in command:
                    environment = Path(f"/proc/{child}/environ").read_text()
                    shown = Path(f"/proc/{child}/root/dev/shm/practice.toml").read_text()
                    yield command, environment, shown


def only_record(reports):
    (record,) = reports.glob("*/record.json")
    return json.loads(record.read_text())


@pytest.mark.lab
@pytest.mark.usefixtures("require_lab")
def test_the_visit_cannot_know_the_truth_and_the_record_has_it_afterwards(reports):
    with practice(reports, "slow-line:severe server-down:light", *SHORT) as process:
        seen = list(of_visits(process))
        shown, told = process.communicate(timeout=60)
    assert shown == b""
    assert seen
    # 25 Mbit/s of packets are 25.233 of frames, and three tenths of that is the line.
    for told in {part for parts in seen for part in parts}:
        for secret in ("slow-line", "server-down", "severe", "0.0023", "7570000", "seed"):
            assert secret not in told
    assert process.returncode == 4, told
    record = only_record(reports)
    assert record["practice"]["fault"] == "slow-line+server-down"
    assert record["practice"]["severity"] == "severe+light"
    truth = record["practice"]["truth"]
    assert truth["segment"] == "access"
    assert truth["down_bps"] == pytest.approx(25e6 * 1514 / 1500 * 0.3, abs=1)
    assert truth["loss_up"] == 0.0023


@pytest.mark.lab
@pytest.mark.usefixtures("require_lab")
def test_server_down_is_a_visit_without_a_server(reports):
    with practice(reports, "server-down", *SHORT, "--without=dns") as process:
        _, told = process.communicate(timeout=60)
    assert process.returncode == 4, told
    assert only_record(reports)["practice"]["truth"]["segment"] == "operator"


@pytest.mark.loopback
def test_where_namespaces_are_refused_a_visit_over_loopback_meets_nothing(reports, tmp_path):
    fake = tmp_path / "unshare"
    fake.write_text("#!/bin/sh\necho 'unshare: not permitted here' >&2\nexit 1\n")
    fake.chmod(0o755)
    with practice(reports, "", *SHORT, path=tmp_path) as process:
        _, told = process.communicate(timeout=60)
    assert process.returncode == 4, told
    record = only_record(reports)
    assert b"not permitted here" in told
    assert record["assessment"]["verdict"] == "not-proven"
    assert record["tier"] is None
    assert record["practice"]["truth"] == {"played": "loopback"}


def test_settings_of_the_line_come_back_from_their_own_text(tmp_path):
    addresses = plan_addresses(5, 1)
    wanted = settings_for_line(settings_in_force(), addresses, translated=True)
    file = tmp_path / "line.toml"
    file.write_text(settings_text(wanted))
    assert load(file, {}, {}).settings == wanted
    assert wanted.line.modem_address == addresses.modem
    *plain, secure = wanted.targets.web
    assert [target.marker for target in plain] == [site.marker for site in addresses.sites]
    assert (secure.url, secure.marker) == (
        f"https://{addresses.sites[-1].name}/",
        addresses.sites[-1].marker,
    )


def test_without_translation_the_home_network_is_where_the_line_is_seen_from():
    addresses = plan_addresses(5, 1)
    settings = settings_for_line(settings_in_force(), addresses, translated=False)
    assert settings.line.operator_prefixes == (addresses.lan,)


def test_environment_of_the_visit_holds_no_settings_of_the_users():
    given = {"DOORSTEP_SERVER__CARD": "http://elsewhere/", "https_proxy": "x:1", "LANG": "C"}
    made = visit_environment(given)
    assert not {"DOORSTEP_SERVER__CARD", "https_proxy"} & set(made)
    assert made["LANG"] == "C"
