"""Records side by side: what is told once, what changed, and one scale for every row."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from records import CASES, below, empty, healthy, lossy, no_lease, unproven

from agent.errors import UsageError
from agent.measurements import PathChange
from agent.record import Verdict, difference
from agent.record.seal import redact, seal
from agent.sheet.bars import RATES, criterion_text
from agent.sheet.comparison import build_comparison
from agent.sheet.comparison.figures import MOST_FIGURES, apart_of
from agent.sheet.model import Ground, Mark
from agent.sheet.view import Dress, build_sheet

RATE = healthy().assessment.criteria[0]


def with_interval(low, high):
    return replace(RATE, low=low, high=high, measured=(low + high) / 2)


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        ((10, 12), (13, 15), "higher"),
        ((13, 15), (10, 12), "lower"),
        ((10, 12), (12, 15), "same"),
        ((10, 20), (12, 13), "same"),
    ],
)
def test_a_difference_counts_beyond_both_intervals(first, last, said):
    assert difference(with_interval(*first), with_interval(*last)) == said


def test_what_has_no_interval_or_another_layer_cannot_be_told():
    assert difference(RATE, None) == "open"
    assert difference(RATE, replace(RATE, low=None)) == "open"
    assert difference(RATE, replace(RATE, layer="wire")) == "open"


def compared(*records, **options):
    return build_comparison([seal(record) for record in records], **options)


def rows_of(*records):
    page = compared(*records)
    rows = (*page.about, *page.rates, *page.figures, *page.facts)
    return {row.label: row for row in rows}


def common_of(*records):
    return {pair.label: pair.value for pair in compared(*records).common}


def judged(record, *criteria):
    """The record with those criteria before its own."""
    assessment = replace(record.assessment, criteria=criteria)
    return replace(record, assessment=assessment)


def test_before_and_after_stand_side_by_side():
    page = compared(below(), healthy())
    assert [c.verdict for c in page.columns] == ["Below what was sold", "Meets what was sold"]
    assert [c.mark for c in page.columns] == [Mark.MISSED, Mark.KEPT]
    down = page.rates[0]
    assert down.label == "Download"
    assert down.change.text == "higher, beyond both intervals"
    assert down.change.figure
    assert page.columns[0].place == "Access line: fault likely here"
    assert page.columns[1].place == "no fault found"
    assert Ground.LIKELY in {cell.ground for cell in page.columns[0].strip}
    assert page.place_change.text == page.verdict_change.text == "changed"


@pytest.mark.parametrize("order", [(below, healthy, lossy), (lossy, healthy, below, no_lease)])
def test_columns_stand_in_the_order_given(order):
    records = [make() for make in order]
    page = compared(*records)
    own = [build_sheet(seal(record)) for record in records]
    assert [c.reason for c in page.columns] == [sheet.headline.reason for sheet in own]
    assert [c.step for c in page.columns] == [sheet.next_step.text for sheet in own]
    down = [b.value for b in next(row for row in page.rates if row.label == "Download").cells]
    assert down == [next(b.value for b in sheet.rates if b.label == "Download") for sheet in own]
    proofs = next(row for row in page.facts if row.label == "Record")
    numbers = zip(proofs.cells, records, strict=True)
    assert all(cell.startswith(record.record_id) for cell, record in numbers)


def test_what_is_the_same_is_told_once_and_what_changed_is_named():
    before = healthy()
    moved = replace(before.visit, spot="attic", plugged_into="router")
    after = replace(before, visit=moved, settings_sha256="f" * 64)
    rows = rows_of(before, after)
    for changed in ("Plugged into", "Settings"):
        assert rows[changed].change.text == "changed"
    shared = common_of(before, after)
    assert shared["Sold"] == "Harbour 100/20: 100 / 20 Mbit/s"
    assert shared["Work order"] == "WO-2026-0417"
    assert not {"Plugged into", "Settings", "Spot"} & set(shared)
    # The columns are called by the spot, which needs no row then.
    assert "Spot" not in rows


def test_findings_stand_side_by_side_and_advice_is_none():
    found = rows_of(healthy(), lossy())["Found"]
    assert found.cells[0] == "\N{EN DASH}"
    assert found.change.text == "changed"
    assert "Found" not in rows_of(healthy(), healthy(5))


def with_limit(record, factor):
    first, *rest = record.assessment.criteria
    return judged(record, replace(first, limit=first.limit * factor), *rest)


def test_a_limit_that_changed_is_told_beside_the_figure_and_above_the_page():
    record = healthy()
    page = compared(record, with_limit(record, 1.01))
    assert page.rates[0].change.text == "within the intervals; another limit"
    assert "Limits differ: Download." in page.banners
    assert not [b for b in compared(record, record).banners if "Limits" in b]


def test_what_every_cell_says_stands_under_the_label_once():
    page = compared(healthy(), healthy(5))
    down = page.rates[0]
    own = build_sheet(seal(healthy())).rates[0]
    assert down.under == (own.limit, f"sold {own.sold}", own.sample)
    assert down.note == own.note
    for bar in down.cells:
        assert not any((bar.limit, bar.sold, bar.sample, bar.note))


def test_a_text_of_one_record_alone_stays_in_its_cell():
    row = compared(healthy(), with_limit(healthy(), 1.01)).rates[0]
    assert row.cells[0].limit
    assert row.cells[1].limit
    assert row.cells[0].limit != row.cells[1].limit


@pytest.mark.parametrize("case", [name for name in CASES if name != "extreme"])
def test_a_figure_is_printed_as_on_the_records_own_page(case):
    record = CASES[case]()
    page = compared(healthy(), record)
    rows = (*page.rates, *page.figures)
    texts = {
        text.value: text.interval or ""
        for c in record.assessment.criteria
        if (text := criterion_text(c)) is not None
    }
    for row in rows:
        bar = row.cells[1]
        if bar.value not in {"\N{EN DASH}", "held", "none held", "yes", "no"}:
            assert texts[bar.value] == bar.interval


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        (lambda r: {"private": replace(r.private, work_order="WO-9")}, "2 work orders: "),
        (lambda r: {"tier": replace(r.tier, name="Quay 50/5")}, "2 products were sold: "),
        (lambda r: {"server": replace(r.server, id="tern-2")}, "2 servers: "),
        (lambda r: {"settings_sha256": "0" * 64}, "Judged by 2 sets of settings."),
        (lambda _: {"started": "2026-03-01T09:14:07Z"}, "measured before the first"),
    ],
)
def test_what_sets_records_apart_stands_above_them(parts, said):
    record = healthy()
    other = replace(record, **parts(record))
    assert any(said in banner for banner in compared(record, other).banners)
    assert not any(said in banner for banner in compared(record, record).banners)


def test_a_banner_of_one_record_names_its_column():
    one, other = seal(healthy()), seal(replace(healthy(), visit=moved_to("attic")))
    page = build_comparison([one, redact(other)])
    assert any(b.startswith("attic: Redacted") for b in page.banners)
    both = build_comparison([redact(one), redact(other)])
    assert any(b.startswith("Redacted") for b in both.banners)


def moved_to(spot):
    return replace(healthy().visit, spot=spot)


def texts_of(value):
    """Yield every text of a view model."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from texts_of(one)
    elif hasattr(value, "__slots__"):
        for name in value.__slots__:
            yield from texts_of(getattr(value, name))


