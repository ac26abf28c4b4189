"""Forged echo replies on a real socket: right in all but one thing, and never an answer."""

import json
import os
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

pytestmark = [pytest.mark.lab, pytest.mark.once, pytest.mark.usefixtures("require_lab")]

PROGRAM = Path(__file__).with_name("lab_hostile.py")
ROOT = PROGRAM.parents[2]
AS_USER = ["-U", "--map-user=1000", "--map-group=1000", "--keep-caps"]


@cache
def forged(family):
    """Run both kinds of socket against the forger, once for all tests."""
    done = subprocess.run(
        [
            "unshare",
            *([] if os.geteuid() == 0 else AS_USER),
            "-n",
            sys.executable,
            str(PROGRAM),
            str(family),
        ],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.parametrize("kind", ["raw", "datagram"])
@pytest.mark.parametrize("family", [4, 6])
def test_forged_answers_beside_the_true_ones_change_nothing(family, kind):
    found = forged(family)[f"{kind} true"]
    assert found["raw"] == (kind == "raw")
    assert set(found["outcome"]) == {"answered"}
    # Not even as a copy: what is counted came back whole.
    assert set(found["copies"]) == {1}
    assert found["reason"] is None


@pytest.mark.parametrize("kind", ["raw", "datagram"])
@pytest.mark.parametrize("family", [4, 6])
def test_forged_answers_alone_are_no_answers(family, kind):
    found = forged(family)[f"{kind} alone"]
    assert set(found["outcome"]) == {"lost"}
    assert set(found["copies"]) == {0}
    assert set(found["rtt_ms"]) == {None}
    assert found["reason"] == "bad-reply"
