"""The kernel cache: keyed by sources and versions, found again, shared by processes that start at once, never in the way."""

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from sim.jit import folder as jit_folder

ROOT = Path(jit_folder.__file__).resolve().parents[2]

SCRIPT = """
import sys
sys.path.insert(0, {root!r})
import sim.jit as jit
from kernels import twice
value = twice(21.0)
print(value, len(twice.stats.cache_hits), jit.CACHE_FOLDER, "scipy.linalg" in sys.modules)
"""

KERNELS = """
from sim.jit import kernel

@kernel
def twice(x):
    return 2.0 * x
"""


@pytest.fixture
def script(tmp_path):
    (tmp_path / "kernels.py").write_text(KERNELS)
    path = tmp_path / "script.py"
    path.write_text(SCRIPT.format(root=str(ROOT)))
    return path


def started(script, **environment):
    """A process that runs the script with a clean cache environment."""
    kept = {k: v for k, v in os.environ.items() if k not in ("NUMBA_CACHE_DIR", "XDG_CACHE_HOME")}
    return subprocess.Popen(
        [sys.executable, str(script)], env=kept | environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def words(process):
    """What the process printed, once it has ended well."""
    out, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    assert "Warning" not in err, err
    return out.split()


def test_numba_imported_first_changes_no_folder(script, tmp_path):
    """A script of the user's own may import numba before this package: kernels are still kept where they belong."""
    script.write_text("import numba\n" + script.read_text())
    cache = tmp_path / "cache"
    folder = words(started(script, XDG_CACHE_HOME=str(cache)))[2]
    kept = [path.parent for path in tmp_path.rglob("*.nbi")]
    assert kept and all(Path(folder) in parent.parents or parent == Path(folder) for parent in kept)


def test_second_process_compiles_nothing(script, tmp_path):
    first = words(started(script, XDG_CACHE_HOME=str(tmp_path / "cache")))
    second = words(started(script, XDG_CACHE_HOME=str(tmp_path / "cache")))
    assert first[:2] == ["42.0", "0"] and second[:2] == ["42.0", "1"]
    assert Path(first[2]).parent == tmp_path / "cache" / "sleevelift"


def test_scipy_linalg_stays_out(script, tmp_path):
    """It costs 0.2 s at every start and no kernel uses it."""
    environment = {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    words(started(script, **environment))
    assert words(started(script, **environment))[3] == "False"


def test_two_processes_at_once(script, tmp_path):
    environment = {"NUMBA_CACHE_DIR": str(tmp_path / "shared")}
    processes = [started(script, **environment) for _ in range(3)]
    assert [words(process)[0] for process in processes] == ["42.0"] * 3
    assert words(started(script, **environment))[:2] == ["42.0", "1"]


def test_the_named_folder_comes_first(script, tmp_path):
    folder = words(started(script, NUMBA_CACHE_DIR=str(tmp_path / "named"), XDG_CACHE_HOME=str(tmp_path / "user")))[2]
    assert Path(folder).parent == tmp_path / "named"
    assert not (tmp_path / "user").exists()


def test_a_folder_that_cannot_be_made_is_passed_over(script, tmp_path):
    """A file stands where the user's cache should be: the temporary folder takes its place."""
    (tmp_path / "user").write_text("")
    folder = words(started(script, XDG_CACHE_HOME=str(tmp_path / "user"), TMPDIR=str(tmp_path)))[2]
    assert Path(folder).parent.parent == tmp_path


def test_no_folder_at_all_still_runs(script, tmp_path):
    (tmp_path / "user").write_text("")
    blocked = tmp_path / f"sleevelift-{os.getuid()}"
    blocked.write_text("")
    assert words(started(script, XDG_CACHE_HOME=str(tmp_path / "user"), TMPDIR=str(tmp_path)))[:3] == ["42.0", "0", "None"]


def test_the_package_is_never_written_to(script, tmp_path):
    """A copy of the package in a folder without write permission runs, caches elsewhere, and stays as it was."""
    package = tmp_path / "installed" / "sim"
    shutil.copytree(ROOT / "sim", package, ignore=shutil.ignore_patterns("__pycache__"))
    script.write_text(SCRIPT.format(root=str(package.parent)))
    before = sorted(package.rglob("*"))
    for folder in [package, *filter(Path.is_dir, before)]:
        folder.chmod(0o555)
    environment = {"XDG_CACHE_HOME": str(tmp_path / "cache"), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        assert words(started(script, **environment))[0] == "42.0"
        assert words(started(script, **environment))[:2] == ["42.0", "1"]
        assert sorted(package.rglob("*")) == before
    finally:
        for folder in [package, *filter(Path.is_dir, before)]:
            folder.chmod(0o755)


def test_the_key_follows_every_kernel_source_and_what_it_imports():
    sources = jit_folder.kernel_sources()
    names = {path.relative_to(jit_folder._PACKAGE).as_posix() for path in sources}
    assert {"jit/__init__.py", "integrate/step.py", "integrate/tableau.py", "physics/friction.py"} <= names
    assert "cli.py" not in names and not any(name.startswith(("case/", "plots/")) for name in names)
    key = jit_folder.cache_key(sources, "1.0")
    assert key == jit_folder.cache_key(dict(sources), "1.0")
    assert jit_folder.cache_key(sources, "1.1") != key
    for path in sources:
        assert jit_folder.cache_key(sources | {path: sources[path] + b"#"}, "1.0") != key


def test_old_folders_are_pruned(tmp_path):
    long_ago = time.time() - 10 * jit_folder.KEEP_SECONDS
    folders = [tmp_path / f"kernels-{n}" for n in range(jit_folder.KEEP_FOLDERS + 3)]
    for age, folder in enumerate(folders):
        folder.mkdir()
        (folder / "file").write_text("")
        os.utime(folder, (long_ago - age, long_ago - age))
    (tmp_path / "something-else").mkdir()
    jit_folder.prune_folders(folders[-1])
    left = {path.name for path in tmp_path.iterdir()}
    assert left == {f.name for f in folders[: jit_folder.KEEP_FOLDERS]} | {folders[-1].name, "something-else"}


def test_a_folder_in_use_is_not_pruned(tmp_path):
    folders = [tmp_path / f"kernels-{n}" for n in range(jit_folder.KEEP_FOLDERS + 3)]
    for folder in folders:
        folder.mkdir()
    jit_folder.prune_folders(folders[0])
    assert all(folder.exists() for folder in folders)
