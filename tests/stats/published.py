"""The check values beside this file, by id and by prefix."""

import tomllib
from pathlib import Path

import pytest

_VECTORS = {
    v["id"]: v
    for v in tomllib.loads(Path(__file__).with_name("vectors.toml").read_text())["vector"]
}


def vector(name):
    return _VECTORS[name]


def cases(prefix):
    found = [v for name, v in _VECTORS.items() if name.startswith(prefix)]
    assert found, prefix
    return pytest.mark.parametrize("v", found, ids=[v["id"] for v in found])


def close(v):
    return {"rel": 1e-12, "abs": v.get("tolerance", 1e-12)}
