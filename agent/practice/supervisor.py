"""The first process of the practice network's namespaces: when it ends, everything ends.

Started by `network.PracticeNetwork` through unshare(1). It never outlives the process that started
it: that one's end of the channel closes, this one leaves, and the kernel ends the rest of the
process namespace and with it every other namespace, mount and file of the network.
"""

from __future__ import annotations

import os
import select
import signal
import socket
import sys
from contextlib import suppress
from pathlib import Path
from typing import Any

from agent.errors import PracticeBroken, PracticeRefused
from agent.practice.kernel import mount
from agent.practice.orders import receive_order, say, spec_from
from agent.practice.play import put_on
from agent.practice.spawn import Program, start
from agent.practice.stage import Stage

SCRATCH = Path("/dev/shm")  # noqa: S108 - covered by a private file system of its own
SCRATCH_OPTIONS = "size=64m,mode=755"


class Supervisor:
    """Carries out orders, one after the other, until the channel closes."""

    def __init__(self, channel: socket.socket) -> None:
        self._channel = channel
        self._stage: Stage | None = None
        self._waiting: dict[int, int] = {}

    def run(self) -> None:
        """Serve the channel and reap what ends."""
        woken, wake = os.pipe()
        os.set_blocking(wake, False)
        os.set_blocking(woken, False)
        signal.set_wakeup_fd(wake, warn_on_full_buffer=False)
        signal.signal(signal.SIGCHLD, lambda *_: None)
        while True:
            ready = select.select([self._channel.fileno(), woken], [], [])[0]
            if woken in ready:
                os.read(woken, 4096)
                self._reap()
            if self._channel.fileno() in ready:
                received = receive_order(self._channel)
                if received is None:
                    return
                self._obey(*received)

    def _reap(self) -> None:
        with suppress(ChildProcessError):
            while True:
                child, result = os.waitpid(-1, os.WNOHANG)
                if child == 0:
                    return
                self._miss(child)
                status = self._waiting.pop(child, None)
                if status is not None:
                    say(status, ended=os.waitstatus_to_exitcode(result))
                    os.close(status)

    def _miss(self, child: int) -> None:
        """Leave, and end everything, when a part of the network has ended by itself.

        A visit on a network that has silently changed would be judged against a false truth.
        """
        for name, process in self._stage.services.items() if self._stage else ():
            if process == child:
                sys.exit(f"the {name} of the practice network ended by itself")

    def _obey(self, order: dict[str, Any], descriptors: list[int]) -> None:
        kind = order["order"]
        if kind == "signal":
            self._signal(order["process"], order["number"])
            return
        try:
            if kind == "build":
                self._build(order, descriptors)
            else:
                self._start(order, descriptors)
        except PracticeBroken as error:
            say(descriptors[0], broken=str(error.fields["problem"]))
        except (PracticeRefused, OSError) as error:
            fields = error.fields if isinstance(error, PracticeRefused) else {}
            say(descriptors[0], refused=str(fields.get("problem", error)))
        finally:
            for descriptor in descriptors[1:] if kind == "start" else descriptors[:1]:
                os.close(descriptor)

    def _build(self, order: dict[str, Any], descriptors: list[int]) -> None:
        status, counters, log = descriptors
        self._stage, played = put_on(spec_from(order["spec"]), SCRATCH, counters, log)
        say(status, laptop=played.laptop, translates=played.translates, built_in=played.built_in)

    def _start(self, order: dict[str, Any], descriptors: list[int]) -> None:
        if self._stage is None:
            return
        status, *streams = descriptors
        for name, text in order["files"].items():
            (SCRATCH / name).write_text(text)
        program = Program(
            argv=order["argv"],
            environment={**order["environment"], **self._stage.surroundings(order["host"])},
            folder=order["folder"],
            streams=(streams[0], streams[1], streams[2]),
            plain=order["plain"],
            attached=order["attached"],
        )
        child = start(self._stage.place(order["host"]), program)
        self._waiting[child] = status
        say(status, process=child)

    def _signal(self, process: int, number: int) -> None:
        if process in self._waiting:
            os.kill(process, number)


def main() -> None:
    """Run on the channel whose descriptor is the only argument."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    mount("none", str(SCRATCH), "tmpfs", data=SCRATCH_OPTIONS)
    Supervisor(socket.socket(fileno=int(sys.argv[1]))).run()


if __name__ == "__main__":
    main()
