"""The company's identity: its logo's file, its line, its language and its paper."""

import tomllib

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.errors import SettingsError
from agent.settings.files import default_folder
from agent.settings.identity import LANGUAGES
from agent.settings.loader import describe, load
from agent.settings.model import Identity
from agent.settings.schema import json_schema
from agent.sheet import catalogue

VARIABLE = "DOORSTEP_IDENTITY__"


def identity_of(path=None, environment=None, overrides=None):
    return load(path, environment or {}, overrides or {}).settings.identity


def faults_of(path=None, environment=None, overrides=None):
    with pytest.raises(SettingsError) as caught:
        load(path, environment or {}, overrides or {})
    return {(fault.key, fault.place): fault for fault in caught.value.faults}


def written(folder, content, name="own.toml"):
    folder.mkdir(exist_ok=True)
    path = folder / name
    path.write_text(f"[identity]\n{content}\n", encoding="utf-8")
    return path


def test_nothing_said_is_english_on_a4_without_a_logo():
    found = identity_of()
    assert (found.language, found.paper) == ("en", "a4")
    assert found.logo is found.footer is None


def test_the_settings_and_the_sheet_know_the_same_languages():
    assert {*LANGUAGES} == {*catalogue.LANGUAGES, "de"}
    assert Identity().language == catalogue.LANGUAGES[0]


def test_the_shipped_file_shows_every_key_with_a_value_that_serves(tmp_path):
    shipped = (default_folder() / "identity.toml").read_text(encoding="utf-8")
    shown = shipped.replace("\n# ", "\n")
    (tmp_path / "logo.svg").touch()
    (tmp_path / "identity.toml").write_text(shown, encoding="utf-8")
    assert set(tomllib.loads(shown)["identity"]) == set(Identity.model_fields)
    assert identity_of(tmp_path).company == "Tern Bay Fibre"


# RFC 5646 §2.1: a language of two letters, a region of two letters or three digits; §2.1.1: case
# says nothing, and by convention the language is small and the region in capitals.
@pytest.mark.parametrize(
    ("tag", "taken"),
    [
        ("en", "en"),
        ("de", "de"),
        ("en-GB", "en-GB"),
        ("de-AT", "de-AT"),
        ("de-ch", "de-CH"),
        ("EN-gb", "en-GB"),
        ("en-150", "en-150"),
        ("fr", None),
        ("fr-CH", None),
        ("", None),
        ("english", None),
        ("de_AT", None),
        ("de-", None),
        ("de-AUT", None),
        ("de-1", None),
        ("de-AT-1996", None),
        ("de\n", None),
        ("den", None),
        ("x-de", None),
    ],
)
def test_a_language_is_one_of_ours_with_or_without_a_region(tag, taken):
    if taken is not None:
        assert identity_of(overrides={"identity.language": tag}).language == taken
        return
    (fault,) = faults_of(overrides={"identity.language": tag}).values()
    assert fault.key == "identity.language"
    assert all(f'"{known}"' in fault.allowed for known in LANGUAGES)


@pytest.mark.parametrize(
    ("footer", "sound"),
    [
        ("Tern Bay Fibre · www.ternbay.example", True),
        ("é" * 120, True),
        ("é" * 121, False),
        ("", False),
        ("two\nlines", False),
        ("two\u2028lines", False),
        ("bell\x07", False),
        ("next\x85line", False),
    ],
)
def test_a_footer_is_one_line_of_bounded_length(footer, sound):
    given_ = {"identity.footer": footer}
    if sound:
        assert identity_of(overrides=given_).footer == footer
    else:
        (fault,) = faults_of(overrides=given_).values()
        assert "one line of 1 to 120 characters" in fault.allowed


@given(text=st.text(max_size=130))
def test_the_published_schema_and_the_loader_take_the_same_identity(text):
    schema = {**json_schema(), "$ref": "#/$defs/Identity"}
    schema = {key: schema[key] for key in ("$schema", "$defs", "$ref")}
    for key in ("language", "footer", "paper"):
        try:
            Identity.model_validate_json(
                Identity().model_copy(update={key: text}).model_dump_json()
            )
        except ValueError:
            taken = False
        else:
            taken = True
        fits = jsonschema.Draft202012Validator(schema).is_valid({key: text})
        # Python reads the schema's "$" as "before a last line end" too; JSON Schema does not.
        assert fits == taken or text.endswith("\n")


