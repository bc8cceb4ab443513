"""The cache of gas tables: damaged, foreign and locked files, two writers, and what a read imports."""

import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import sleevelift.gas_tables as gas_tables
from sleevelift.cache_folder import cache_folder, keep
from sleevelift.gas_tables import load_gas, store

ROOT = Path(__file__).parents[2]


@pytest.fixture
def cache(tmp_path, monkeypatch):
    """An empty cache folder; nothing remembered from before."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    gas_tables._kept.cache_clear()
    yield tmp_path / "cache" / "sleevelift"
    gas_tables._kept.cache_clear()


@pytest.fixture
def kept(cache):
    """The file of a small invented table, written as nitrogen's."""
    path = store.write("nitrogen", store.Stored(np.arange(2000.0), {"name": "nitrogen"}))
    assert path == store.file_of("nitrogen") and path.parent == cache
    return path


def sealed(path, **parts):
    """Write such an npz with a checksum that fits."""
    content = io.BytesIO()
    np.savez(content, **parts)
    assert keep(path, content.getvalue())


def test_what_was_written_is_read(kept):
    stored = store.read("nitrogen")
    np.testing.assert_array_equal(stored.table, np.arange(2000.0))
    assert stored.facts == {"name": "nitrogen"}
    assert stored.table.flags.c_contiguous and stored.table.flags.writeable and stored.table.dtype == np.float64


def test_any_flipped_byte_of_the_table_is_noticed(kept):
    whole = kept.read_bytes()
    for place in range(600, len(whole) - 600, 997):
        kept.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        stored = store.read("nitrogen")
        assert stored is None or np.array_equal(stored.table, np.arange(2000.0))
    place = whole.index(np.arange(1000.0, 1004.0).tobytes())
    kept.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
    assert store.read("nitrogen") is None


@pytest.mark.parametrize("length", [0, 1, 100, 4000, -1])
def test_cut_short(kept, length):
    kept.write_bytes(kept.read_bytes()[:length])
    assert store.read("nitrogen") is None


def test_foreign_files(kept):
    kept.write_text("not a table")
    assert store.read("nitrogen") is None
    for about in ("[]", "7", "{", '{"format": 2}', "[" * 100_000):
        sealed(kept, about=np.array(about), table=np.arange(3.0))
        assert store.read("nitrogen") is None
    sealed(kept, table=np.arange(3.0))
    assert store.read("nitrogen") is None
    sealed(kept, about=np.array({"an": "object"}, dtype=object), table=np.arange(3.0))
    assert store.read("nitrogen") is None  # an object would have to be unpickled
    kept.unlink()
    kept.mkdir()
    assert store.read("nitrogen") is None


def test_file_of_another_gas(kept):
    shutil.copy(kept, store.file_of("argon"))
    assert store.read("argon") is None


@pytest.mark.parametrize("key", ["format", "coolprop", "builder"])
def test_other_versions(kept, key):
    """A sound file, checksum and all, of another format, CoolProp or builder."""
    about = store.signature() | {"gas": "nitrogen", "facts": {}}
    sealed(kept, about=np.array(json.dumps(about)), table=np.arange(9.0))
    assert store.read("nitrogen") is not None
    sealed(kept, about=np.array(json.dumps(about | {key: "other"})), table=np.arange(9.0))
    assert store.read("nitrogen") is None


def test_a_damaged_file_is_built_anew(cache):
    sentences = []
    good = load_gas("nitrogen", progress=sentences.append).copy()
    path = store.file_of("nitrogen")
    path.write_bytes(path.read_bytes()[:-5000])
    gas_tables._kept.cache_clear()
    np.testing.assert_array_equal(load_gas("nitrogen", progress=sentences.append), good)
    assert len(sentences) == 2 and "CoolProp" in sentences[0]
    gas_tables._kept.cache_clear()
    np.testing.assert_array_equal(load_gas("nitrogen", progress=sentences.append), good)
    assert len(sentences) == 2  # the third time it was read


def test_folder_that_cannot_be_made(cache, monkeypatch, tmp_path):
    """A file stands where the cache folder should be: nothing is kept, and it still works."""
    (tmp_path / "wall").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "wall"))
    assert store.write("nitrogen", store.Stored(np.arange(5.0), {})) is None
    assert load_gas("nitrogen").size > 1000


@pytest.mark.skipif(not hasattr(os, "getuid") or os.getuid() == 0, reason="root writes anywhere")
def test_read_only_folder(kept):
    kept.parent.chmod(0o500)
    try:
        assert store.read("nitrogen") is not None
        assert store.write("nitrogen", store.Stored(np.arange(5.0), {})) is None
    finally:
        kept.parent.chmod(0o700)


def test_windows_folder(monkeypatch, tmp_path):
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path))
    assert cache_folder() == tmp_path / "sleevelift"


def run_python(code, cache_home):
    """A Python of its own with its own cache folder, started."""
    environment = os.environ | {"XDG_CACHE_HOME": str(cache_home), "PYTHONPATH": str(ROOT / "sim")}
    return subprocess.Popen([sys.executable, "-c", code], env=environment, stdout=subprocess.PIPE, text=True, cwd=ROOT)


def test_two_processes_at_once_then_a_read_without_coolprop(tmp_path):
    code = "from sleevelift.gas_tables import load_gas; print(repr(float(load_gas('helium').sum())))"
    both = [run_python(code, tmp_path) for _ in range(2)]
    sums = [process.communicate(timeout=120)[0] for process in both]
    assert [process.returncode for process in both] == [0, 0] and sums[0] == sums[1] != ""
    assert [path.name for path in (tmp_path / "sleevelift").glob("gas_*")] == [store.file_of("helium").name]
    code += "; import sys; print([m for m in ('CoolProp', 'scipy') if m in sys.modules])"
    later = run_python(code, tmp_path)
    assert later.communicate(timeout=60)[0].split("\n")[:2] == [sums[0].strip(), "[]"]
