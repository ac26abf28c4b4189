"""Running probes side by side: each in a thread, each bounded, none able to lose the others."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace

from agent.clock import Timeline
from agent.errors import DoorstepError, ServerBusy, printable
from agent.measurements import Direction, Kind, Measurement, Reason, Role, State
from agent.session.request import Progress, Watcher
from agent.session.running import VisitRunning

GRACE_S = 2.0
TICK_S = 0.2

_log = logging.getLogger("doorstep")

Probe = Callable[[], tuple[Measurement, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One probe to run: what it is, how long it is expected and allowed to take, seconds."""

    kind: Kind
    role: Role
    probe: Probe
    expected_s: float
    wall_s: float
    direction: Direction = Direction.BOTH
    method: str = "none"


class _Running:
    """A step in its thread."""

    def __init__(self, step: Step, timeline: Timeline) -> None:
        self.step = step
        self.began_s = timeline.now_s()
        self.result: tuple[Measurement, ...] | None = None
        self._timeline = timeline
        self.thread = threading.Thread(target=self._run, name=step.kind.value, daemon=True)
        self.thread.start()

    def _run(self) -> None:
        try:
            self.result = self.step.probe()
        except DoorstepError as error:
            self.result = (self._failed(Reason.of(error)),)
        except Exception as error:  # noqa: BLE001 - a broken step must not lose the others
            _log.exception("the step %s broke", self.step.kind.value)
            self.result = (
                self._failed(Reason(code="unexpected", values={"error": printable(error)})),
            )

    def outcome(self) -> tuple[Measurement, ...]:
        if self.result is not None:
            return self.result
        return (self._failed(Reason(code="overran", values={"after_s": self.step.wall_s})),)

    def overdue(self) -> bool:
        return self._timeline.now_s() > self.began_s + self.step.wall_s + GRACE_S

    def left_s(self) -> float:
        return max(0.0, self.began_s + self.step.expected_s - self._timeline.now_s())

    def _failed(self, reason: Reason) -> Measurement:
        return Measurement(
            kind=self.step.kind,
            role=self.step.role,
            direction=self.step.direction,
            state=State.FAILED,
            method=self.step.method,
            started_s=self.began_s,
            duration_s=self._timeline.now_s() - self.began_s,
            reason=reason,
        )


class Conductor:
    """Starts steps, waits for them, tells the watcher; the only place that waits for threads.

    `later_s` is how much time the steps not yet started will need, for the watcher's estimate;
    `patience_s` how long a visit waits for a busy server, all waits together, and `waited_s` how
    long it did.
    """

    def __init__(
        self,
        timeline: Timeline,
        running: VisitRunning,
        watcher: Watcher,
        *,
        patience_s: float = 0.0,
    ) -> None:
        self.timeline = timeline
        self.running = running
        self._watcher = watcher
        self._open: list[_Running] = []
        self.measurements: list[Measurement] = []
        self.later_s = 0.0
        self.waited_s = 0.0
        self._patience_s = patience_s

    def start(self, step: Step) -> None:
        """Begin a step in its own thread."""
        _log.info("%.2f s begins: %s to %s", self.timeline.now_s(), step.kind.value, step.role)
        self._open.append(_Running(step, self.timeline))

    def finish(self, *kinds: Kind) -> tuple[Measurement, ...]:
        """Wait for the running steps of the given kinds (all where none is given)."""
        waited = [r for r in self._open if not kinds or r.step.kind in kinds]
        for one in waited:
            self._wait(one)
        self._open = [r for r in self._open if r not in waited]
        results = tuple(m for one in waited for m in one.outcome())
        self.measurements.extend(results)
        self._tell()
        return results

    def run(self, step: Step) -> tuple[Measurement, ...]:
        """Run one step alone and return what it found without taking it in."""
        self.start(step)
        (one,) = (r for r in self._open if r.step is step)
        self._wait(one)
        self._open.remove(one)
        return one.outcome()

    def wait_for_server(self, wait_s: float) -> bool:
        """Wait as a busy server asks; return False at once where a visit will not wait so long.

        All waits of a visit share one budget, so that several cannot add up. Who asks again right
        after the wait has kept its place in the server's queue.
        """
        if self.waited_s + wait_s > self._patience_s or self.running.stopped():
            return False
        began_s = self.timeline.now_s()
        self.pause(wait_s, for_server=True)
        self.waited_s += self.timeline.now_s() - began_s
        return not self.running.stopped()

    def pause(self, seconds: float, *, for_server: bool = False) -> None:
        """Let time pass, or the visit be stopped."""
        ends_s = self.timeline.now_s() + seconds
        while (left_s := ends_s - self.timeline.now_s()) > 0 and not self.running.stopped():
            self._tell(left_s if for_server else None)
            self.timeline.sleep(min(TICK_S, left_s))

    def add(self, *measurements: Measurement) -> None:
        """Take in measurements that needed no thread."""
        self.measurements.extend(measurements)

    def _wait(self, one: _Running) -> None:
        while one.thread.is_alive() and not one.overdue():
            self._tell()
            one.thread.join(TICK_S)

    def _tell(self, waiting_s: float | None = None) -> None:
        running = tuple(dict.fromkeys(r.step.kind for r in self._open if r.thread.is_alive()))
        left_s = max((r.left_s() for r in self._open), default=0.0) + self.later_s
        self._watcher(
            Progress(
                running=running,
                left_s=left_s + (waiting_s or 0.0),
                bytes_used=self.running.bytes_used,
                waiting_s=waiting_s,
            )
        )


def numbered(measurements: list[Measurement]) -> tuple[Measurement, ...]:
    """Return the measurements in order of time with ids m01, m02 and so on."""
    ordered = sorted(measurements, key=lambda m: (m.started_s, m.kind.value, m.role.value))
    return tuple(replace(m, id=f"m{i:02d}") for i, m in enumerate(ordered, start=1))


def busy_s(reason: Reason | None) -> float | None:
    """Return how long a server asked to wait, None where that is not the reason."""
    if reason is None or reason.code != ServerBusy.code:
        return None
    wait_s = reason.values.get("wait_s")
    return float(wait_s) if isinstance(wait_s, int | float) else None


def told_waited(measured: Measurement, waited_s: float) -> Measurement:
    """Return what a busy server refused, with how long the visit had waited for its turn."""
    if measured.reason is None:
        return measured
    values = {**measured.reason.values, "waited_s": waited_s}
    return replace(measured, reason=replace(measured.reason, values=values))


def skipped(
    kind: Kind,
    role: Role,
    reason: Reason,
    at_s: float,
    direction: Direction = Direction.BOTH,
) -> Measurement:
    """Return the entry of a measurement that was not asked for."""
    return replace(failed(kind, role, reason, at_s, direction), state=State.SKIPPED)


def failed(
    kind: Kind,
    role: Role,
    reason: Reason,
    at_s: float,
    direction: Direction = Direction.BOTH,
) -> Measurement:
    """Return the entry of a measurement that could not be attempted."""
    return Measurement(
        kind=kind,
        role=role,
        direction=direction,
        state=State.FAILED,
        method="none",
        started_s=at_s,
        duration_s=0.0,
        reason=reason,
    )
