"""Training behind the practice modem for real: hidden until answered, explained afterwards."""

import json
import os
import select
import subprocess
import sys
import time

import pytest

pytestmark = [
    pytest.mark.lab,
    pytest.mark.once,
    pytest.mark.usefixtures("require_lab"),
    pytest.mark.timeout(120),
]

SHORT = [f"--without={kind}" for kind in ("throughput", "delay", "reach")]


def guessing(out, tmp_path):
    """Start training on a dead resolver, without what takes long."""
    return subprocess.Popen(
        [
            *(sys.executable, "-m", "agent", "practice", "--guess", "dead-dns", "--seed=3"),
            *SHORT,
            f"--out={out}",
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "TMPDIR": str(tmp_path)},
    )


def read_until(pipe, wanted, seconds=60):
    """Return what a pipe gave until the wanted text, which it must give in time."""
    got, until = b"", time.monotonic() + seconds
    while wanted not in got:
        assert select.select([pipe], [], [], max(0, until - time.monotonic()))[0], got
        part = os.read(pipe.fileno(), 65536)
        assert part, got
        got += part
    return got


def test_nothing_tells_before_the_answers_and_everything_is_explained_after(tmp_path):
    out, hidden = tmp_path / "reports", tmp_path / "tmp"
    hidden.mkdir()
    with guessing(out, hidden) as process:
        page = read_until(process.stdout, b"once the answers are in")
        asked = read_until(process.stderr, b"Number or word")
        assert list(out.iterdir()) == []
        for secret in (b"dead-dns", b"Findings", b"Next step", b"Likely"):
            assert secret not in page + asked
        shown, told = process.communicate(b"operator\nnone\n", timeout=60)
    assert process.returncode == 0, told
    text = " ".join(shown.decode().split())
    assert "Right: operator." in text
    assert "Not right: nothing wrong. It was: dead-dns." in text
    assert "Names (DNS), " in text
    assert "0 of " in text
    (record,) = out.glob("*/record.json")
    assert json.loads(record.read_text())["practice"]["fault"] == "dead-dns"
    assert {path.name for path in record.parent.iterdir()} == {
        "record.json",
        "sheet.html",
        "sheet.pdf",
    }
    assert list(hidden.iterdir()) == []
