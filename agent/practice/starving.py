"""A laptop whose processor is taken by other work, without taking this computer's.

The programs started on the laptop are stopped and let go on in turn, as a scheduler does with one
of many, and the laptop's own file of processor times shows the rest as used. Nothing runs for it,
so the network under the visit keeps the time it needs.
"""

from __future__ import annotations

import os
import random
import signal
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from agent.practice.kernel import MS_BIND, mount

PERIOD_S = 0.2
UNEVEN = 0.25
"""Turns are so much shorter or longer, drawn by the seed."""

STAT = "/proc/stat"
USER, IDLE = 1, 4
"""Fields of a line of /proc/stat after its name (proc_stat(5))."""

WIDEST = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Starving:
    """How the programs of the laptop run: `share` of the time; `shown` is laid over /proc/stat."""

    share: float
    shown: Path
    seed: int

    def run(self) -> None:
        """Stop and let go until the process ends."""
        true = os.open(STAT, os.O_RDONLY)
        first = os.pread(true, WIDEST, 0).decode("ascii", "replace")
        self.shown.write_text(taken_times(first, self.share))
        mount(str(self.shown), STAT, None, MS_BIND)
        shown = os.open(self.shown, os.O_WRONLY)
        draw = random.Random(f"{self.seed} starving")
        while True:
            turn = PERIOD_S * draw.uniform(1 - UNEVEN, 1 + UNEVEN)
            _signal(signal.SIGSTOP)
            time.sleep(turn * (1 - self.share))
            _signal(signal.SIGCONT)
            now = os.pread(true, WIDEST, 0).decode("ascii", "replace")
            os.pwrite(shown, taken_times(now, self.share).encode(), 0)
            time.sleep(turn * self.share)


def taken_times(text: str, share: float) -> str:
    """Return the processor lines of /proc/stat, all idle time but a share of it as used."""
    lines = (line.split() for line in text.splitlines() if line.startswith("cpu"))
    return "".join(f"{' '.join(_taken(line, share))}\n" for line in lines)


def _taken(fields: list[str], share: float) -> list[str]:
    taken = int(int(fields[IDLE]) * (1 - share))
    changed = {USER: int(fields[USER]) + taken, IDLE: int(fields[IDLE]) - taken}
    return [str(changed.get(place, field)) for place, field in enumerate(fields)]


def _signal(number: int) -> None:
    """Send a signal to every program started on this host but the network's own."""
    here, own = Path("/proc/self/ns/net").readlink(), Path("/proc/self/cmdline").read_bytes()
    for folder in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            if (folder / "ns/net").readlink() != here:
                continue
            if (folder / "cmdline").read_bytes() not in (own, b""):
                os.kill(int(folder.name), number)
