"""The prober's own side of the channel: orders in, measurements out, several at a time."""

from __future__ import annotations

import socket
import threading
from collections.abc import Sequence
from typing import Any

from agent.clock import Clock
from agent.errors import printable
from agent.record.typed import measurement_document
from agent.session.prober.channel import Channel, Message
from agent.session.prober.job import Job, ProberMeans
from agent.session.prober.order import order_of


class Prober:
    """Serves one channel until its end."""

    def __init__(self, channel: Channel, means: ProberMeans, clock: Clock) -> None:
        self._channel = channel
        self._means = means
        self._clock = clock
        self._jobs: dict[int, Job] = {}
        self._turn = threading.Lock()

    def serve(self) -> None:
        """Take orders until the other side closes the channel."""
        while (message := self._channel.receive()) is not None:
            number = int(message.document["number"])
            if message.document["do"] == "end":
                self._jobs.pop(number).end()
                continue
            job = self._job(message)
            self._jobs[number] = job
            threading.Thread(target=self._run, args=(number, job), daemon=True).start()

    def _job(self, message: Message) -> Job:
        raws = [socket.socket(fileno=number) for number in message.descriptors]
        return Job(order_of(message.document), self._means, self._clock, raws)

    def _run(self, number: int, job: Job) -> None:
        try:
            found = job.run(lambda: self._say(number, "ready"))
        except Exception as error:  # noqa: BLE001 - the other side must not wait for nothing
            self._say(number, "failed", problem=printable(error))
            return
        documents: Sequence[Any] = [measurement_document(one) for one in found]
        self._say(number, "done", bytes=job.bytes_used, measurements=documents)

    def _say(self, number: int, what: str, **more: object) -> None:
        with self._turn:
            self._channel.send({"said": what, "number": number, **more})
