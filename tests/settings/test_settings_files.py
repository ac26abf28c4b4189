"""The shipped defaults, where settings lie, and files that cannot be read."""

from pathlib import Path

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from agent.errors import SettingsError
from agent.measurements import Kind
from agent.settings import files
from agent.settings.loader import load
from agent.settings.model import Access
from agent.settings.schema import json_schema


def faults_of(path, environment=None, overrides=None):
    with pytest.raises(SettingsError) as caught:
        load(path, environment or {}, overrides or {})
    return caught.value.faults


def attempted(path, overrides):
    """Return the faults of settings that were refused, none where they were taken."""
    try:
        loaded = load(path, {}, overrides)
    except SettingsError as error:
        return error.faults or pytest.fail("an error without a fault")
    return () if loaded.settings.limits else pytest.fail("settings without limits")


def written(folder, name, content):
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def test_shipped_settings_are_sound_and_fit_the_published_schema():
    loaded = load(None, {}, {})
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    document = loaded.settings.model_dump(mode="json")
    jsonschema.Draft202012Validator(schema).validate(document)


def test_schema_refuses_what_the_loader_refuses():
    document = load(None, {}, {}).settings.model_dump(mode="json")
    document["tiers"][0]["down_bps"] = 100
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(json_schema()).validate(document)


def test_shipped_plans_keep_what_their_names_promise():
    plans = {plan.name: plan for plan in load(None, {}, {}).settings.plans}
    assert set(plans["standard"].steps) == set(Kind)
    assert set(plans["no-fill"].steps) == set(Kind) - {Kind.THROUGHPUT}
    assert plans["long"].server_echo.count > plans["standard"].server_echo.count


# Common practice, no source: server loss, first hop, server delay, variation, rise under load, DNS
# median and p95.
TRADE_LIMITS = {
    Access.FIBRE: (0.005, 8, 15, 5, 50, 50, 150),
    Access.CABLE: (0.005, 20, 30, 15, 150, 50, 150),
    Access.DSL: (0.005, 35, 45, 10, 200, 50, 150),
    Access.WIRELESS: (0.01, 50, 70, 30, 300, 100, 250),
}


@pytest.mark.parametrize("access", TRADE_LIMITS)
def test_shipped_limits_are_those_of_the_trade(access):
    limits = load(None, {}, {}).settings.limits[access]
    found = (
        limits.server_loss,
        limits.first_hop_delay_median,
        limits.server_delay_median,
        limits.server_delay_variation,
        limits.server_delay_rise,
        limits.dns_median,
        limits.dns_p95,
    )
    assert tuple(limit.value for limit in found) == TRADE_LIMITS[access]
    assert (limits.gateway_delay_median.value, limits.gateway_delay_p95.value) == (1, 3)
    assert (limits.gateway_loss.value, limits.gateway_loss.unit) == (0, "count")


def test_a_line_nobody_named_gets_the_most_lenient_limits():
    every = load(None, {}, {}).settings.limits
    named = [limits for access, limits in every.items() if access is not Access.UNKNOWN]
    for criterion, limit in every[Access.UNKNOWN]:
        if limit is not None:
            assert limit.value == max(getattr(limits, criterion).value for limits in named)


# Design default: 0.95 wired fibre, 0.90 cable and DSL, 0.80 fixed wireless.
@pytest.mark.parametrize(
    ("access", "share"),
    [
        (Access.FIBRE, 0.95),
        (Access.CABLE, 0.90),
        (Access.DSL, 0.90),
        (Access.WIRELESS, 0.80),
        (Access.UNKNOWN, 0.90),
    ],
)
def test_shipped_accepted_shares(access, share):
    accept = load(None, {}, {}).settings.accept[access]
    assert (accept.down, accept.up) == (share, share)


def test_no_shipped_name_or_address_belongs_to_anyone():
    """RFC 2606 §2 and §3: example.com, .net, .org and the .example domain are for examples."""
    shipped = load(None, {}, {}).settings
    hosts = [*shipped.targets.names, *(page.url.split("/")[2] for page in shipped.targets.web)]
    allowed = ("example.com", "example.net", "example.org", ".example")
    assert hosts
    assert all(host.endswith(allowed) for host in hosts)
    assert shipped.server.card is shipped.server.token is None


HOME = {"HOME": "/home/marsh"}


