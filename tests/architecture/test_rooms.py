"""The house rules as data: which room may import what, and what pure rooms must not load.

Each failure names the file, the line and the import. A new room needs a row here first.
"""

from __future__ import annotations

import ast
import graphlib
import json
import subprocess
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from statistics import median

import pytest

ROOT = Path(__file__).parents[2]
AGENT = ROOT / "agent"

BASE = "errors units clock"
PURE = "codec measurements stats schedules settings assessment diagnosis chain"


@dataclass(frozen=True)
class Room:
    """What a room may import: other rooms, and packages of third parties."""

    rooms: str = ""
    packages: str = ""


BEFORE_SESSION = f"{BASE} {PURE} ports engines probes record"

ROOMS = {
    "errors": Room(),
    "units": Room(),
    "clock": Room(),
    "codec": Room(BASE),
    "measurements": Room(BASE),
    "settings": Room(f"{BASE} measurements", "pydantic pydantic_core"),
    "stats": Room(f"{BASE} measurements"),
    "schedules": Room(f"{BASE} codec measurements stats settings"),
    "ports": Room(f"{BASE} codec measurements"),
    "engines": Room(
        f"{BASE} ports codec measurements",
        "httpx httpcore h11 certifi icmplib jeepney psutil pyroute2 dns cryptography",
    ),
    "probes": Room(f"{BASE} schedules ports measurements codec settings"),
    "helper": Room(f"{BASE} codec", "scapy"),
    "assessment": Room(f"{BASE} measurements stats settings"),
    "diagnosis": Room(f"{BASE} assessment measurements stats settings"),
    "chain": Room(f"{BASE} codec measurements settings stats schedules assessment diagnosis"),
    # Reads a stored record back into the values it was made of, typed: hence pydantic.
    "record": Room(
        f"{BASE} measurements assessment diagnosis",
        "rfc8785 cryptography pydantic pydantic_core",
    ),
    "session": Room(BEFORE_SESSION),
    "sheet": Room(f"{BASE} record", "rich typst segno font_source_sans_pro babel PIL defusedxml"),
    "series": Room(f"session {BASE} {PURE} record"),
    "server": Room(f"{BASE} codec settings record sheet", "h11"),
    # Makes the certificates that its web sites show, hence cryptography.
    "practice": Room(f"{BASE} settings codec", "pyroute2 cryptography"),
    "cli": Room(f"{BEFORE_SESSION} session sheet series server practice helper", "typer rich"),
    "__main__": Room("errors cli"),
}
"""Every room may also import itself, the package's own version and the standard library."""

ONLY_IN = {
    "httpx": ("engines/http.py",),
    "scapy": ("helper/",),
    "pydantic": ("settings/", "record/"),
    "typer": ("cli/",),
    "rich": ("sheet/", "cli/"),
    "jeepney": ("engines/linux_dbus.py",),
    "PIL": ("sheet/logos/png.py",),
    "defusedxml": ("sheet/logos/tree.py",),
    "asyncio": (),
}
"""Packages that stand in one place, so that another can take theirs."""

NETWORK = ("socket", "ssl", "asyncio", "scapy", "icmplib", "httpx", "rich")
"""What a room that only computes never loads."""

COMPUTING = ("codec", "measurements", "stats", "schedules", "assessment", "diagnosis", "chain")
COMPUTING_FILES = ("sheet/view.py", "record/model.py", "settings/")

WALL_CLOCK = {
    "time": {"time", "time_ns", "localtime", "ctime", "asctime", "strftime"},
    "datetime": {"now", "utcnow", "today"},
    "date": {"today"},
}
CLOCK = "clock.py"

LONGEST_MODULE = 600
MEDIAN_MODULE = 150
MEDIAN_FUNCTION = 9

UNFINISHED = ("TO" + "DO", "FIX" + "ME", "HA" + "CK")
PRIVATE = ("/wo" + "rk/", "/opt/d" + "v", "/tmp/br" + "ief", "/home/" + "user")
LOOSE = ("ping " + "time", "line " + "speed", "speed" + "test", "speed " + "test")
FORBIDDEN = (*UNFINISHED, *PRIVATE, *LOOSE)
"""Words of unfinished work, folders of one machine, and terms that the standards do not know."""

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "agent",
    "tests",
    "config",
    "reports",
}
MADE = {"dist", "build", "htmlcov"}
"""Folders that tools make and git ignores."""


@dataclass(frozen=True)
class Import:
    """One import of a module, and where it stands."""

    file: str
    line: int
    module: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line} imports {self.module}"


def relative(path: Path) -> str:
    return path.relative_to(AGENT).as_posix()


@cache
def modules() -> tuple[Path, ...]:
    found = (path for path in AGENT.rglob("*.py") if "__pycache__" not in path.parts)
    return tuple(sorted(found))


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def room_of(path: Path) -> str:
    """Return the room of a file; empty for the package's own __init__."""
    first = path.relative_to(AGENT).parts[0].removesuffix(".py")
    return "" if first == "__init__" else first


def imports(path: Path) -> list[Import]:
    """Return every import of a file, those inside functions and for typing too."""
    found = []
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and not node.level:
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = ["." * node.level]
        else:
            continue
        found += [Import(relative(path), node.lineno, name) for name in names]
    return found


def refused(found: Import, room: str) -> bool:
    top, *rest = found.module.split(".")
    row = ROOMS[room]
    if top == "agent":
        aim = rest[0] if rest else ""
        return aim not in {room, "", "__version__", *row.rooms.split()}
    return top not in {*sys.stdlib_module_names, *row.packages.split()}


def rooms_there_are() -> set[str]:
    return {room_of(path) for path in modules()} - {""}


def test_every_room_has_its_row():
    assert rooms_there_are() <= set(ROOMS)


