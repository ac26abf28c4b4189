"""Delay series to several far ends at once: each by the first means that the system allows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace

from agent.clock import Timeline
from agent.errors import CannotMeasure, DoorstepError, RightMissing
from agent.measurements import Kind, Measurement, Reason, State
from agent.ports.datagram import ProbeSocket, WaitTogether
from agent.ports.running import Running
from agent.probes.delay import DelaySeries, FarReporter, measure_delays
from agent.probes.means import STAMP, after, open_first, paced
from agent.session.targets import EchoTarget
from agent.settings.model import EchoPlan

IDLE = "none"

TargetOpener = Callable[[EchoTarget], ProbeSocket]
"""Opens the socket of a target by its method; raises CannotMeasure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Aimed:
    """A target with the plan of its series, and for STAMP what asks for the reflector's log."""

    target: EchoTarget
    plan: EchoPlan
    load: str = IDLE
    far_report: FarReporter | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A series ready to begin, or why it cannot; `aimed` names the method that is really used."""

    aimed: Aimed
    series: DelaySeries | None = None
    error: DoorstepError | None = None


def open_all(aims: Sequence[Aimed], opener: TargetOpener) -> tuple[Opened, ...]:
    """Open a socket for each; where the system refuses a means of echo, by the next."""
    return tuple(_opened(one, opener) for one in aims)


def _never() -> bool:
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
class Rounds:
    """Runs opened series, and again by the next means those whose far end was silent.

    `enough` ends all of them; `opener` and `wait` are the system's.
    """

    opener: TargetOpener
    wait: WaitTogether
    timeline: Timeline
    running: Running
    enough: Callable[[], bool] = _never

    def run(self, opened: Sequence[Opened], within_s: float) -> tuple[Measurement, ...]:
        """Run all series in one loop, close their sockets, and return a measurement for each.

        Where a plan says so, far ends that did not answer are tried again after the others; both
        measurements are kept, the first with the reason. Where the system let a socket be opened,
        but no probe leave by it, the next means takes its place.
        """
        ends_s = self.timeline.now_s() + within_s
        found: list[Measurement] = []
        while opened:
            results = self._once(opened, ends_s)
            going_on = not self.running.stopped()
            pairs = [
                (one, m, going_on and _goes_on(one, m))
                for one, m in zip(opened, results, strict=True)
            ]
            found.extend(m for _, m, again in pairs if not again or m.state is not State.FAILED)
            opened = open_all(
                [_by_next(one.aimed) for one, _, again in pairs if again], self.opener
            )
        return tuple(found)

    def _once(self, opened: Sequence[Opened], ends_s: float) -> list[Measurement]:
        now_s = self.timeline.now_s()
        ready = [one.series for one in opened if one.series is not None]
        with ExitStack() as stack:
            for series in ready:
                stack.callback(series.socket.close)
            measured = measure_delays(
                ready,
                self.wait,
                timeline=self.timeline,
                within_s=ends_s - now_s,
                running=self.running,
                enough=self.enough,
            )
        results = iter(measured)
        return [
            next(results) if one.error is None else refused(one.aimed.target, one.error, now_s)
            for one in opened
        ]


def refused(target: EchoTarget, error: DoorstepError, at_s: float) -> Measurement:
    """Return the entry of a series that could not begin."""
    return Measurement(
        kind=Kind.DELAY,
        role=target.role,
        state=State.FAILED,
        method=target.method,
        started_s=at_s,
        duration_s=0.0,
        address=target.address,
        family=target.family,
        reason=Reason.of(error),
    )


def _opened(aimed: Aimed, opener: TargetOpener) -> Opened:
    def open_by(method: str, port: int) -> ProbeSocket:
        return opener(replace(target, method=method, port=port or target.port))

    target = aimed.target
    try:
        if target.method == STAMP:
            method, socket = STAMP, opener(target)
        else:
            method, socket = open_first(open_by, target.method, target.role, target.connect_port)
    except CannotMeasure as error:
        return Opened(aimed=aimed, error=error)
    used = replace(aimed, target=replace(target, method=method))
    return Opened(aimed=used, series=_series(used, socket))


def _series(aimed: Aimed, socket: ProbeSocket) -> DelaySeries:
    target = aimed.target
    switches = aimed.plan.switch_when_silent and after(target.method, target.role) is not None
    return DelaySeries(
        socket=socket,
        plan=paced(aimed.plan, target.method),
        role=target.role,
        method=target.method,
        address=target.address,
        family=target.family,
        ssid=target.ssid,
        key=target.key,
        load=aimed.load,
        far_report=aimed.far_report,
        gives_up=switches and aimed.load == IDLE,
    )


def _goes_on(opened: Opened, measured: Measurement) -> bool:
    """Tell whether a far end is tried by the next means, on the idle line only."""
    aimed = opened.aimed
    if opened.series is None or measured.reason is None or aimed.load != IDLE:
        return False
    if after(aimed.target.method, aimed.target.role) is None:
        return False
    if measured.reason.code == RightMissing.code:
        return measured.state is State.FAILED
    return measured.reason.code == "means-silent" and aimed.plan.switch_when_silent


def _by_next(aimed: Aimed) -> Aimed:
    method = after(aimed.target.method, aimed.target.role)
    return replace(aimed, target=replace(aimed.target, method=method or aimed.target.method))