def test_nothing_identifying_is_left_of_redacted_records():
    records = [healthy(), below()]
    secret = [v for r in records for v in texts_of(r.private) if v]
    secret += [r.server.seen_address for r in records]
    assert secret
    page = build_comparison([redact(seal(r)) for r in records], dress=Dress(footer="Tern Bay"))
    told = " ".join(texts_of(page))
    assert not [text for text in secret if text in told]
    assert not any(texts_of(page.brand))
    assert any(text in " ".join(texts_of(compared(*records))) for text in secret)


def test_a_page_is_written_in_the_language_of_its_dress():
    german = compared(below(), healthy(), dress=Dress(language="de"))
    assert german.language == "de"
    assert german.columns[0].verdict == "Weniger als verkauft"
    assert "," in german.rates[0].cells[0].value


def test_the_page_is_somebodys_where_all_records_are():
    record = healthy()
    assert compared(record, below()).brand.company == "Tern Bay Fibre"
    other = replace(record, private=replace(record.private, company="Quay Cable"))
    assert compared(record, other).brand.company == ""


RATE_STEPS = st.floats(min_value=1e5, max_value=9e9)


@given(st.lists(st.tuples(RATE_STEPS, RATE_STEPS), min_size=2, max_size=4))
@settings(max_examples=40, deadline=None)
def test_one_scale_holds_every_value_of_a_row(pairs):
    """Positions lie as the values do: shares of one length, none beyond its end."""
    base = healthy()
    records = [
        judged(base, replace(RATE, measured=m, low=m * 0.9, high=m * 1.1, limit=limit))
        for m, limit in pairs
    ]
    row = compared(*records).rates[0]
    scales = [bar.scale for bar in row.cells]
    lengths = [m / scale.value for (m, _), scale in zip(pairs, scales, strict=True)]
    assert lengths == pytest.approx([lengths[0]] * len(lengths))
    for (measured, limit), scale in zip(pairs, scales, strict=True):
        assert lengths[0] >= measured * 1.1
        assert scale.limit * lengths[0] == pytest.approx(limit)
        assert scale.high < 1
        assert scale.low < scale.value < scale.high


