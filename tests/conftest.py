"""What every test may ask for: the practice network's preconditions, and a clean environment."""

import os
import subprocess

import pytest


def _namespaces_refused() -> str | None:
    """Return why network namespaces cannot be made here, None where they can."""
    probe = ["unshare", "-n", "true"]
    if os.geteuid() != 0:
        probe = [
            "unshare",
            "-U",
            "--map-user=1000",
            "--map-group=1000",
            "--keep-caps",
            "-n",
            "true",
        ]
    try:
        done = subprocess.run(probe, capture_output=True, text=True, timeout=10, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        return str(error)
    return None if done.returncode == 0 else done.stderr.strip()


@pytest.fixture(scope="session")
def require_lab():
    """Skip with a reason where namespaces are refused; fail there when REQUIRE_LAB=1."""
    refusal = _namespaces_refused()
    if refusal is None:
        return
    message = f"network namespaces are refused here: {refusal}"
    if os.environ.get("REQUIRE_LAB") == "1":
        pytest.fail(message)
    pytest.skip(message)


@pytest.fixture(autouse=True)
def _plain_environment(monkeypatch):
    """Remove what a developer's shell may bring in: settings, proxies, colour."""
    for name in list(os.environ):
        if name.startswith("DOORSTEP_") or name.lower().endswith("_proxy") or name == "NO_COLOR":
            monkeypatch.delenv(name)
