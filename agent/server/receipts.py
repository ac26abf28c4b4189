"""What arrived of each upload, per tenth of a second, kept for a while by the client's run id.

Times are monotonic seconds, given by the caller.
"""

from __future__ import annotations

import threading
from array import array
from dataclasses import dataclass, field

from agent.codec.card import MAX_SLICES, SLICE_S, UploadReceipt

KEPT_S = 300.0
MAX_RUNS = 1_024
MAX_RUNS_OF_A_CLIENT = 64


class Flow:
    """The body of one connection; written by its own thread only."""

    __slots__ = ("bytes", "complete", "first_s", "last_s", "origin_s", "run_id", "slices")

    def __init__(self, run_id: str = "") -> None:
        self.run_id = run_id
        self.bytes = 0
        self.complete = False
        self.first_s: float | None = None
        self.last_s = 0.0
        self.origin_s = 0.0
        self.slices = array("Q")

    def add(self, count: int, now_s: float) -> None:
        """Add bytes to the slice of this moment; what comes past the last slice stays in it."""
        place = min(int((now_s - self.origin_s) / SLICE_S), MAX_SLICES - 1)
        missing = place + 1 - len(self.slices)
        if missing > 0:
            self.slices.extend([0] * missing)
        self.slices[place] += count
        self.bytes += count
        self.last_s = now_s

    def receipt(self) -> UploadReceipt:
        """Return what this connection alone delivered, on the time scale of its run."""
        return summed([self], complete=self.complete, flows=1)


@dataclass(slots=True)
class _Run:
    client: str
    touched_s: float
    origin_s: float | None = None
    open: list[Flow] = field(default_factory=list)
    ended: Flow = field(default_factory=Flow)
    flows: int = 0
    broken: bool = False


class ReceiptBook:
    """The runs of the last minutes; the least recently used goes first when there are too many."""

    def __init__(self) -> None:
        self._runs: dict[str, _Run] = {}
        self._lock = threading.Lock()

    def open(self, run_id: str, client: str, now_s: float) -> Flow:
        """Begin one connection's upload within a run."""
        with self._lock:
            run = self._runs.pop(run_id, None) or self._new_run(client, now_s)
            self._runs[run_id] = run
            run.touched_s = now_s
            run.flows += 1
            flow = Flow(run_id)
            run.open.append(flow)
            return flow

    def first_byte(self, flow: Flow, now_s: float) -> None:
        """Tie a flow to its run's time scale, which begins with the run's first byte."""
        with self._lock:
            run = self._runs.get(flow.run_id)
            origin_s = now_s if run is None or run.origin_s is None else run.origin_s
            if run is not None:
                run.origin_s = origin_s
            flow.origin_s = origin_s
            flow.first_s = now_s

    def close(self, flow: Flow, now_s: float) -> None:
        """End a flow; its count stays in the run."""
        with self._lock:
            run = self._runs.get(flow.run_id)
            if run is None or flow not in run.open:
                return
            run.open.remove(flow)
            run.ended = _merged(run.ended, flow)
            run.broken = run.broken or not flow.complete
            run.touched_s = now_s

    def receipt(self, run_id: str, now_s: float) -> UploadReceipt | None:
        """Return the sum of a run's connections so far, None for a run that is not kept."""
        with self._lock:
            self._expire(now_s)
            run = self._runs.get(run_id)
            if run is None:
                return None
            complete = not run.open and not run.broken
            return summed([run.ended, *run.open], complete=complete, flows=run.flows)

    def _new_run(self, client: str, now_s: float) -> _Run:
        self._expire(now_s)
        own = [run_id for run_id, run in self._runs.items() if run.client == client]
        if len(own) >= MAX_RUNS_OF_A_CLIENT:
            del self._runs[own[0]]
        elif len(self._runs) >= MAX_RUNS:
            del self._runs[next(iter(self._runs))]
        return _Run(client, now_s)

    def _expire(self, now_s: float) -> None:
        old = [r for r, run in self._runs.items() if not run.open and _age(run, now_s) > KEPT_S]
        for run_id in old:
            del self._runs[run_id]


def summed(parts: list[Flow], *, complete: bool, flows: int) -> UploadReceipt:
    """Return one receipt for flows that share a time scale; none may still be merged into."""
    columns = [tuple(part.slices) for part in parts]
    length = max(map(len, columns), default=0)
    slices = tuple(sum(c[i] for c in columns if i < len(c)) for i in range(length))
    firsts = [part.first_s for part in parts if part.first_s is not None]
    last_s = max((part.last_s for part in parts if part.first_s is not None), default=0.0)
    return UploadReceipt(
        bytes=sum(slices),
        seconds=max(0.0, last_s - min(firsts)) if firsts else 0.0,
        complete=complete,
        slices_100ms=slices,
        flows=flows,
    )


def _merged(ended: Flow, flow: Flow) -> Flow:
    firsts = [part.first_s for part in (ended, flow) if part.first_s is not None]
    both = summed([ended, flow], complete=True, flows=2)
    merged = Flow()
    merged.bytes = both.bytes
    merged.slices = array("Q", both.slices_100ms)
    merged.first_s = min(firsts, default=None)
    merged.last_s = max(ended.last_s, flow.last_s)
    return merged


def _age(run: _Run, now_s: float) -> float:
    return now_s - run.touched_s