@pytest.mark.parametrize(
    ("environment", "platform", "expected"),
    [
        (HOME, "linux", "/home/marsh/.config/doorstep"),
        (HOME | {"XDG_CONFIG_HOME": "/etc/marsh"}, "linux", "/etc/marsh/doorstep"),
        # XDG Base Directory Specification: relative paths are invalid and to be ignored.
        (HOME | {"XDG_CONFIG_HOME": "marsh"}, "linux", "/home/marsh/.config/doorstep"),
        (HOME, "darwin", "/home/marsh/Library/Application Support/doorstep"),
        ({"APPDATA": "/marsh/Roaming"}, "win32", "/marsh/Roaming/doorstep"),
        ({}, "linux", None),
        ({}, "darwin", None),
        (HOME, "win32", None),
    ],
)
def test_where_a_users_own_settings_lie(environment, platform, expected):
    assert files.user_folder(environment, platform) == (Path(expected) if expected else None)


UNREADABLE = [
    ("syntax", b'[server]\ncard = "http://a/card\n', 2, "no TOML"),
    ("key twice", b"[server]\ntoken = 'a'\ntoken = 'b'\n", 3, "no TOML"),
    ("end of file", b"[server]\ncard = [", 2, "no TOML"),
    ("Latin-1", b"# ok\n# caf\xe9\n", 2, "not UTF-8"),
    ("UTF-16", "[server]".encode("utf-16"), 1, "not UTF-8"),
    ("too large", b"#" + b"\n" * files.MAX_BYTES, None, "more than 1_000_000 bytes"),
    ("long line", b"# " + b"a" * files.MAX_LINE, 1, "characters"),
    ("too deep", b"a.b.c.d.e.f.g.h.i.j.k.l.m.n = 1", None, "tables deep"),
    ("nested lists", b"a = " + b"[\n" * 3_000, None, "beyond all use"),
]


@pytest.mark.parametrize(
    ("content", "line", "found"), [case[1:] for case in UNREADABLE], ids=[c[0] for c in UNREADABLE]
)
def test_unreadable_files_say_where(tmp_path, content, line, found):
    path = written(tmp_path, "company.toml", content)
    (fault,) = faults_of(path)
    assert (fault.place, fault.key, fault.line) == (str(path), "", line)
    assert found in fault.found


def test_a_byte_order_mark_does_no_harm(tmp_path):
    path = written(tmp_path, "company.toml", "\ufeff[identity]\ncompany = 'Tern Bay Fibre'\n")
    assert load(path, {}, {}).settings.identity.company == "Tern Bay Fibre"


@pytest.mark.parametrize("kind", ["absent", "empty folder", "device", "null byte"])
def test_paths_that_hold_no_settings(tmp_path, kind):
    paths = {
        "absent": tmp_path / "none.toml",
        "empty folder": tmp_path,
        "device": Path("/dev/null"),
        "null byte": Path("a\0b"),
    }
    (fault,) = faults_of(paths[kind])
    assert fault.place == str(paths[kind])


def test_a_file_that_may_not_be_read_says_why(tmp_path, monkeypatch):
    path = written(tmp_path, "company.toml", "")
    refusal = PermissionError(13, "Permission denied")
    monkeypatch.setattr(Path, "open", lambda *a, **k: (_ for _ in ()).throw(refusal))
    source, (fault,) = files.read_file(path)
    assert source is None
    assert "Permission denied" in fault.found


def test_too_many_files_are_not_read(tmp_path):
    for number in range(files.MAX_FILES + 1):
        written(tmp_path, f"{number}.toml", "")
    (fault,) = faults_of(tmp_path)
    assert str(files.MAX_FILES) in fault.allowed


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(content=st.binary(max_size=400) | st.text(max_size=400).map(lambda t: t.encode("utf-8")))
def test_any_bytes_give_settings_or_one_settings_error(tmp_path, content):
    path = written(tmp_path, "any.toml", content)
    faults = attempted(path, {})
    assert all(fault.sentence().isprintable() for fault in faults)


KEYS = ["plans", "tiers", "limits", "name", "down_bps", "fibre", "web", "targets", "value", "x y"]
VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**30), 10**30)
    | st.floats()
    | st.text(max_size=8)
    | st.dates(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(KEYS), inner),
    max_leaves=8,
)


@settings(max_examples=200, deadline=None)
@given(
    override=st.dictionaries(
        st.sampled_from(
            ["plans", "tiers.x", "limits", "limits.fibre", "targets", "fitness.tunnel", "line", "z"]
        ),
        VALUES,
        max_size=3,
    )
)
def test_any_values_give_settings_or_one_settings_error(override):
    faults = attempted(None, override)
    assert all(fault.sentence().isprintable() for fault in faults)
