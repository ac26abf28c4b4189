"""Records of every shape, drawn from a seed: what a page may ever be asked to show.

Each begins as one of the hand-made records and is then changed: names in many scripts and lengths,
findings by the dozen with values at the edge, figures from nothing to ten gigabits and half a
minute, measurements that are missing, notes, an earlier visit, a practice network.
"""

from __future__ import annotations

import random
from dataclasses import replace

from records import CASES, extreme

from agent.assessment.model import FitnessFact, Verdict
from agent.diagnosis.model import Diagnosis, Finding, Segment
from agent.measurements import Kind, Reason, Role, State
from agent.record.model import PracticeTruth, Private, Reading, Record
from agent.sheet.catalogue import areas, words

NAMES = (
    "Ida Brandt",
    "Müller-Lüdenscheidt GmbH & Co. KG, Niederlassung Tern Bay",
    "שלום עולם, רחוב הנמל 7",
    "مرحبا، شارع الميناء",
    "田中太郎、港町七丁目",
    '<b>O\'Neil</b> & "Sons" #read("x") $1$',
    "🛠️ repair team 🚐",
    "W" * 200,
    "a-very-long-work-order-number-without-any-space-" * 4,
    "x\x1b[31m\u202eevil\u2066\x00",
    " ",
)
RATES_BPS = (0.0, 1.0, 512e3, 25e6, 94.9999e6, 940e6, 1e10)
TIMES_MS = (0.0, 0.004, 1.0, 14.2, 380.0, 30_000.0)


def generated(seed: int) -> Record:
    """Return the record of a seed."""
    draw = random.Random(seed)
    name = draw.choice(list(CASES))
    record = extreme(draw.choice(NAMES), seed) if name == "extreme" else CASES[name]()
    changes = (_named, _found, _unfit, _scaled, _missing, _played, _read, _away)
    for change in draw.sample(changes, draw.randint(1, len(changes))):
        record = change(record, draw)
    return record


def _named(record: Record, draw: random.Random) -> Record:
    private = Private(
        work_order=draw.choice((*NAMES, None)),
        technician=draw.choice((*NAMES, None)),
        company=draw.choice((*NAMES, None)),
        premises=draw.choice((*NAMES, None)),
        contact=draw.choice((*NAMES, None)),
        equipment=draw.choice((*NAMES, None)),
    )
    visit = replace(record.visit, spot=draw.choice((*NAMES, None)))
    return replace(record, private=private, visit=visit)


def _found(record: Record, draw: random.Random) -> Record:
    codes, steps = list(areas.FINDING), list(areas.STEP)
    findings = tuple(
        Finding(
            code=draw.choice(codes),
            segment=draw.choice(list(Segment)),
            confidence=draw.random(),
            next_step=draw.choice(steps),
            values=_values(draw),
        )
        for _ in range(draw.choice((0, 1, 2, 5, 60)))
    )
    return replace(
        record, diagnosis=Diagnosis(segment=draw.choice(list(Segment)), findings=findings)
    )


def _values(draw: random.Random) -> dict[str, float | str]:
    return {
        "down_bps": draw.choice(RATES_BPS),
        "up_bps": draw.choice(RATES_BPS),
        "limit_ms": draw.choice(TIMES_MS),
        "spread_ms": draw.choice(TIMES_MS),
        "loss_up": draw.random(),
        "address": draw.choice(NAMES),
        "profile": draw.choice(NAMES),
        "direction": draw.choice(("up", "down", "both", "")),
    }


def _unfit(record: Record, draw: random.Random) -> Record:
    facts = tuple(
        FitnessFact(
            name=draw.choice((*words.FITNESS, "unheard-of")),
            voids=tuple(draw.sample(list(words.VOIDS), draw.randint(0, 3))),
            measured=draw.choice((*RATES_BPS, *NAMES)),
            unit=draw.choice(("bps", "ratio", "")),
        )
        for _ in range(draw.choice((0, 1, 6, 20)))
    )
    return replace(record, assessment=replace(record.assessment, fitness=facts))


def _scaled(record: Record, draw: random.Random) -> Record:
    """Give criteria figures and limits from the edges of what can be measured."""
    edges = {"bps": RATES_BPS, "ms": TIMES_MS, "ratio": (0.0, 1e-6, 0.005, 0.37, 1.0)}

    def one(criterion):
        edge = edges.get(criterion.unit)
        if edge is None or criterion.measured is None:
            return criterion
        measured = draw.choice(edge)
        width = draw.choice((0.0, 0.001, 0.4)) * measured
        return replace(
            criterion,
            measured=measured,
            low=measured - width,
            high=measured + width,
            limit=draw.choice((criterion.limit, draw.choice(edge))),
            outcome=draw.choice(list(Verdict)),
            reason=draw.choice((None, Reason(code="single-measurement"))),
        )

    criteria = tuple(map(one, record.assessment.criteria))
    verdict = draw.choice(list(Verdict))
    return replace(
        record, assessment=replace(record.assessment, criteria=criteria, verdict=verdict)
    )


def _missing(record: Record, draw: random.Random) -> Record:
    """Let measurements fail, each for a reason of its own."""
    codes = [*words.CAUSE, *words.REASON, "solar-flare"]

    def one(measured):
        if draw.random() < 0.6:
            return measured
        reason = Reason(code=draw.choice(codes), values={"address": draw.choice(NAMES)})
        failed = replace(
            measured.measurement, state=State.FAILED, reason=reason, observed=None, method="none"
        )
        return replace(measured, measurement=failed, statistics=None)

    kept = [one(m) for m in record.measured]
    if draw.random() < 0.2:
        kept = [m for m in kept if m.measurement.kind is not draw.choice(list(Kind))]
    return replace(record, measured=tuple(kept))


def _played(record: Record, draw: random.Random) -> Record:
    truth = {f"fact_{i}_ms": draw.choice(TIMES_MS) for i in range(draw.choice((0, 3, 60)))}
    fault = draw.choice((None, "slow-line", draw.choice(NAMES)))
    return replace(record, practice=PracticeTruth(fault=fault, severity=None, truth=truth))


def _read(record: Record, draw: random.Random) -> Record:
    readings = tuple(
        Reading(
            where=draw.choice(("modem", "entry", draw.choice(NAMES))),
            what=draw.choice(("downstream-level", draw.choice(NAMES))),
            value=draw.choice((-9.4, 0.0, 1e9)),
            unit=draw.choice(("dBmV", "ratio", draw.choice(NAMES))),
            usual_low=draw.choice((None, -8.0)),
            usual_high=draw.choice((None, 8.0)),
        )
        for _ in range(draw.choice((0, 2, 24)))
    )
    return replace(record, visit=replace(record.visit, readings=readings))


def _away(record: Record, draw: random.Random) -> Record:
    """Leave out what a page is used to: tier, server, a time that is one."""
    return replace(
        record,
        tier=draw.choice((record.tier, None)),
        server=draw.choice((record.server, None)),
        started=draw.choice((record.started, "sometime", "9999-12-31T23:59:59Z")),
        utc_offset_min=draw.choice((0, -720, 840, 100_000)),
        measured=tuple(
            m for m in record.measured if draw.random() < 0.9 or m.measurement.role is Role.LOCAL
        ),
    )