def test_bars_of_two_units_are_not_drawn_on_one_scale():
    base = healthy()
    other = judged(base, replace(RATE, unit="ms"))
    assert {bar.scale for bar in compared(base, other).rates[0].cells} == {None}


@given(st.tuples(*[st.floats(min_value=0.1, max_value=1e9)] * 4))
def test_both_intervals_just_fill_their_scale(ends):
    (a, b), (c, d) = sorted(ends[:2]), sorted(ends[2:])
    apart = apart_of(with_interval(a, b), with_interval(c, d))
    if len({a, b, c, d}) == 1:
        assert apart is None
        return
    places = [p for i in (apart.first, apart.last) for p in (i.low, i.value, i.high)]
    assert (min(places), max(places)) == (0, 1)
    gap = apart.last.low > apart.first.high or apart.last.high < apart.first.low
    assert gap == (c > b or d < a)


def test_delay_lies_on_one_axis_and_medians_are_held_against_each_other():
    page = compared(healthy(), lossy())
    assert [row.label for row in page.spreads.rows] == ["idle", "downloading", "uploading"]
    idle, loaded, _ = page.spreads.rows
    own = [build_sheet(seal(r)).spreads for r in (healthy(), lossy())]
    for cell, spreads in zip(idle.cells, own, strict=True):
        server = next(row for row in spreads.rows if row.label == "server")
        for figure in server.cells:
            assert figure in f"{cell.figures} {cell.sample}"
        assert cell.spread.median_at is not None
    # The same delay stands at the same place, another one further on.
    assert idle.cells[0].spread.median_at < idle.cells[1].spread.median_at
    assert loaded.cells[1].spread.silent
    assert loaded.change.text == "cannot be told"


def test_what_every_record_keeps_gives_way_to_what_tells_something():
    kept = [c for c in healthy().assessment.criteria if c.name not in RATES]
    many = [replace(kept[0], name=f"more-{n}") for n in range(MOST_FIGURES + 3)]
    missed = replace(kept[0], name="last-of-all", outcome=Verdict.BELOW)
    page = compared(*[judged(healthy(), *many, missed)] * 2)
    labels = [row.label for row in page.figures]
    assert len(labels) == MOST_FIGURES
    assert labels[-1] == "last-of-all"
    assert page.figures_more.startswith("Kept in every record")
    assert page.figures_more.count("more-") == len(many) + 1 - MOST_FIGURES


def test_a_reason_is_told_once_in_a_column():
    page = compared(healthy(), no_lease())
    notes = [row.cells[1].note for row in (*page.rates, *page.figures)]
    told = [note for note in notes if note]
    assert told
    assert len(told) == len(set(told))


def test_an_answer_changed_and_a_count_crossed_its_limit():
    base = healthy()
    count = replace(
        base.assessment.criteria[2], name="dns-unanswered", unit="count", limit=3.0, layer=None
    )
    lease = replace(count, name="lease", limit=1.0)

    def change(criterion, first, last):
        records = [
            judged(base, replace(criterion, measured=m, low=m, high=m)) for m in (first, last)
        ]
        return compared(*records).figures[0].change.text

    assert change(lease, 1.0, 0.0) == "changed"
    assert change(lease, 1.0, 1.0) == ""
    assert change(count, 1.0, 2.0) == "on the same side of the limit"
    assert change(count, 1.0, 5.0) == "higher, across the limit"


def test_names_and_pages_stand_as_on_the_records_own_page():
    rows = rows_of(healthy(), empty())
    own = [p.value for block in build_sheet(seal(healthy())).facts for p in block.pairs]
    assert rows["Names (DNS)"].cells[0] in own
    assert rows["Web pages"].cells[0] in own
    assert rows["Names (DNS)"].cells[1] == rows["Web pages"].cells[1] == "\N{EN DASH}"
    assert "Names (DNS)" not in rows_of(empty(), empty())


def test_the_way_is_compared_where_it_was_walked():
    one = seal(healthy())
    same = build_comparison([one, one], PathChange(kind="changed", distance=2))
    assert next(r for r in same.facts if r.label == "Path to the server").change.told


@pytest.mark.parametrize("records", [(empty, empty), (empty, unproven, no_lease, healthy)])
def test_records_that_lack_everything_still_have_a_page(records):
    page = compared(*(make() for make in records))
    assert len(page.columns) == len(records)
    assert all(len(row.cells) == len(records) for row in (*page.rates, *page.figures, *page.about))
    assert (page.spreads is None) == (set(records) == {empty})


@pytest.mark.parametrize("count", [0, 1, 5])
def test_too_few_or_too_many_records_are_refused(count):
    with pytest.raises(UsageError, match=str(count)):
        build_comparison([seal(healthy())] * count)
