"""Whole visits behind the practice modem: verdict, place of the fault, record, pages, leftovers."""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = [pytest.mark.lab, pytest.mark.usefixtures("require_lab"), pytest.mark.timeout(180)]

BRIEF = """
[[plans]]
name = "brief"
server_echo = { count = 800, interval_s = 0.003 }
near_echo = { count = 100, interval_s = 0.02 }
throughput = { seconds = 4.0 }
"""


@pytest.fixture
def practise(tmp_path):
    """Run `doorstep practice` with a brief plan; return the process and the visit's folder."""
    settings = tmp_path / "brief.toml"
    settings.write_text(BRIEF)
    out = tmp_path / "reports"

    def run(*arguments):
        command = [
            *(sys.executable, "-m", "agent", "practice", *arguments),
            f"--settings={settings}",
            "--plan=brief",
            f"--out={out}",
        ]
        done = subprocess.run(
            command, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL
        )
        found = sorted(out.glob("*/record.json"))
        assert len(found) == 1, done.stderr
        return done, found[0].parent

    return run


def record_in(folder):
    """Return the record of a visit's folder."""
    return json.loads((folder / "record.json").read_text())


def beside_transfers(record):
    """Return the kinds that ran, in part, while a transfer filled the line."""
    spans = [
        (m["kind"], m["started_s"], m["started_s"] + m["duration_s"])
        for m in record["measurements"]
    ]
    filled = [(began, ended) for kind, began, ended in spans if kind == "throughput"]
    assert len(filled) == 2
    return {
        kind
        for kind, began, ended in spans
        if kind != "throughput" and any(began < end and ended > start for start, end in filled)
    }


def test_a_healthy_line_meets_and_leaves_a_whole_record_with_its_pages(practise):
    done, folder = practise("--rtt", "15")
    record = record_in(folder)
    assert done.returncode == 0, done.stdout + done.stderr
    assert record["assessment"]["verdict"] == "meets"
    assert record["diagnosis"]["segment"] == "none"
    assert {m["state"] for m in record["measurements"]} == {"complete"}
    assert {m["kind"] for m in record["measurements"]} == set(record["plan"])
    assert beside_transfers(record) <= {"delay"}
    assert (folder / "sheet.html").read_bytes().startswith(b"<!doctype html>")
    assert (folder / "sheet.pdf").read_bytes().startswith(b"%PDF-")
    whole = subprocess.run(
        [sys.executable, "-m", "agent", "verify", str(folder)], capture_output=True, check=False
    )
    assert whole.returncode == 0


def test_a_healthy_line_meets_from_the_modem_itself(practise):
    done, folder = practise("--home", "at-modem", "--rtt", "15")
    record = record_in(folder)
    assert done.returncode == 0, done.stdout + done.stderr
    assert record["visit"]["plugged_into"] == "modem"
    assert record["assessment"]["verdict"] == "meets"
    assert record["diagnosis"]["segment"] == "none"
    faults = [f for f in record["diagnosis"]["findings"] if f["segment"] != "none"]
    assert faults == []


def test_a_modem_that_keeps_the_last_device_is_named_with_the_way_to_free_it(practise):
    done, folder = practise("modem-bound")
    found = record_in(folder)["diagnosis"]["findings"][0]
    assert (found["code"], found["segment"]) == ("no-lease", "modem")
    assert found["next_step"] == "restart-modem-alone"
    assert done.returncode == 3


def test_a_fault_of_the_home_is_refused_at_the_modem():
    command = [sys.executable, "-m", "agent", "practice", "gateway-dead", "--home", "at-modem"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "gateway-dead needs a router" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.rate
def test_half_the_tier_is_below_and_placed_on_the_access_line(practise):
    done, folder = practise("--down", "50M", "--up", "5M")
    record = record_in(folder)
    assert done.returncode == 3
    assert record["assessment"]["verdict"] == "below"
    assert record["diagnosis"]["segment"] == "access"
    assert record["diagnosis"]["findings"][0]["next_step"] == "check-profile-then-levels"


@pytest.mark.parametrize(
    ("fault", "segment", "codes", "still_measured"),
    [
        ("no-lease", "home", {3}, {"link", "lease"}),
        pytest.param("server-down", "operator", {4}, {"dns", "http"}, marks=pytest.mark.rate),
    ],
)
def test_each_fault_is_placed_in_its_own_segment_with_a_next_step(
    practise, fault, segment, codes, still_measured
):
    done, folder = practise(fault, "--seed", "7")
    record = record_in(folder)
    assert record["diagnosis"]["segment"] == segment
    assert record["practice"]["fault"] == fault
    assert record["practice"]["truth"]["segment"] == segment
    assert record["diagnosis"]["findings"][0]["next_step"]
    assert done.returncode in codes
    complete = {m["kind"] for m in record["measurements"] if m["state"] == "complete"}
    assert still_measured <= complete
    unmeasured = [m for m in record["measurements"] if m["state"] != "complete"]
    assert all(m["reason"] for m in unmeasured)


@pytest.mark.rate
def test_a_pppoe_handover_without_offer_is_no_fault(practise):
    done, folder = practise("--handover", "pppoe")
    record = record_in(folder)
    assert done.returncode == 0, done.stderr
    assert record["diagnosis"]["findings"] == []


def test_ctrl_c_writes_what_was_measured_and_marks_the_rest(tmp_path):
    out = tmp_path / "reports"
    command = [sys.executable, "-m", "agent", "practice", f"--out={out}", f"--log={tmp_path}/log"]
    log = tmp_path / "log"
    with subprocess.Popen(command, stderr=subprocess.PIPE, start_new_session=True) as process:
        _wait_for(log, "begins: delay")
        os.killpg(process.pid, signal.SIGINT)
        assert process.wait(60) == 4
    (path,) = out.glob("*/record.json")
    record = json.loads(path.read_text())
    states = {m["kind"]: m["state"] for m in record["measurements"]}
    assert states["link"] == "complete"
    assert states["throughput"] == "skipped"
    assert record["notes"] == ["cut-short"]


def _wait_for(path, text, tries=600):
    """Wait until a file holds a text, a tenth of a second at a time."""
    waiting = subprocess.Popen(
        ["sh", "-c", f'until grep -q "{text}" "{path}" 2>/dev/null; do sleep 0.1; done']
    )
    try:
        waiting.wait(tries / 10)
    finally:
        waiting.kill()
        waiting.wait()
    assert text in Path(path).read_text()
