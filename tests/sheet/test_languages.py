"""Every language has every text of the first: the same codes, values and kinds, none left over."""

import re
import string
from dataclasses import fields, is_dataclass, replace
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest
from records import CASES

from agent.record.seal import seal
from agent.sheet import en
from agent.sheet.catalogue import LANGUAGES, language, locale_tag, speaking, words
from agent.sheet.view import Dress, build_sheet

OTHERS = LANGUAGES[1:]
MODULES = sorted(p.stem for p in Path(en.__file__).parent.glob("*.py") if p.stem != "__init__")
# A language may need more room than English, a page has none to give away.
LONGEST = {"customer": 115, "customer_addresses": 115}
SENTENCES = 190


def tables(language, module):
    found = vars(import_module(f"agent.sheet.{language}.{module}"))
    return {
        name: value
        for name, value in found.items()
        if name.lstrip("_").isupper() and not isinstance(value, ModuleType)
    }


def texts(value, place=()):
    """Yield every text of a table with its place in it."""
    if isinstance(value, str):
        yield place, value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from texts(inner, (*place, key))
    elif isinstance(value, tuple):
        for at, inner in enumerate(value):
            yield from texts(inner, (*place, at))


def named(text):
    return sorted({name for _, name, _, _ in string.Formatter().parse(text) if name})


@pytest.mark.parametrize("module", MODULES)
@pytest.mark.parametrize("other", OTHERS)
def test_the_tables_are_the_same(other, module):
    first, second = tables("en", module), tables(other, module)
    assert set(first) == set(second)
    for name, value in first.items():
        places = dict(texts(value))
        assert places.keys() == dict(texts(second[name])).keys(), name


@pytest.mark.parametrize("module", MODULES)
@pytest.mark.parametrize("other", OTHERS)
def test_a_text_names_the_values_of_the_first(other, module):
    for name, value in tables("en", module).items():
        second = dict(texts(tables(other, module)[name]))
        for place, text in texts(value):
            assert named(second[place]) == named(text), (name, place)
            assert bool(second[place]) == bool(text), (name, place)


@pytest.mark.parametrize("module", MODULES)
@pytest.mark.parametrize("other", OTHERS)
def test_a_text_is_written_anew_and_no_longer_than_the_page_takes(other, module):
    for name, value in tables("en", module).items():
        second = dict(texts(tables(other, module)[name]))
        for place, text in texts(value):
            there = second[place]
            assert len(there) <= max(LONGEST.get(module, SENTENCES), 1.45 * len(text)), place
            sentence = len(re.findall(r"[a-z]{3,}", text)) > 4
            assert not (sentence and there == text), (name, place)


# What a caution must not lose on its way into another language.
CAUTIONS = {
    "de": {
        r"\btaps?\b": r"Abzweiger",
        r"powered plant": r"gespeiste",
        r"fibre or connector": r"Faser oder",
        r"ground bond": r"Erdung|Potentialausgleich",
        r"alarm": r"Alarm",
        r"telecare": r"Hausnotruf",
        r"[Aa]sk first|[Aa]sk before": r"[Vv]orher fragen|fragen",
    }
}


@pytest.mark.parametrize("other", OTHERS)
def test_a_caution_keeps_its_whole_meaning(other):
    first, second = tables("en", "areas")["STEP"], tables(other, "areas")["STEP"]
    for code, (_, caution) in first.items():
        for said, there in CAUTIONS[other].items():
            if re.search(said, caution):
                assert re.search(there, second[code][1]), (code, said)


@pytest.mark.parametrize("case", CASES)
def test_the_figures_are_the_same_in_every_language(case):
    stored = seal(CASES[case]())
    first = build_sheet(stored)
    for other in OTHERS:
        second = build_sheet(stored, dress=Dress(language=other))
        both = zip(first.rates + first.promises, second.rates + second.promises, strict=True)
        for one, two in both:
            assert two.scale == one.scale
            assert digits(two.value, other) == digits(one.value, "en")
            assert digits(two.interval, other) == digits(one.interval, "en")
        assert second.proof.sha256 == first.proof.sha256
        assert [cell.ground for cell in second.strip] == [cell.ground for cell in first.strip]


def digits(text, language):
    """Return the figures of a text by their decimal sign: a comma in German (CLDR)."""
    sign = {"en": ".", "de": ","}[language]
    return re.sub(rf"[^\d{re.escape(sign)}]", " ", text).replace(sign, ".").split()


@pytest.mark.parametrize("other", OTHERS)
def test_no_label_stands_in_two_languages(other):
    """A page in one language has no sentence of another on it."""
    stored = seal(CASES["below"]())
    english = build_sheet(stored)
    page = build_sheet(stored, dress=Dress(language=other))
    titles = [block.title for block in (*page.facts, *page.listings)]
    same = {block.title for block in (*english.facts, *english.listings)} & set(titles)
    assert same == set()
    assert page.language == other


# Words that a sentence of the first language can hardly do without, and others do not have.
TELLING = frozenset({"the", "of", "and", "with", "from", "is", "are", "this", "that", "while"})


def texts_of(value):
    if is_dataclass(value):
        value = tuple(getattr(value, field.name) for field in fields(value))
    if isinstance(value, tuple):
        for inner in value:
            yield from texts_of(inner)
    elif isinstance(value, str):
        yield value


@pytest.mark.parametrize("other", OTHERS)
@pytest.mark.parametrize("case", [name for name in CASES if name != "extreme"])
def test_no_sentence_of_the_first_language_is_left_on_a_page(other, case):
    record = CASES[case]()
    own = replace(record, visit=replace(record.visit, spot=None))
    for text in texts_of(build_sheet(seal(own), dress=Dress(language=other))):
        assert not TELLING & set(re.findall(r"[a-z]+", text.lower())), text


def test_a_language_is_spoken_inside_and_nowhere_else():
    assert language() == "en"
    with speaking("en-GB"):
        assert (language(), locale_tag()) == ("en", "en-GB")
    assert locale_tag() == "en"


def test_a_language_without_words_is_written_in_the_first():
    with speaking("x-unknown"):
        assert language() == "en"
        assert words.TITLE
