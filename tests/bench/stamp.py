"""What authenticated mode costs, and whether losses of each way are those of the line's own log.

    python tests/bench/stamp.py cost      microseconds per packet at both ends, bits on the line
    python tests/bench/stamp.py split     forward and backward losses over the practice network

The split is compared packet by packet with what the line lost. "Open" are unanswered probes whose
direction the reflector's counts alone leave open; "wrong" must be 0 in both columns.
"""

import json
import os
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from subprocess import PIPE
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT)]

from agent.codec import stamp, stamp_authenticated  # noqa: E402 - the package is beside
from agent.practice.line import LineSpec  # noqa: E402
from agent.practice.network import PracticeNetwork  # noqa: E402
from agent.server.options import ReflectorLimits  # noqa: E402
from agent.server.reflection import Arrival, reply_to  # noqa: E402
from agent.server.sessions import SessionBook  # noqa: E402

LAB = str(ROOT / "tests" / "probes" / "lab_stamp.py")
HERE = "203.0.113.7"
ROUNDS, PACKETS = 7, 4_000
FRAME_BYTES = 42  # UDP, IPv4 and Ethernet headers
PORT = 8642
COUNT, INTERVAL_S = 1_000, 0.004
LINES = [
    (loss_up, loss_down, burst)
    for burst in (1.0, 8.0)
    for loss_up, loss_down in ((0.01, 0.01), (0.05, 0.0), (0.0, 0.05), (0.2, 0.2))
]


def per_packet_us(work: Callable[[int], object]) -> float:
    """Return the least time of several rounds, microseconds for one packet."""
    best = float("inf")
    for _ in range(ROUNDS):
        began = time.perf_counter()
        for number in range(PACKETS):
            work(number)
        best = min(best, time.perf_counter() - began)
    return best / PACKETS * 1e6


def cost() -> None:
    """Print the table of costs."""
    print(f"{'':34}{'plain':>10}{'under key':>11}{'more':>8}")
    plain, keyed = _costs(None), _costs(bytes(range(32)))
    for name in plain:
        print(f"{name:34}{plain[name]:10.2f}{keyed[name]:11.2f}{keyed[name] - plain[name]:8.2f}")
    sizes = (
        stamp.BASE_LENGTH + FRAME_BYTES,
        stamp_authenticated.AUTHENTICATED_LENGTH + FRAME_BYTES,
    )
    print(f"{'octets of frame':34}{sizes[0]:10}{sizes[1]:11}{sizes[1] - sizes[0]:8}")
    rates = [size * 8 / INTERVAL_S / 1e3 for size in sizes]
    row = "".join(f"{rate:10.0f}" for rate in rates)
    print(f"{'kbit/s each way, 250 packets/s':34}{row} {rates[1] - rates[0]:8.0f}")


def _costs(key: bytes | None) -> dict[str, float]:
    limits = ReflectorLimits(packets_per_s=10**9, max_packets=10**6)
    book = SessionBook(limits, port=862)
    grant = book.open(HERE, HERE, 0.0, authenticated=key is not None)
    assert grant is not None
    secret = grant.secret

    def sender(number: int) -> bytes:
        packet = stamp.SenderPacket(sequence=number, timestamp=1 << 63, ssid=grant.ssid)
        if secret is None:
            return stamp.encode_sender(packet)
        return stamp_authenticated.encode_authenticated_sender(packet, secret)

    def reply(number: int) -> bytes:
        made = reply_to(
            Arrival(data=requests[number], address=HERE, at_ns=1, hop_limit=60), book, 0.0
        )
        assert made is not None
        return bytes(made.stamped(7))

    def decode(_number: int) -> object:
        if secret is None:
            return stamp.decode_reflector(answer)
        return stamp_authenticated.decode_authenticated_reflector(answer, secret)

    requests = [sender(number) for number in range(PACKETS)]
    answer = reply(0)
    return {
        "sender writes, us": per_packet_us(sender),
        "reflector checks and answers, us": per_packet_us(reply),
        "sender checks and reads, us": per_packet_us(decode),
    }


def split() -> None:
    """Print the table of splits."""
    names = ("up", "down", "burst", "mode", "probes", "lost there", "lost back")
    heads = (*names, "wrong by log", "open by counts", "wrong by counts")
    print("".join(f"{head:>16}" for head in heads))
    for place, (up, down, burst) in enumerate(LINES):
        mode = "authenticated" if place % 2 == 0 else "plain"
        found, there, back = _measured(up, down, burst, mode, seed=40 + place)
        print("".join(f"{cell:>16}" for cell in (up, down, burst, mode, *_row(found, there, back))))


def _measured(
    up: float, down: float, burst: float, mode: str, *, seed: int
) -> tuple[dict[str, Any], set[int], set[int]]:
    os.environ["PYTHONPATH"] = str(ROOT)
    spec = LineSpec(
        down_bps=100_000_000, up_bps=20_000_000, rtt_ms=20, loss_up=up, loss_down=down,
        burst=burst, seed=seed,
    )  # fmt: skip
    with PracticeNetwork(spec) as network:
        argv = [sys.executable, "-m", "agent", "serve", "--host", network.server.address]
        with network.server.popen([*argv, "--port", str(PORT), "--reflector-port", str(PORT)]) as s:
            while b"Serving" not in s.stderr.readline():
                pass
            lab = [sys.executable, LAB, network.server.address, str(PORT), str(COUNT)]
            with network.laptop.popen([*lab, str(INTERVAL_S), mode], stdin=PIPE) as process:
                for _ in range(2):
                    process.stdout.readline()
                    process.stdin.write(b"\n")
                found = json.loads(process.stdout.readline())
            s.send_signal(signal.SIGINT)
            s.wait(10)
        return found, *_lost(network.losses(), found["by_report"]["all"])


def _lost(logged: tuple[dict[str, Any], ...], arrived: list[int]) -> tuple[set[int], set[int]]:
    """Return the probes that the line lost on the way there, and those whose answers it lost."""
    lost: dict[str, set[int]] = {"up": set(), "down": set()}
    for entry in logged:
        packet = bytes.fromhex(entry["packet"])
        port = packet[22:24] if entry["way"] == "up" else packet[20:22]
        if packet[9] == 17 and int.from_bytes(port, "big") == PORT:
            lost[entry["way"]].add(int.from_bytes(packet[28:32], "big"))
    there = {number for number in lost["up"] if number < COUNT}
    own = [number for number in range(COUNT + len(lost["up"]) + 100) if number not in lost["up"]]
    # An answer in the log bears the reflector's own number: what arrived there, counted by the log.
    assert arrived == own[: len(arrived)]
    return there, {own[number] for number in lost["down"] if own[number] < COUNT}


def _row(found: dict[str, Any], there: set[int], back: set[int]) -> tuple[object, ...]:
    by_log, by_counts = found["by_report"]["received"], found["by_counts"]["received"]
    unanswered = [n for n, outcome in enumerate(found["outcome"]) if outcome == "lost"]
    assert set(unanswered) == there | back
    wrong_log = sum(by_log[n] is not (n not in there) for n in range(COUNT))
    left = sum(by_counts[n] is None for n in unanswered)
    wrong = sum(by_counts[n] not in (None, n not in there) for n in range(COUNT))
    arrivals = found["by_counts"]["arrivals"]
    assert arrivals in (None, COUNT - len(there))
    return COUNT, len(there), len(back), wrong_log, left, wrong


if __name__ == "__main__":
    {"cost": cost, "split": split}[sys.argv[1] if len(sys.argv) > 1 else "cost"]()
