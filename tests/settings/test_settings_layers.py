"""Which layer wins, how entries merge, and where each value is said to come from."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.errors import SettingsError
from agent.settings.keys import leaves, parsed, written
from agent.settings.layers import laid_over, without
from agent.settings.loader import load

TREES = st.recursive(
    st.fixed_dictionaries({}, optional={"x": st.integers(), "y": st.text(max_size=3)}),
    lambda inner: st.fixed_dictionaries(
        {}, optional={"a": inner, "b": inner, "x": st.integers(), "y": st.text(max_size=3)}
    ),
    max_leaves=6,
)
"""Documents in which a and b are always tables, x and y never."""

TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=6)


@given(base=TREES)
def test_an_empty_document_changes_nothing(base):
    assert laid_over(base, {}) == laid_over({}, base) == base


@given(base=TREES)
def test_a_document_over_itself_is_itself(base):
    assert laid_over(base, base) == base


@given(first=TREES, second=TREES, third=TREES)
def test_three_documents_merge_alike_in_either_grouping(first, second, third):
    left = laid_over(laid_over(first, second), third)
    assert left == laid_over(first, laid_over(second, third))


@given(base=TREES, over=TREES)
def test_what_the_later_document_says_stands(base, over):
    merged = dict(leaves(laid_over(base, over)))
    for path, value in leaves(over):
        if value != {}:
            assert merged[path] == value


@given(base=TREES)
def test_without_a_table_nothing_of_it_is_left(base):
    left = without(base, ("a", "b"))
    assert all(path[:2] != ("a", "b") for path, _ in leaves(left))


@given(path=st.lists(TEXTS, min_size=1, max_size=4).map(tuple))
def test_key_paths_read_back_as_they_were_written(path):
    assert parsed(written(path)) == path


@pytest.mark.parametrize("text", ["", "a b", "a = 1\nb", "a.", "[a]", "a = 0 #"])
def test_what_is_no_key_path(text):
    assert parsed(text) is None or len(parsed(text)) == 1


def folder(tmp_path, name, **contents):
    path = tmp_path / name
    path.mkdir()
    for stem, content in contents.items():
        (path / f"{stem}.toml").write_text(content)
    return path


def company(value):
    return f'[identity]\ncompany = "{value}"\n'


def test_later_layers_win(tmp_path):
    user = folder(tmp_path, "user", mine=company("user") + 'technician = "user"\ncontact = "user"')
    chosen = folder(tmp_path, "chosen", any_name=company("file") + 'technician = "file"')
    environment = {"DOORSTEP_IDENTITY__TECHNICIAN": "variable"}

    def identity(environment, overrides):
        loaded = load(chosen, environment, overrides, user=user)
        found = loaded.settings.identity
        return found.contact, found.company, found.technician

    assert identity({}, {}) == ("user", "file", "file")
    assert identity(environment, {}) == ("user", "file", "variable")
    flags = {"identity.technician": "flag", "identity.company": None}
    assert identity(environment, flags) == ("user", "file", "flag")


def test_every_value_says_where_it_came_from(tmp_path):
    user = folder(tmp_path, "user", mine=company("Tern Bay Fibre"))
    chosen = tmp_path / "chosen.toml"
    chosen.write_text("[limits.cable.server_loss]\nvalue = 0.006\n")
    environment = {"DOORSTEP_SERVER__CARD": "http://192.0.2.10/card"}
    loaded = load(chosen, environment, {"line.modem_address": "192.0.2.1"}, user=user)
    assert loaded.sources["identity.company"] == str(user / "mine.toml")
    assert loaded.sources["limits.cable.server_loss.value"] == str(chosen)
    assert loaded.sources["limits.cable.server_loss.unit"].endswith("limits.toml")
    assert loaded.sources["server.card"] == "DOORSTEP_SERVER__CARD"
    assert loaded.sources["line.modem_address"] == "command line"
    assert 'tiers."Tern Bay 100/20".note' not in loaded.sources


def test_the_user_folder_is_found_from_the_environment(tmp_path):
    folder(tmp_path, "doorstep", mine=company("Tern Bay Fibre"))
    environment = {
        "HOME": str(tmp_path / "none"),
        "XDG_CONFIG_HOME": str(tmp_path),
        "APPDATA": str(tmp_path),
    }
    assert load(None, environment, {}).settings.identity.company == "Tern Bay Fibre"


def test_a_user_folder_without_settings_is_no_fault(tmp_path):
    absent = load(None, {}, {}, user=tmp_path / "absent").sha256
    assert absent == load(None, {}, {}, user=tmp_path).sha256 == load(None, {}, {}).sha256


def test_named_entries_merge_by_name_and_new_ones_are_added(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(
        '[[plans]]\nname = "standard"\n[plans.dns]\nqueries = 40\n'
        '[[tiers]]\nname = "Tern Bay 2000/2000"\n'
        "down_bps = 2_000_000_000\nup_bps = 2_000_000_000\n"
    )
    shipped, own = load(None, {}, {}).settings, load(path, {}, {}).settings
    assert [plan.name for plan in own.plans] == [plan.name for plan in shipped.plans]
    assert own.plans[0].dns.queries == 40
    assert own.plans[0].server_echo == shipped.plans[0].server_echo
    assert own.tiers[:-1] == shipped.tiers
    assert own.tiers[-1].down_bps == 2_000_000_000


def test_plain_lists_replace(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text('[targets]\nnames = ["www.ternbay.example"]\n')
    assert load(path, {}, {}).settings.targets.names == ("www.ternbay.example",)


def test_a_file_may_begin_a_named_list_anew(tmp_path):
    own = folder(
        tmp_path,
        "own",
        a_tiers='[[tiers]]\nname = "Home"\ndown_bps = 20_000_000\nup_bps = 5_000_000\n',
        b_other='replaces = ["tiers", "targets.web"]\n'
        '[[targets.web]]\nname = "own"\nurl = "http://www.ternbay.example/"\n',
    )
    loaded = load(own, {}, {})
    assert [tier.name for tier in loaded.settings.tiers] == ["Home"]
    assert [page.name for page in loaded.settings.targets.web] == ["own"]
    assert not any("Tern Bay" in key for key in loaded.sources)


@pytest.mark.parametrize("value", ['"limits"', "[5]", "true"])
def test_only_named_lists_can_be_begun_anew(tmp_path, value):
    path = tmp_path / "own.toml"
    path.write_text(f"replaces = {value}\n")
    with pytest.raises(SettingsError) as caught:
        load(path, {}, {})
    (fault,) = caught.value.faults
    assert (fault.place, fault.key) == (str(path), "replaces")


def test_two_files_of_one_folder_may_not_disagree(tmp_path):
    tier = '[[tiers]]\nname = "Home"\ndown_bps = 20_000_000\nup_bps = 5_000_000\n'
    own = folder(tmp_path, "own", a=tier + company("a"), b=tier + company("b"))
    with pytest.raises(SettingsError) as caught:
        load(own, {}, {})
    found = {(fault.place, fault.key) for fault in caught.value.faults}
    assert found == {(str(own / "b.toml"), "tiers.Home"), (str(own / "b.toml"), "identity.company")}


ENVIRONMENT = [
    ("DOORSTEP_SERVER__CARD", "http://192.0.2.10/card", "server.card", "http://192.0.2.10/card"),
    ("DOORSTEP_SERVER__TOKEN", '"007"', "server.token", "007"),
    ("DOORSTEP_SERVER__TOKEN", "a = b", "server.token", "a = b"),
    ("DOORSTEP_SERVER__TOKEN", "2026-03-02", "server.token", "2026-03-02"),
    ("DOORSTEP_SERVER__TOKEN", "1\ntoken = 2", "server.token", "1\ntoken = 2"),
    ("DOORSTEP_PLANS__STANDARD__THROUGHPUT__SECONDS", "8.5", "plans.0.throughput.seconds", 8.5),
    ("DOORSTEP_PLANS__NO_FILL__DNS__QUERIES", "40", "plans.1.dns.queries", 40),
    ("DOORSTEP_PLANS__STANDARD__LEASE__PROBE", "false", "plans.0.lease.probe", False),
    ("DOORSTEP_TIERS__TERN_BAY_100_20__NOTE", "old", "tiers.2.note", "old"),
    ("doorstep_identity__company", "Tern Bay", "identity.company", "Tern Bay"),
    ("DOORSTEP_TARGETS__NAMES", '["a.example"]', "targets.names", ("a.example",)),
]


@pytest.mark.parametrize(("variable", "text", "key", "expected"), ENVIRONMENT)
def test_variables_set_what_they_name(variable, text, key, expected):
    value = load(None, {variable: text}, {}).settings
    for part in key.split("."):
        value = value[int(part)] if part.isdigit() else getattr(value, part)
    assert value == expected


@pytest.mark.parametrize(
    ("variable", "text", "key"),
    [
        ("DOORSTEP_SERVER", "x", ""),
        ("DOORSTEP_SERVER__", "x", ""),
        ("DOORSTEP_SEVER__CARD", "x", "sever"),
        ("DOORSTEP_SERVER__CRAD", "x", "server.crad"),
        ("DOORSTEP_SERVER__TOKEN", "12", "server.token"),
        ("DOORSTEP_SERVER__TOKEN", "\udc80", ""),
    ],
)
def test_variables_at_fault_are_named(variable, text, key):
    with pytest.raises(SettingsError) as caught:
        load(None, {variable: text, "OTHER": "\udc80"}, {})
    assert {(fault.place, fault.key) for fault in caught.value.faults} == {(variable, key)}


def test_the_variables_of_a_command_are_no_settings():
    assert load(None, {"DOORSTEP_SERVE_TOKEN": "hush"}, {}).sha256 == load(None, {}, {}).sha256


def test_flags_at_fault_are_named():
    with pytest.raises(SettingsError) as caught:
        load(None, {}, {"a b": 1, "server.card": "\udc80", "line.modem_address": "x"})
    assert [(fault.place, fault.key) for fault in caught.value.faults] == [
        ("command line", ""),
        ("command line", "server.card"),
        ("command line", "line.modem_address"),
    ]


def test_the_hash_tells_what_judges_and_nothing_private():
    shipped = load(None, {}, {}).sha256
    assert len(shipped) == 64
    private = {"identity.technician": "T. Marsh", "server.token": "secret"}
    assert load(None, {}, private).sha256 == shipped
    assert load(None, {}, {"limits.dsl.dns_p95.value": 151}).sha256 != shipped
