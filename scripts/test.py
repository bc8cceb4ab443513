"""Run every check of the project: ruff, mypy, pytest. What CI runs, and the README's second command.

    python scripts/test.py [--slow] [--lowest] [--no-install] [-- arguments for pytest]

Makes its own virtual environment (.venv-test in the project's folder), installs the package there as a user would,
with what tests need, and runs the checks from it; a second call reuses both unless pyproject.toml or the sources
changed. The package is installed from a copy, not in place, and tests import that installation, so that a file missing
from the distribution shows. Needs only Python 3.11 or later. Compiled kernels stay in the user's cache folder, so only
the first call after an edit of theirs compiles.

--lowest runs pytest alone in an environment (.venv-lowest) where every library is of the lowest version that pyproject.toml
allows, and what those bring along is of the newest: what a user may have. ruff and mypy look at sources, not at libraries.
"""

import argparse
import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
ENVIRONMENT = ROOT / ".venv-test"
LOWEST_ENVIRONMENT = ROOT / ".venv-lowest"
EXTRAS = "[test,cluster]"
LEAST_PYTHON = (3, 11)
DISTRIBUTION = ("pyproject.toml", "README.md", "LICENSE", "sim")
"""What the package is built from; what is not there is left out."""
LEFT_OUT = shutil.ignore_patterns("__pycache__", "*.pyc")


def python_of(environment: Path) -> Path:
    """The interpreter of a virtual environment."""
    return environment / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def digest(paths: list[Path]) -> str:
    """Hash of files: names, contents, and the interpreter."""
    total = hashlib.sha256(sys.version.encode())
    for path in sorted(paths):
        total.update(str(path.relative_to(ROOT)).encode())
        total.update(path.read_bytes())
    return total.hexdigest()


def sources() -> list[Path]:
    """Every file the installed package comes from."""
    found = [path for path in (ROOT / "sim").rglob("*") if path.is_file() and "__pycache__" not in path.parts]
    return found + [ROOT / name for name in DISTRIBUTION if (ROOT / name).is_file()]


def call(what: str, *command: "str | Path") -> bool:
    """Run one command in the project's folder, say what and how long; whether it succeeded.

    Without variables that would make Python import from elsewhere.
    """
    print(f"\n--- {what}", flush=True)
    began = time.monotonic()
    surroundings = {name: value for name, value in os.environ.items() if name not in ("PYTHONPATH", "PYTHONHOME")}
    code = subprocess.run([str(part) for part in command], cwd=ROOT, env=surroundings, check=False).returncode
    verdict = "passed" if code == 0 else f"FAILED (exit {code})"
    print(f"--- {what}: {verdict}, {time.monotonic() - began:.0f} s", flush=True)
    return code == 0


def install_from_copy(python: Path, target: str, *options: str) -> bool:
    """pip install of a copy of what the package is built from, so that nothing is left in the project's folder."""
    with tempfile.TemporaryDirectory(prefix="sleevelift-") as place:
        copy = Path(place) / "sleevelift"
        copy.mkdir()
        for name in DISTRIBUTION:
            if (ROOT / name).is_dir():
                shutil.copytree(ROOT / name, copy / name, ignore=LEFT_OUT)
            elif (ROOT / name).exists():
                shutil.copy2(ROOT / name, copy / name)
        arguments = ("-m", "pip", "install", "--disable-pip-version-check", "--quiet", *options, f"{copy}{target}")
        return call(f"install sleevelift{target}", python, *arguments)


def lowest_versions() -> list[str]:
    """`numpy==2.0` for `numpy>=2.0`, of every library of the package and of its tests."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = [*project["dependencies"], *(name for extra in project["optional-dependencies"].values() for name in extra)]
    without_bound = [requirement for requirement in wanted if ">=" not in requirement]
    assert not without_bound, f"without a lower bound: {without_bound}"
    return sorted({requirement.replace(">=", "==") for requirement in wanted})


def prepared(environment: Path, lowest: bool = False) -> bool:
    """Make the virtual environment and install what changed since the last call; whether that succeeded."""
    python = python_of(environment)
    needs, package = environment / "needs.sha256", environment / "package.sha256"
    needed, now = digest([ROOT / "pyproject.toml"]), digest(sources())
    if not (python.exists() and needs.exists() and needs.read_text() == needed):
        print(f"--- making the virtual environment {environment}", flush=True)
        venv.create(environment, clear=True, with_pip=True)
        with tempfile.TemporaryDirectory(prefix="sleevelift-") as place:
            limits = Path(place) / "lowest.txt"
            limits.write_text("\n".join(lowest_versions()) + "\n")
            if not install_from_copy(python, EXTRAS, *(["--constraint", str(limits)] if lowest else [])):
                return False
        needs.write_text(needed)
        package.write_text(now)
    elif not package.exists() or package.read_text() != now:
        if not install_from_copy(python, "", "--no-deps", "--force-reinstall"):
            return False
        package.write_text(now)
    return True


def checks(python: Path, slow: bool, more: list[str], installed: bool, lowest: bool) -> list[tuple[str, bool]]:
    """Run every check (with the lowest versions pytest alone), the later ones also when an earlier fails; (name, whether it
    passed)."""
    # -P keeps this folder out of the import path, so that the installed package is under test
    # an own -n, after --, wins
    on_all_cores = ["-n", "logical", "--dist", "worksteal"]
    tests = [*(["-P"] if installed else []), "-m", "pytest", *on_all_cores, *(["--slow"] if slow else []), *more]
    if lowest:
        return [("pytest", call("pytest with the lowest versions (the first run compiles the kernels)", python, *tests))]
    return [
        ("ruff", call("ruff", python, "-m", "ruff", "check", ".")),
        ("mypy", call("mypy", python, "-m", "mypy")),
        ("pytest", call("pytest (the first run compiles the kernels: some minutes)", python, *tests)),
    ]


def main() -> int:
    """Exit code: 0 all passed, 1 a check failed, 2 the environment could not be made."""
    parser = argparse.ArgumentParser(description="Run ruff, mypy and pytest in an environment of their own.")
    parser.add_argument("--slow", action="store_true", help="also the tests that take minutes")
    parser.add_argument("--lowest", action="store_true", help="pytest alone, with the lowest versions that pyproject.toml allows")
    parser.add_argument("--no-install", action="store_true", help="use the interpreter that runs this, as it is")
    parser.add_argument("more", nargs="*", help="arguments for pytest, after --")
    given = parser.parse_args()
    if sys.version_info < LEAST_PYTHON:
        print(f"Python {'.'.join(map(str, LEAST_PYTHON))} or later is needed; this is {sys.version.split()[0]}.")
        return 2
    began = time.monotonic()
    environment = LOWEST_ENVIRONMENT if given.lowest else ENVIRONMENT
    if not given.no_install and not prepared(environment, given.lowest):
        print("\nThe environment for the tests could not be made: see above.")
        return 2
    if given.no_install:
        results = checks(Path(sys.executable), given.slow, given.more, installed=False, lowest=given.lowest)
    else:
        results = checks(python_of(environment), given.slow, given.more, installed=True, lowest=given.lowest)
    verdicts = ", ".join(f"{name} {'passed' if passed else 'FAILED'}" for name, passed in results)
    print(f"\n{verdicts} ({time.monotonic() - began:.0f} s)")
    return 0 if all(passed for _, passed in results) else 1


if __name__ == "__main__":
    sys.exit(main())
