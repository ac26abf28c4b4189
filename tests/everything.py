"""Install what the tests need and run all of them: style, types, tests.

    python tests/everything.py            everything
    python tests/everything.py --coverage the same, slower, and which lines and branches ran
    python tests/everything.py --lab      the practice network's tests that every user must pass

Debian packages are installed when this runs as root on a system that has apt-get; without them
the tests that need one say so and skip, or fail where REQUIRE_LAB=1.
"""

import argparse
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
DEBIAN_PACKAGES = {
    "chronyd": "chrony",
    "dbus-daemon": "dbus-daemon",
    "dnsmasq": "dnsmasq-base",
    "kea-dhcp4": "kea-dhcp4-server",
    "kea-dhcp6": "kea-dhcp6-server",
    "networkctl": "systemd",
    "radvd": "radvd",
    "nft": "nftables",
    "unbound": "unbound",
    "nginx": "nginx-light",
    "vsftpd": "vsftpd",
    "tcpdump": "tcpdump",
    "tshark": "tshark",
    "ip": "iproute2",
    "ethtool": "ethtool",
    "unshare": "util-linux",
    "setpriv": "util-linux",
    "chromium": "chromium",
    "pdftoppm": "poppler-utils",
    "qpdf": "qpdf",
    "npm": "npm",
    "tmux": "tmux",
}
# What checks that a page can be read by everybody; it comes from the npm registry alone.
AXE = "axe-core@4"


def missing_packages() -> list[str]:
    """Return the Debian packages whose programs are not here."""
    places = f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin"
    wanted = {p for tool, p in DEBIAN_PACKAGES.items() if shutil.which(tool, path=places) is None}
    return sorted(wanted)


def install_packages() -> None:
    """Install the missing Debian packages where this user may."""
    missing = missing_packages()
    if not missing:
        return
    if os.geteuid() != 0 or shutil.which("apt-get") is None:
        print(f"Not installed, tests that need them will say so: {', '.join(missing)}", flush=True)
        return
    environment = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    install = ["apt-get", "install", "-y", "-q", "--no-install-recommends", *missing]
    for command in (["apt-get", "update", "-q"], install):
        subprocess.run(command, check=True, env=environment, stdout=subprocess.DEVNULL)


def install_axe() -> None:
    """Install axe-core beside this Python's own packages, where a browser's tests look for it."""
    place = Path(sys.prefix) / "share" / "npm"
    if (place / "node_modules" / "axe-core").is_dir():
        return
    npm = shutil.which("npm")
    if npm is None or not os.access(sys.prefix, os.W_OK):
        print("axe-core is not installed: tests that need it will say so", flush=True)
        return
    options = ("--no-save", "--no-audit", "--no-fund", "--loglevel=error")
    command = [npm, "install", "--prefix", str(place), *options, AXE]
    subprocess.run(command, check=False, stdout=subprocess.DEVNULL)


def run(*command: str) -> bool:
    """Run one command in the repository; return True where it passed."""
    print(f"$ {' '.join(command)}", flush=True)
    path = f"{Path(sys.executable).parent}:{os.environ.get('PATH', '')}:/usr/sbin:/sbin"
    environment = os.environ | {"PATH": path}
    return subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode == 0


def main() -> int:
    """Run what was asked for and return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lab", action="store_true", help="only the lab, for another user")
    parser.add_argument("--coverage", action="store_true", help="also count what ran")
    parser.add_argument("pytest", nargs="*", help="further arguments for pytest, after --")
    asked = parser.parse_args()
    install_packages()
    if not asked.lab:
        install_axe()
    python = sys.executable
    pytest = (python, "-m", "pytest", *asked.pytest)
    # Pure tests keep both processors busy to the end; the lab mostly waits, so three share them.
    two = ("-n", "2", "--dist", "worksteal")
    three = ("-n", "3", "--dist", "loadfile")
    if asked.lab:
        return 0 if run(*pytest, "-m", "lab and not rate and not once", *three) else 1
    first = ("--cov=agent", "--cov-report=") if asked.coverage else ()
    more = ("--cov=agent", "--cov-append", "--cov-report=term:skip-covered")
    more = more if asked.coverage else ()
    # A test of a rate has the machine to itself; everything else shares it.
    steps = (
        (python, "-m", "ruff", "check", "agent", "tests"),
        (python, "-m", "ruff", "format", "--check", "agent", "tests"),
        (python, "-m", "mypy", "agent"),
        (*pytest, "-m", "not lab", *two, *first),
        (*pytest, "-m", "lab and not rate", *three, *more),
        (*pytest, "-m", "rate", *more),
    )
    passed = [run(*step) for step in steps]
    return 0 if all(passed) else 1


if __name__ == "__main__":
    raise SystemExit(main())
