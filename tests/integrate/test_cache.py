"""The kernel cache: keyed by sources and versions, found again, shared by processes that start at once, never in the way."""

import hashlib
import json
import os
import shutil
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from sleevelift.jit import folder as jit_folder
from sleevelift.jit import stored
from sleevelift.physics.gas import gas_at, perfect_gas
from sleevelift.physics.restriction import psi

PSI_OF_AIR = 1.4**0.5 * (2.0 / 2.4) ** 3
"""Psi(n) at n = 1.4 in closed form."""

ROOT = Path(jit_folder.__file__).resolve().parents[2]

SCRIPT = """
import sys
sys.path.insert(0, {root!r})
from sleevelift.jit.folder import kernel_folder
from kernels import twice
value = twice(21.0)
print(value, len(twice.stats.cache_hits), kernel_folder())
"""

KERNELS = """
from sleevelift.jit import kernel

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
    kept = {k: v for k, v in os.environ.items() if k != "XDG_CACHE_HOME"}
    return subprocess.Popen(
        [sys.executable, str(script)], env=kept | environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def words(process):
    """What the process printed, once it has ended well."""
    out, err = process.communicate(timeout=300)
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


def test_two_processes_at_once(script, tmp_path):
    environment = {"XDG_CACHE_HOME": str(tmp_path / "shared")}
    processes = [started(script, **environment) for _ in range(3)]
    assert [words(process)[0] for process in processes] == ["42.0"] * 3
    assert words(started(script, **environment))[:2] == ["42.0", "1"]


def test_no_folder_at_all_still_runs(script, tmp_path):
    """A file stands where the user's cache should be: compiled in memory, and nothing goes to the shared temporary folder."""
    (tmp_path / "user").write_text("")
    (tmp_path / "temporary").mkdir()
    environment = {"XDG_CACHE_HOME": str(tmp_path / "user"), "TMPDIR": str(tmp_path / "temporary")}
    assert words(started(script, **environment))[:3] == ["42.0", "0", "None"]
    assert not list((tmp_path / "temporary").iterdir())


def test_the_package_is_never_written_to(script, tmp_path):
    """A copy of the package in a folder without write permission runs, caches elsewhere, and stays as it was."""
    package = tmp_path / "installed" / "sleevelift"
    shutil.copytree(ROOT / "sleevelift", package, ignore=shutil.ignore_patterns("__pycache__"))
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
    jit = {"jit/__init__.py", "jit/vector_code.py", "jit/packed_code.py"}
    assert {*jit, "integrate/step.py", "integrate/tableau.py", "physics/friction.py"} <= names
    # no kernels of their own, but their constants are frozen into the code of others
    assert {"constants.py", "plant/state.py", "plant/names.py", "plant/params.py", "gas_tables/layout.py"} <= names
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


OWN = """
import sys
sys.path.insert(0, {root!r})
from sleevelift.jit.folder import kernel_folder
from sleevelift.physics.restriction import choked_flux, psi
print(repr(psi(1.4)), *map(repr, choked_flux(2e5, 1.2, 1.3)), "numba" in sys.modules, kernel_folder())
"""
"""The package's own kernels, whose machine code is kept apart from the compiler."""


@pytest.fixture
def own(tmp_path):
    path = tmp_path / "own.py"
    path.write_text(OWN.format(root=str(ROOT)))
    return path


def kept_code(printed):
    """Files of machine code in the folder a process named last."""
    return sorted(Path(printed[-1]).glob("*.code"))