def test_a_logo_lies_where_the_file_that_names_it_lies(tmp_path, monkeypatch):
    path = written(tmp_path / "own", 'logo = "pictures/tern.SVG"')
    (tmp_path / "own" / "pictures").mkdir()
    logo = tmp_path / "own" / "pictures" / "tern.SVG"
    logo.touch()
    assert identity_of(path).logo == str(logo)
    assert identity_of(path.parent).logo == str(logo)
    monkeypatch.chdir(tmp_path)
    assert identity_of(path.relative_to(tmp_path)).logo == str(logo)


def test_a_later_layer_without_a_logo_leaves_it_in_the_folder_of_the_earlier(tmp_path):
    written(tmp_path / "user", 'logo = "tern.png"')
    (tmp_path / "user" / "tern.png").touch()
    later = written(tmp_path / "later", 'footer = "Tern Bay Fibre"')
    found = load(later, {}, {}, user=tmp_path / "user")
    assert found.settings.identity.logo == str(tmp_path / "user" / "tern.png")
    assert found.sources["identity.logo"] == str(tmp_path / "user" / "own.toml")


def test_a_whole_path_is_taken_as_it_is(tmp_path):
    (tmp_path / "tern.png").touch()
    path = written(tmp_path / "own", f"logo = '{tmp_path / 'tern.png'}'")
    assert identity_of(path).logo == str(tmp_path / "tern.png")


@pytest.mark.parametrize("how", ["variable", "flag"])
def test_a_variable_and_a_flag_name_a_logo_from_where_the_program_runs(tmp_path, monkeypatch, how):
    (tmp_path / "tern.png").touch()
    monkeypatch.chdir(tmp_path)
    environment = {f"{VARIABLE}LOGO": "tern.png"} if how == "variable" else {}
    overrides = {"identity.logo": "tern.png"} if how == "flag" else {}
    assert identity_of(None, environment, overrides).logo == str(tmp_path / "tern.png")


@pytest.mark.parametrize("name", ["none.svg", "folder.svg", "none/tern.png", f"{'a' * 990}.svg"])
def test_a_logo_that_is_not_there_is_named_with_the_whole_path(tmp_path, name):
    (tmp_path / "folder.svg").mkdir()
    path = written(tmp_path, f'logo = "{name}"')
    (fault,) = faults_of(path).values()
    assert (fault.key, fault.place) == ("identity.logo", str(path))
    assert fault.found == f"no file {tmp_path / name}"
    assert "SVG or PNG" in fault.allowed


@pytest.mark.parametrize(
    "name",
    ["tern.gif", "tern", ".svg", "tern.svg.exe", "tern.png\n", "a\0.svg", f"{'a' * 1001}.svg"],
)
def test_a_logo_of_another_name_is_refused_for_its_name(name):
    (fault,) = faults_of(overrides={"identity.logo": name}).values()
    assert (fault.key, fault.place) == ("identity.logo", "command line")
    assert fault.found.startswith('"')
    assert "SVG or PNG" in fault.allowed


def test_all_faults_of_an_identity_at_once(tmp_path):
    path = written(
        tmp_path / "own",
        'logo = "none.png"\nfooter = "a\\nb"\nlanguage = "fr"\npaper = "a5"\ncompny = "x"',
    )
    found = faults_of(path, {f"{VARIABLE}CONTACT": "5"})
    assert set(found) == {
        *((f"identity.{key}", str(path)) for key in ("logo", "footer", "language", "paper")),
        ("identity.compny", str(path)),
        ("identity.contact", f"{VARIABLE}CONTACT"),
    }
    assert str(path.parent / "none.png") in found["identity.logo", str(path)].found


@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("FOOTER", "Tern Bay Fibre", "Tern Bay Fibre"),
        ("LANGUAGE", "de-at", "de-AT"),
        ("PAPER", "letter", "letter"),
    ],
)
def test_variables_set_the_identity(key, text, value):
    loaded = load(None, {VARIABLE + key: text}, {})
    assert getattr(loaded.settings.identity, key.lower()) == value
    shown = [line for line in describe(loaded) if line.startswith(f"identity.{key.lower()} = ")]
    assert shown == [f'identity.{key.lower()} = "{value}"   (from {VARIABLE}{key})']


def test_an_identity_says_nothing_of_how_a_line_is_judged(tmp_path):
    (tmp_path / "tern.svg").touch()
    path = written(tmp_path, 'logo = "tern.svg"\nlanguage = "de"\npaper = "letter"\nfooter = "x"')
    assert load(path, {}, {}).sha256 == load(None, {}, {}).sha256
