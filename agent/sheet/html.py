"""The screen's face: one file with its style and drawings inside, no script, nothing fetched."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from html import escape
from pathlib import Path
from typing import TypeVar

from agent.sheet.code import code_svg
from agent.sheet.draw import PATTERNS, bar_svg, mark_svg
from agent.sheet.fit import print_size_pt, second_size_pt
from agent.sheet.html_mounds import courses_html, spreads_html
from agent.sheet.model import (
    Bar,
    Cell,
    Labels,
    Listing,
    Mark,
    Pair,
    Pairs,
    Proof,
    Sheet,
    SignOff,
    Table,
)

STYLE = Path(__file__).with_name("page.css")
# Nothing may be fetched and nothing may run, even if a text should ever slip through unescaped.
POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"

T = TypeVar("T")


def html_of(sheet: Sheet, *, detail: bool = False) -> str:
    """Return the sheet as one self-contained HTML document, with the second sheet where asked."""
    second = second_sheet(sheet) if detail else ()
    parts = [_header(sheet), "<main>", *_top(sheet), *_middle(sheet), *_foot(sheet), *second]
    parts.append("</main>")
    return document(
        f"{sheet.title} {sheet.proof.record_id}",
        "".join(parts),
        language=sheet.language,
        direction=sheet.direction,
        print_pt=print_size_pt(sheet),
    )


def document(
    title: str,
    body: str,
    *,
    language: str,
    direction: str,
    print_pt: float,
    more_style: str = "",
) -> str:
    """Return a whole document around a body that is escaped already."""
    style = STYLE.read_text(encoding="utf-8") + more_style
    return (
        f'<!doctype html>\n<html lang="{_text(language)}" dir="{_text(direction)}">'
        '<head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{_text(title)}</title><style>{style}</style></head>"
        f'<body style="--print: {print_pt}pt">'
        f"{PATTERNS}{body}</body></html>\n"
    )


def _text(value: str) -> str:
    return escape(value, quote=True)


def _own(value: str) -> str:
    """Return a text of the record, kept from reordering what stands around it."""
    return f"<bdi>{_text(value)}</bdi>"


def _header(sheet: Sheet) -> str:
    brand = sheet.brand
    logo = f'<img src="{_text(brand.logo)}" alt="{_text(brand.company)}">' if brand.logo else ""
    contact = f"<small>{_own(brand.contact)}</small>" if brand.contact else ""
    return (
        f'<header class="top">{logo}<div class="whose"><b>{_own(brand.company)}</b>{contact}</div>'
        f'<div class="of"><b>{_text(sheet.title)}</b><small>{_text(sheet.dated)}</small></div>'
        "</header>"
    )


def _top(sheet: Sheet) -> Iterable[str]:
    head = sheet.headline
    for banner in sheet.banners:
        yield f'<p class="banner">{_text(banner)}</p>'
    yield (
        f'<div class="decide"><div class="verdict {head.mark.value}"><div>'
        f"<h1>{_text(head.verdict)}</h1><p>{_text(head.reason)}</p></div></div>"
        f"{_pairs(head.beside)}</div>"
    )
    if sheet.strip:
        yield _section(sheet.strip_title, f'<ul class="strip">{_each(_cell, sheet.strip)}</ul>')
    if sheet.rates:
        drawn = "".join(_rate(bar, sheet.labels) for bar in sheet.rates)
        yield _section(sheet.rates_title, drawn)
    step = sheet.next_step
    caution = f"<small>{_text(step.caution)}</small>" if step.caution else ""
    yield (
        f'<section class="next"><h2>{_text(step.title)}</h2><p>{_text(step.text)}</p>'
        f"{caution}{_plain(step.plain)}</section>"
    )


def _plain(plain: Pair | None) -> str:
    if plain is None:
        return ""
    return f'<p class="plain"><b>{_text(plain.label)}:</b> {_text(plain.value)}</p>'


def _middle(sheet: Sheet) -> Iterable[str]:
    mounds = [spreads_html(sheet.spreads)] if sheet.spreads else []
    mounds += [courses_html(sheet.courses)] if sheet.courses else []
    if mounds:
        yield f'<div class="mounds">{"".join(mounds)}</div>'
    if sheet.promises:
        rows = f'<table class="promises"><tbody>{_each(_promise, sheet.promises)}</tbody></table>'
        yield _section(sheet.promises_title, rows + _more(sheet.promises_more))
    blocks = _each(_listing, sheet.listings) + _each(_block, sheet.facts)
    yield f'<div class="flow">{blocks}</div>' if blocks else ""


def second_sheet(sheet: Sheet) -> Iterable[str]:
    """Yield the second sheet, which begins on paper of its own."""
    detail = sheet.detail
    dated = f"{sheet.labels.continued} · {sheet.dated}"
    yield (
        f'<section class="second" style="--print: {second_size_pt(sheet)}pt">'
        f"<h1>{_text(detail.title)}</h1><small>{_text(dated)}</small>"
    )
    if detail.spreads is not None:
        yield spreads_html(detail.spreads)
    blocks = _each(_table, detail.tables) + _each(_listing, detail.listings)
    yield f'<div class="flow two">{blocks}{_each(_block, detail.facts)}</div></section>'


def _foot(sheet: Sheet) -> Iterable[str]:
    signing = "" if sheet.sign_off is None else _signing(sheet.sign_off)
    proof = _proof(sheet.proof, sheet.labels)
    yield f'<div class="foot">{_listing(sheet.cautions)}{signing}{proof}</div>'
    ticket, footer = sheet.ticket, sheet.brand.footer
    yield (
        f'<p class="ticket"><small>{_text(ticket.label)}: </small>'
        f"<code>{_text(ticket.value)}</code></p>"
    )
    if footer:
        yield f'<p class="footer"><small>{_own(footer)}</small></p>'


def _signing(sign_off: SignOff) -> str:
    ticks = _each(_tick, sign_off.ticks)
    instead = _each(_tick, sign_off.instead)
    lines = "".join(
        f'<div class="sign"><span>{_own(who)}</span><span>{instead}</span></div>'
        for who in sign_off.lines
    )
    body = f'<p class="ticks"><b>{_text(sign_off.ticks_title)}:</b> {ticks}</p>{lines}'
    return _section(sign_off.title, body)


def _tick(text: str) -> str:
    return f'<span class="tickbox"><i aria-hidden="true"></i>{_text(text)}</span> '


def _each(draw: Callable[[T], str], items: Sequence[T]) -> str:
    return "".join(draw(item) for item in items)


def _section(title: str, body: str) -> str:
    return f"<section><h2>{_text(title)}</h2>{body}</section>"


def _more(value: str) -> str:
    return f'<p class="more"><small>{_text(value)}</small></p>' if value else ""


def _pairs(pairs: Sequence[Pair]) -> str:
    numbered = ' class="numbered"' if pairs and pairs[0].label == "1" else ""
    rows = (f"<dt>{_text(pair.label)}</dt><dd>{_own(pair.value)}</dd>" for pair in pairs)
    return f"<dl{numbered}>{''.join(rows)}</dl>"


def _cell(cell: Cell) -> str:
    return (
        f'<li class="{cell.ground.value}"><div class="panel"><b><span>{_text(cell.name)}</span></b>'
        f"<i><span>{_text(cell.state)}</span></i></div><small>{_text(cell.evidence)}</small></li>"
    )


def _rate(bar: Bar, labels: Labels) -> str:
    sold = _text(f"{labels.sold} {bar.sold}") if bar.sold else ""
    return (
        f'<div class="rate"><div><h3>{_text(bar.label)}</h3><b>{_text(bar.value)}</b>'
        f"<small>{_text(bar.interval)}</small></div><div>{_drawn_rate(bar, sold, labels)}</div>"
        f"<div>{_outcome(bar)}<br><small>{_text(bar.sample)}</small>{_aside(bar)}</div></div>"
    )


def _aside(bar: Bar) -> str:
    return f"<br><small>{_text(bar.aside)}</small>" if bar.aside else ""


def _drawn_rate(bar: Bar, sold: str, labels: Labels) -> str:
    accepted = _text(f"{labels.accepted} {bar.limit}") if bar.limit else ""
    if bar.scale is None:
        return f"<small>{_text(bar.note)} {accepted} {sold}</small>"
    limit = bar.scale.limit or 0.0
    sold_at = bar.scale.sold if bar.scale.sold is not None else 1.0
    return (
        f'<small class="at" style="width:{max(limit, 0.4):.1%}">{accepted}</small>'
        f"{bar_svg(bar.scale, _spoken(bar))}"
        f'<small class="under" style="width:{sold_at:.1%}">'
        f"<span>{_text(bar.note)}</span><span>{sold}</span></small>"
    )


def _promise(bar: Bar) -> str:
    note = f"<br><small>{_text(bar.note)}</small>" if bar.note else ""
    drawn = bar_svg(bar.scale, _spoken(bar)) if bar.scale else ""
    cells = (
        _text(bar.label) + note,
        _text(bar.value),
        f"<small>{_text(bar.interval)}</small>",
        f"<small>{_text(bar.limit)}</small>",
        drawn,
        f"<small>{_text(bar.sample)}</small>",
        _outcome(bar),
    )
    return f"<tr>{''.join(f'<td>{cell}</td>' for cell in cells)}</tr>"


def _outcome(bar: Bar) -> str:
    word = _text(bar.outcome)
    return mark_svg(bar.mark) + (f"<strong>{word}</strong>" if bar.mark is Mark.MISSED else word)


def _spoken(bar: Bar) -> str:
    return _text(f"{bar.label}: {bar.value} ({bar.interval}), {bar.limit}, {bar.outcome}")


def _table(table: Table) -> str:
    head = "".join(
        f'<th scope="col">{_text(name)}</th>' if name else "<td></td>" for name in table.head
    )
    rows = "".join(f"<tr>{''.join(f'<td>{_own(v)}</td>' for v in row)}</tr>" for row in table.rows)
    note = f"<small>{_text(table.note)}</small>" if table.note else ""
    drawn = f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
    return _section(table.title, drawn + note + _more(table.more))


def _block(block: Pairs) -> str:
    return _section(block.title, _pairs(block.pairs) + _more(block.more))


def _listing(listing: Listing) -> str:
    items = "".join(f"<p>{_text(item)}</p>" for item in listing.items)
    return _section(listing.title, items + _more(listing.more))


def _proof(proof: Proof, labels: Labels) -> str:
    code = ""
    if proof.code_text:
        code = (
            f'<div class="code" role="img" aria-label="{_text(proof.code_text)}">'
            f"{code_svg(proof.code_text)}</div>"
        )
    return _section(
        labels.record,
        f'<div class="proof">{code}<div><b>{_text(proof.record_id)}</b><br>'
        f"<small>{_text(labels.hash)} {_text(proof.hash_short)} …</small><br>"
        f"<small>{_text(proof.how)}</small></div></div>",
    )