def test_kept_code_runs_without_the_compiler(own, tmp_path):
    environment = {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    first, second = words(started(own, **environment)), words(started(own, **environment))
    assert first[3:] == ["True", first[4]] and second[3:] == ["False", first[4]]
    assert first[:3] == second[:3]
    assert float(first[0]) == pytest.approx(PSI_OF_AIR, rel=1e-12)
    assert len(kept_code(first)) == 2


HARMS = {
    "cut short": lambda about, code: (about, code[: len(code) // 2]),
    "changed": lambda about, code: (about, code[:100] + bytes([code[100] ^ 1]) + code[101:]),
    "no longer JSON": lambda about, code: (about[1:], code),
    "JSON of another kind": lambda about, code: (b"[1, 2]", code),
    "JSON too deep": lambda about, code: (b"[" * 100_000, code),
    "needs what is not there": lambda about, code: (edited(about, needed=["exp", "no_such_function"]), code),
    "needs more than it says": lambda about, code: (edited(about, needed=["floor"]), code),
    "another function": lambda about, code: (edited(about, function="no_such_function"), code),
    "other results": lambda about, code: (edited(about, letters="xyz"), code),
    "results no text": lambda about, code: (edited(about, letters=7), code),
}


def edited(about, **changes):
    return json.dumps(json.loads(about) | changes).encode()


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere the compiler's own cache serves")
@pytest.mark.parametrize("sealed", [False, True])
def test_damaged_code_is_compiled_anew(own, tmp_path, sealed):
    """Every harm, with the checksum as it was and with one that fits: the kernel is compiled again, and kept again."""
    environment = {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    first = words(started(own, **environment))
    sound = {path: path.read_bytes() for path in kept_code(first)}
    for harm, harmed in HARMS.items():
        for path, whole in sound.items():
            mark, about, code = whole.split(b"\n", 2)
            content = b"\n".join(harmed(about, code))
            if sealed:
                if harm == "changed":
                    continue  # that is then the code that was kept
                mark = hashlib.sha256(content).hexdigest().encode()
            path.write_bytes(mark + b"\n" + content)
        again = words(started(own, **environment))
        assert again[:3] == first[:3] and again[3] == ("False" if sealed and harm == "changed" else "True"), harm
    assert words(started(own, **environment))[3] == "False"


@pytest.mark.skipif(sys.platform != "linux" or os.getuid() != 0, reason="needs a file system of its own")
def test_a_full_disk_is_no_reason_to_stop(own, script, tmp_path):
    """The cache on a disk of a few kilobytes: compiled in memory, for the package's kernels and for a user's own."""
    place = tmp_path / "disk"
    place.mkdir(mode=0o700)
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=16k,mode=700", "none", str(place)], capture_output=True).returncode:
        pytest.skip("no file system can be mounted here")
    try:
        (place / "filler").write_bytes(b"x" * 8000)
        for path, at in ((own, 0), (script, 0)):
            assert float(words(started(path, XDG_CACHE_HOME=str(place)))[at]) > 0.0
            (place / "filler").write_bytes(b"x" * 7000)
    finally:
        subprocess.run(["umount", str(place)], check=True)


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="user numbers are POSIX")
def test_a_place_that_others_write_to_is_not_used(own, tmp_path):
    """Kept code, then the folder around it opened to everybody: neither read nor written, the numbers stay."""
    environment = {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    first = words(started(own, **environment))
    (tmp_path / "cache").chmod(0o777)
    again = words(started(own, **environment))
    assert again[:3] == first[:3] and again[3:] == ["True", "None"]


def test_own_kernels_of_processes_at_once(own, tmp_path):
    environment = {"XDG_CACHE_HOME": str(tmp_path / "shared")}
    results = [words(process) for process in [started(own, **environment) for _ in range(3)]]
    assert len({tuple(result[:3]) for result in results}) == 1
    assert not list(Path(results[0][-1]).glob("*.tmp"))
    assert words(started(own, **environment))[3] == "False"


def test_compiling_switched_off_gives_the_plain_functions(own, tmp_path):
    plain = words(started(own, XDG_CACHE_HOME=str(tmp_path / "cache"), NUMBA_DISABLE_JIT="1"))
    assert plain[3] == "False" and not kept_code(plain)
    assert float(plain[0]) == pytest.approx(PSI_OF_AIR, rel=1e-12)


RENAMES = {
    "another pass": "import numba.core.typed_passes as place\ndel place.NativeLowering\n",
    "another form": "import numba.core.ssa as place\ndel place.reconstruct_ssa\n",
    "another library": "import numba.core.codegen as place\ndel place.JITCodeLibrary\n",
    "broken only in use": "from sleevelift.jit import compiler\ndel compiler.WHOLE.Library.link\n",
    "switched off": "import os\nos.environ['SLEEVELIFT_USUAL_COMPILATION'] = '1'\n",
}
"""What another version of the compiler may have done to what is leant on."""


@pytest.mark.parametrize("rename", RENAMES)
def test_another_compiler_inside_goes_the_usual_way(own, tmp_path, rename):
    """Where the compiler's insides look otherwise than expected, its own way and its own cache serve, with the same numbers."""
    if rename in ("another pass", "another form"):  # the compiler needs it itself once it is loaded whole
        change = "import numba\nimport numba.core.compiler\n" + RENAMES[rename]
    else:
        change = "import numba\n" + RENAMES[rename]
    expected = words(started(own, XDG_CACHE_HOME=str(tmp_path / "whole")))
    own.write_text(own.read_text().replace("from sleevelift.jit.folder", change + "from sleevelift.jit.folder", 1))
    environment = {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    first, second = words(started(own, **environment)), words(started(own, **environment))
    assert first[:3] == second[:3] == expected[:3] and second[3] == "True" and not kept_code(second)
    assert float(first[0]) == pytest.approx(PSI_OF_AIR, rel=1e-12)


@pytest.mark.parametrize("gone", ["core.typeconv.Conversion", "core.cgutils.alloca_once"])
def test_a_compiler_that_cannot_be_used_costs_time_only(tmp_path, gone):
    """A name that vectors lean on is not there: the package's kernels run as plain functions, and a line says so."""
    module, name = f"numba.{gone}".rsplit(".", 1)
    code = (
        f"import numba, importlib\nimport numba.np.arrayobj\ndelattr(importlib.import_module({module!r}), {name!r})\n"
        "from sleevelift.physics.restriction import psi\nprint(psi(1.4), psi.py_func(1.4))"
    )
    script = tmp_path / "without.py"
    script.write_text(f"import sys\nsys.path.insert(0, {str(ROOT / 'sim')!r})\n{code}\n")
    done = subprocess.run(
        [sys.executable, str(script)], env=os.environ | {"XDG_CACHE_HOME": str(tmp_path / "cache")}, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    compiled, plain = map(float, done.stdout.split())
    assert compiled == pytest.approx(plain, rel=1e-13) and plain == pytest.approx(PSI_OF_AIR, rel=1e-12)
    assert done.stderr.count("the compiler cannot be used") == 1


HOT = """
import json, sys
sys.path.insert(0, {root!r})
from sleevelift import load_case, simulate
print(json.dumps(simulate(load_case({case!r})).measures))
"""
LEFT_OVER = ("gas_mass_error", "energy_error")
"""Measures that are rounding themselves."""


@pytest.mark.slow
def test_the_hot_case_has_the_same_digits_compiled_the_usual_way(tmp_path):
    """Products and sums are fused elsewhere, so the last places differ: more digits agree than are ever shown."""
    script = tmp_path / "hot.py"
    script.write_text(HOT.format(root=str(ROOT), case=str(ROOT.parent / "cases" / "hot_start.toml")))
    found = []
    for switch in ("0", "1"):
        process = started(script, XDG_CACHE_HOME=str(tmp_path / f"cache{switch}"), SLEEVELIFT_USUAL_COMPILATION=switch)
        out, err = process.communicate(timeout=1800)
        assert process.returncode == 0, err
        found.append(json.loads(out))
    whole, usual = found
    assert whole["steps"] == usual["steps"]
    assert [name for name in whole if whole[name] is None] == [name for name in usual if usual[name] is None]
    for name, value in whole.items():
        if value is not None and name not in LEFT_OVER:
            assert usual[name] == pytest.approx(value, rel=1e-6), name


def test_arguments_of_other_kinds_go_to_the_compiler():
    """Kept code is only for C-contiguous arrays, records and plain numbers; anything else is the compiler's."""
    record = np.zeros(2, dtype=[("a", "f8"), ("b", "i8")])
    kinds, _ = stored.kinds_of((1.0, np.float64(1.0), 1, np.int64(1), np.zeros((2, 3)), record, record[0]))
    assert stored.kinds_of((True, np.bool_(False)))[0] == ("b", "b")
    assert kinds[:4] == ("f", "f", "i", "i") and kinds[4][1] == 2 and kinds[5][1] == 1 and kinds[6][1] is None
    for other in ("text", None, (1.0, 2.0), np.float32(1.0), np.zeros((4, 4))[:, ::2], np.zeros((2, 3)).T):
        assert stored.kinds_of((other,)) is None
    assert float(psi(np.float32(1.4))) == pytest.approx(PSI_OF_AIR, rel=1e-6)


def test_addresses_are_those_of_the_numbers():
    records = np.zeros(3, dtype=[("a", "f8"), ("b", "i8")])
    single = np.zeros(1, dtype=records.dtype)
    plain, empty = np.arange(6.0).reshape(2, 3), np.zeros((0, 3))
    fixed = np.arange(3.0)
    fixed.flags.writeable = False
    for array in (records, single, plain, empty, fixed):
        assert stored._address(array) == array.__array_interface__["data"][0]
    for array, place in ((records, 2), (single, 0)):
        record = array[place]
        assert stored._address(record) == array.__array_interface__["data"][0] + place * array.itemsize


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere the compiler's own cache serves")
def test_calls_in_turn_see_their_own_arguments():
    """What a call keeps of the one before, in each thread, is only what is the same object."""
    gases = [perfect_gas(1.3, 200.0), perfect_gas(1.4, 287.0)]
    states = [(1e5 * (1 + n % 7), 250.0 + n % 5, gases[n % 2]) for n in range(60)]
    alone = [gas_at.py_func(*state) for state in states]
    np.testing.assert_allclose([gas_at(*state) for state in states], alone, rtol=1e-12)
    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(lambda state: gas_at(*state), states)) == [gas_at(*state) for state in states]
    gases[0][1] *= 2.0  # changed in place: the same array, other numbers
    assert gas_at(1e5, 300.0, gases[0])[0] == pytest.approx(1e5 / (400.0 * 300.0), rel=1e-12)
    assert gas_at(1e5, 300.0, gases[0][:]) == gas_at(1e5, 300.0, gases[0])
    assert gas_at(100000, 300, gases[0])[0] == pytest.approx(1e5 / (400.0 * 300.0), rel=1e-12)  # whole numbers: another kind


def test_symbols_are_read_from_the_object_file_only():
    assert stored.undefined_symbols(b"not an object file") == {"?"}
