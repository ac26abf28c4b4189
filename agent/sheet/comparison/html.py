"""Records side by side on the screen: one table, whose rows stand under each other on a phone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from html import escape
from pathlib import Path

from agent.sheet.comparison.draw import apart_svg
from agent.sheet.comparison.fit import print_size_pt
from agent.sheet.comparison.model import (
    Change,
    Column,
    Comparison,
    FigureRow,
    SpreadCell,
    SpreadRows,
    TextRow,
)
from agent.sheet.draw import bar_svg, mark_svg, spread_svg
from agent.sheet.html import document
from agent.sheet.html_mounds import axis_html
from agent.sheet.model import Bar, Mark, Pair, Tick

STYLE = Path(__file__).with_name("style.css")


def comparison_html(comparison: Comparison) -> str:
    """Return the comparison as one self-contained HTML document."""
    names = ", ".join(column.label for column in comparison.columns)
    return document(
        f"{comparison.title}: {names}",
        "".join(_Page(comparison).parts()),
        language=comparison.language,
        direction=comparison.direction,
        print_pt=print_size_pt(comparison),
        more_style=STYLE.read_text(encoding="utf-8"),
    )


def _text(value: str) -> str:
    return escape(value, quote=True)


def _own(value: str) -> str:
    """Return a text of a record, kept from reordering what stands around it."""
    return f"<bdi>{_text(value)}</bdi>"


def _small(*texts: str) -> str:
    told = " · ".join(_text(text) for text in texts if text)
    return f"<small>{told}</small>" if told else ""


class _Page:
    """The parts of one page, which all name its columns."""

    def __init__(self, comparison: Comparison) -> None:
        self._shown = comparison
        self._names = tuple(column.label for column in comparison.columns)

    def parts(self) -> Iterator[str]:
        shown = self._shown
        yield _header(shown)
        yield "<main>"
        yield from (f'<p class="banner">{_text(banner)}</p>' for banner in shown.banners)
        if shown.common:
            pairs = "".join(map(_pair, shown.common))
            yield f"<section><h2>{_text(shown.labels.common)}</h2>"
            yield f'<div class="common">{pairs}</div></section>'
        yield f'<table class="side">{self._head()}'
        yield f'<tbody class="words">{"".join(self._top())}</tbody>'
        rates = (self._figures(row, _rate) for row in shown.rates)
        yield self._part("figures", shown.rates_title, rates)
        if shown.spreads:
            yield self._part("figures", shown.spreads.title, self._spreads(shown.spreads))
        promises = (self._figures(row, _promise) for row in shown.figures)
        yield self._part("lesser", shown.figures_title, promises)
        if shown.figures_more:
            yield f"<tbody><tr>{self._wide(_small(shown.figures_more))}</tr></tbody>"
        yield self._part("words", shown.facts_title, map(self._words, shown.facts))
        yield f"</table>{_notes(shown)}</main>"

    def _head(self) -> str:
        width = f'class="n{len(self._names)}"'
        names = "".join(f'<th scope="col">{_own(name)}</th>' for name in self._names)
        change = _text(self._shown.labels.change)
        return (
            f'<thead><tr><td {width}></td>{names}<th {width} scope="col">{change}</th></tr></thead>'
        )

    def _wide(self, body: str) -> str:
        return f'<td colspan="{len(self._names) + 2}">{body}</td>'

    def _part(self, kind: str, title: str, rows: Iterable[str]) -> str:
        body = "".join(rows)
        if not body:
            return ""
        head = f'<th colspan="{len(self._names) + 2}" scope="rowgroup"><h2>{_text(title)}</h2></th>'
        return f'<tbody class="{kind}"><tr class="part">{head}</tr>{body}</tbody>'

    def _top(self) -> Iterator[str]:
        shown, labels = self._shown, self._shown.labels
        columns = shown.columns
        verdicts = map(_verdict, columns)
        yield self._row(_text(labels.verdict), verdicts, shown.verdict_change, "level")
        place = _text(labels.place) + _small(labels.order)
        yield self._row(place, map(_place, columns), shown.place_change)
        yield self._row(_text(labels.step), map(_step, columns), shown.step_change)
        yield from map(self._words, shown.about)

    def _words(self, row: TextRow) -> str:
        return self._row(_text(row.label), map(_own, row.cells), row.change)

    def _figures(self, row: FigureRow, draw: Callable[[Bar, str, str], str]) -> str:
        label = _text(row.label) + _small(*row.under)
        sold = self._shown.labels.sold
        cells = (draw(bar, row.label, sold) for bar in row.cells)
        return self._row(label, cells, row.change) + self._below(row.note)

    def _below(self, note: str) -> str:
        if not note:
            return ""
        across = len(self._names) + 1
        return f'<tr class="bare"><td></td><td colspan="{across}">{_small(note)}</td></tr>'

    def _spreads(self, spreads: SpreadRows) -> Iterator[str]:
        axis = f"<td>{axis_html(spreads.ticks)}</td>" * len(self._names)
        yield f'<tr class="axes"><td></td>{axis}<td></td></tr>'
        for row in spreads.rows:
            cells = (_spread(cell, row.label, spreads.ticks) for cell in row.cells)
            yield self._row(_text(row.label), cells, row.change, "bare")

    def _row(self, label: str, cells: Iterable[str], change: Change, kind: str = "") -> str:
        which = zip(self._names, cells, strict=True)
        drawn = "".join(f"<td>{_which(name)}{cell}</td>" for name, cell in which)
        told = _change(change)
        last = f"{_which(self._shown.labels.change)}{told}" if told else ""
        return (
            f'<tr class="{kind}"><th scope="row">{label}</th>{drawn}'
            f'<td class="change">{last}</td></tr>'
        )


def _which(name: str) -> str:
    """Return the column's name once more, for where no column is above."""
    return f'<span class="which">{_text(name)}</span>'