def test_the_table_runs_one_way():
    known = {name: set(row.rooms.split()) for name, row in ROOMS.items()}
    assert set().union(*known.values()) <= set(ROOMS)
    order = list(graphlib.TopologicalSorter(known).static_order())
    assert order.index("measurements") < order.index("assessment") < order.index("cli")


@pytest.mark.parametrize("room", sorted(ROOMS))
def test_a_room_imports_only_what_its_row_allows(room):
    files = [path for path in modules() if room_of(path) == room]
    wrong = [str(found) for path in files for found in imports(path) if refused(found, room)]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    ("room", "module", "outcome"),
    [
        ("stats", "math", False),
        ("stats", "agent.stats.summary", False),
        ("stats", "agent.measurements.Kind", False),
        ("cli", "agent.__version__", False),
        ("stats", "agent.engines.http", True),
        ("stats", "httpx", True),
        ("record", "agent.probes", True),
        ("helper", "scapy.all", False),
        ("engines", "scapy.all", True),
        ("stats", ".", True),
    ],
)
def test_the_comparison_itself_tells_right_from_wrong(room, module, outcome):
    assert refused(Import("example.py", 1, module), room) is outcome


@pytest.mark.parametrize("package", sorted(ONLY_IN))
def test_a_package_stands_in_one_place(package):
    wrong = [
        str(found)
        for path in modules()
        for found in imports(path)
        if found.module.split(".")[0] == package and not found.file.startswith(ONLY_IN[package])
    ]
    assert not wrong, "\n".join(wrong)


def computing_modules() -> list[Path]:
    return [
        path
        for path in modules()
        if room_of(path) in COMPUTING or relative(path).startswith(COMPUTING_FILES)
    ]


def test_rooms_that_compute_name_no_network():
    wrong = [
        str(found)
        for path in computing_modules()
        for found in imports(path)
        if found.module.split(".")[0] in NETWORK
    ]
    assert not wrong, "\n".join(wrong)


LOADING = """
import importlib, json, sys
banned, after, names = json.loads(sys.argv[1])
for name in after:
    importlib.import_module(name)
before = set(sys.modules)
found = {}
for name in names:
    importlib.import_module(name)
    new = sorted(m for m in banned if m in sys.modules and m not in before)
    if new:
        found[name] = new
        before.update(new)
print(json.dumps(found))
"""


def dotted(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def loaded(names: list[str], after: list[str]) -> dict[str, list[str]]:
    """Return which banned modules came with which module, in a fresh interpreter."""
    request = json.dumps([NETWORK, after, names])
    done = subprocess.run(
        [sys.executable, "-c", LOADING, request],
        capture_output=True,
        text=True,
        timeout=100,
        check=False,
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_rooms_that_compute_load_no_network():
    """The settings model is loaded first: pydantic brings a socket module of its own."""
    names = [dotted(path) for path in computing_modules()]
    assert loaded(names, after=["agent.settings.model"]) == {}


def test_the_lowest_rooms_load_no_network_whatever_came_before():
    lowest = ("errors", "units", "clock", "codec", "measurements", "stats")
    names = [dotted(path) for path in modules() if room_of(path) in lowest]
    assert loaded(names, after=[]) == {}


def test_every_module_says_what_it_is_for():
    silent = [relative(path) for path in modules() if not ast.get_docstring(tree(path))]
    assert not silent


def wall_clock_reads(path: Path) -> list[str]:
    found = []
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Attribute) and node.attr in WALL_CLOCK.get(_name(node.value), ()):
            found.append(f"{relative(path)}:{node.lineno} reads {_name(node.value)}.{node.attr}")
        if isinstance(node, ast.ImportFrom) and node.module == "time":
            taken = {alias.name for alias in node.names} & WALL_CLOCK["time"]
            found += [f"{relative(path)}:{node.lineno} takes {name}" for name in taken]
    return found


def _name(node: ast.expr) -> str:
    return getattr(node, "id", None) or getattr(node, "attr", "")


def test_only_the_clock_reads_wall_time():
    wrong = [found for p in modules() if relative(p) != CLOCK for found in wall_clock_reads(p)]
    assert not wrong, "\n".join(wrong)
    assert wall_clock_reads(AGENT / CLOCK)


def length(path: Path) -> int:
    return len(path.read_text(encoding="utf-8").splitlines())


def test_no_module_is_long():
    lengths = {relative(path): length(path) for path in modules()}
    assert {name: n for name, n in lengths.items() if n > LONGEST_MODULE} == {}
    assert median(n for n in lengths.values() if n > 1) <= MEDIAN_MODULE


def test_most_functions_are_a_few_lines():
    lengths = [
        (node.end_lineno or node.lineno) - node.lineno + 1
        for path in modules()
        for node in ast.walk(tree(path))
        if isinstance(node, ast.FunctionDef)
    ]
    assert median(lengths) <= MEDIAN_FUNCTION


def written_files() -> list[Path]:
    folders = (AGENT, ROOT / "tests", ROOT / "config")
    kinds = {".py", ".toml", ".md", ".html", ".css", ".typ", ".conf", ".sh", ".txt"}
    inside = [path for folder in folders for path in folder.rglob("*") if path.suffix in kinds]
    return inside + [path for path in ROOT.iterdir() if path.suffix in kinds]


def test_no_forbidden_words():
    wrong = [
        f"{path.relative_to(ROOT)}:{number} says {word}"
        for path in written_files()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        for word in FORBIDDEN
        if word in line
    ]
    assert not wrong, "\n".join(wrong)


def test_nothing_else_stands_at_the_top():
    there = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert there - MADE - {name for name in there if name.endswith(".egg-info")} <= TOP_LEVEL