def _header(shown: Comparison) -> str:
    brand = shown.brand
    logo = f'<img src="{_text(brand.logo)}" alt="{_text(brand.company)}">' if brand.logo else ""
    contact = f" <small>{_own(brand.contact)}</small>" if brand.contact else ""
    whose = f"{logo}<b>{_own(brand.company)}</b>{contact}"
    return f'<header class="sides"><div>{whose}</div><h1>{_text(shown.title)}</h1></header>'


def _pair(pair: Pair) -> str:
    return f'<div><span class="soft">{_text(pair.label)}</span>{_own(pair.value)}</div>'


def _verdict(column: Column) -> str:
    return (
        f'<div class="verdict {column.mark.value}"><div><b>{_text(column.verdict)}</b>'
        f"<p>{_text(column.reason)}</p></div></div>"
    )


def _place(column: Column) -> str:
    cells = "".join(
        f'<li class="{c.ground.value}"><div class="panel"></div></li>' for c in column.strip
    )
    return f'<ul class="ways" aria-hidden="true">{cells}</ul>{_text(column.place)}'


def _step(column: Column) -> str:
    caution = f"<br>{_small(column.caution)}" if column.caution else ""
    return _text(column.step) + caution


def _rate(bar: Bar, label: str, sold: str) -> str:
    interval = f" {_small(bar.interval)}" if bar.interval else ""
    stated = f"{sold} {bar.sold}" if bar.sold else ""
    return (
        f'<b class="figure-value">{_text(bar.value)}</b>{interval}'
        f"{_drawn(bar, label)}<div>{_outcome(bar)}</div>"
        f"{_small(bar.limit, stated, bar.sample, bar.aside, bar.note)}"
    )


def _promise(bar: Bar, label: str, _sold: str) -> str:
    interval = f" {_small(bar.interval)}" if bar.interval else ""
    word = _small(bar.outcome)
    outcome = f"<strong>{word}</strong>" if bar.mark is Mark.MISSED else word
    return (
        f"<div>{mark_svg(bar.mark)}<b>{_text(bar.value)}</b>{interval} {outcome}</div>"
        f"{_drawn(bar, label)}{_small(bar.limit, bar.sample, bar.aside, bar.note)}"
    )


def _drawn(bar: Bar, label: str) -> str:
    if bar.scale is None:
        return ""
    told = (bar.value, bar.interval, bar.limit, bar.outcome)
    spoken = f"{label}: {', '.join(text for text in told if text)}"
    return bar_svg(bar.scale, _text(spoken))


def _outcome(bar: Bar) -> str:
    word = _text(bar.outcome)
    return mark_svg(bar.mark) + (f"<strong>{word}</strong>" if bar.mark is Mark.MISSED else word)


def _spread(cell: SpreadCell, label: str, ticks: Sequence[Tick]) -> str:
    spread = cell.spread
    spoken = _text(f"{label}: {spread.silent or cell.figures}")
    drawn = "" if spread.silent else spread_svg(spread, ticks, spoken)
    figures = f"<div><b>{_text(cell.figures)}</b></div>" if cell.figures else ""
    return f"{drawn}{_small(spread.silent)}{figures}{_small(cell.sample)}"


def _change(change: Change) -> str:
    drawn = apart_svg(change.apart) if change.apart else ""
    text = _text(change.text)
    told = f"<strong>{text}</strong>" if change.figure else _small(change.text)
    return drawn + told


def _notes(shown: Comparison) -> str:
    cautions = " ".join(shown.cautions.items)
    footer = f"<p>{_small(shown.brand.footer)}</p>" if shown.brand.footer else ""
    return (
        f'<div class="notes"><div><p>{_small(shown.note)}</p><p>{_small(shown.marks)}</p></div>'
        f"<div><p><small><b>{_text(shown.cautions.title)}:</b> {_text(cautions)}</small></p>"
        f"<p>{_small(shown.how)}</p>{footer}</div></div>"
    )
