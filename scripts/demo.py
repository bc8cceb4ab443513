"""From nothing to the answer of the hot-start case: python scripts/demo.py

    fresh machine with Python >= 3.11 -> .venv-demo -> pip install -> sleevelift run cases/hot_start.toml -> results/demo

Standard library only. Every step says what it does; where one fails, one line says what to do. Running it again uses the
environment that is there. Nothing outside the project folder is changed but the user's own caches (pip, compiled kernels,
gas tables).
"""

import argparse
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

LEAST_PYTHON = (3, 11)
ROOT = Path(__file__).resolve().parents[1]
ENVIRONMENT = ROOT / ".venv-demo"
CASE = ROOT / "cases" / "hot_start.toml"
RESULTS = ROOT / "results" / "demo"
LAST_LINES = 12
"""Lines of pip's output that are shown when it fails."""
EXIT_FAILED = 1


def say(text: str) -> None:
    """A line for the person."""
    print(text, flush=True)


def stop(text: str) -> int:
    """A line that says what went wrong; the exit code."""
    print(f"demo: {text}", file=sys.stderr, flush=True)
    return EXIT_FAILED


def environment_python(environment: Path) -> Path:
    """The interpreter of a virtual environment."""
    windows = environment / "Scripts" / "python.exe"
    return windows if os.name == "nt" else environment / "bin" / "python"


def clean_surroundings() -> dict[str, str]:
    """The environment variables without those that would point Python at other packages."""
    return {name: value for name, value in os.environ.items() if name not in ("PYTHONPATH", "PYTHONHOME")}


def works(python: Path) -> bool:
    """Whether an environment's interpreter runs and has pip."""
    if not python.exists():
        return False
    try:
        done = subprocess.run([python, "-m", "pip", "--version"], capture_output=True, env=clean_surroundings())
    except OSError:
        return False
    return done.returncode == 0


def make_environment() -> str | None:
    """Make the virtual environment where there is no working one; the fault in words."""
    import venv

    if works(environment_python(ENVIRONMENT)):
        say(f"1/3  using the virtual environment in {ENVIRONMENT}")
        return None
    say(f"1/3  making a virtual environment in {ENVIRONMENT}")
    try:
        venv.EnvBuilder(with_pip=True, clear=True).create(ENVIRONMENT)
    except (OSError, subprocess.CalledProcessError) as error:
        shutil.rmtree(ENVIRONMENT, ignore_errors=True)
        return (
            f"could not make the virtual environment: {error}. On Debian and Ubuntu: apt install python3-venv; "
            f"else see that {ROOT} can be written and has room"
        )
    return None


def install() -> str | None:
    """Install the package and what it needs; the fault in words."""
    say("2/3  installing sleevelift and its libraries (about 600 MB on disk; some minutes on a slow line)")
    command = [environment_python(ENVIRONMENT), "-m", "pip", "install", "--disable-pip-version-check", str(ROOT)]
    try:
        began = time.monotonic()
        running = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace",
            env=clean_surroundings(), cwd=ROOT,
        )  # fmt: skip
    except OSError as error:
        return f"could not start pip: {error}"
    assert running.stdout is not None
    lines: list[str] = []
    for line in running.stdout:
        lines.append(line.rstrip())
        if line.startswith(("Collecting ", "Building ", "Installing ")):
            say(f"       {line.strip()[:100]}")
    if running.wait() != 0:
        print("\n".join(lines[-LAST_LINES:]), file=sys.stderr)
        return (
            "pip could not install the package; its last lines stand above. Without a network, or behind a proxy, set "
            f"PIP_INDEX_URL or HTTPS_PROXY and start again; to begin afresh delete {ENVIRONMENT}"
        )
    say(f"       installed in {time.monotonic() - began:.0f} s")
    return None


def run_case(folder: Path) -> str | None:
    """Run the hot start; the fault in words."""
    say("3/3  running cases/hot_start.toml (the first run compiles the kernels, once: one to several minutes)")
    command = [environment_python(ENVIRONMENT), "-m", "sleevelift.cli", "run", str(CASE), "--out", str(folder)]
    done = subprocess.run(command, env=clean_surroundings(), cwd=folder_without_sources())
    if done.returncode != 0:
        return f"the run ended with exit code {done.returncode}; the lines above say why"
    return None


def folder_without_sources() -> Path:
    """A folder to run in that holds no package of that name, so that the installed package runs and not this checkout."""
    return ENVIRONMENT


def main() -> int:
    """Make, install, run; say where the results are."""
    parser = argparse.ArgumentParser(description="Install sleevelift into .venv-demo and run the hot-start case.")
    parser.add_argument("--out", type=Path, default=RESULTS, help="folder for the results (default: results/demo)")
    folder = parser.parse_args().out.resolve()
    if sys.version_info < LEAST_PYTHON:
        return stop(f"needs Python 3.11 or later, this is {sys.version.split()[0]}")
    say("Invented demonstration case: nobody's hardware. A model is no permission to test.")
    for step in (make_environment, install):
        fault = step()
        if fault:
            return stop(fault)
    fault = run_case(folder)
    if fault:
        return stop(fault)
    say(f"\nPictures, traces and results are in {folder} (open report.html first):")
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            say(f"  {path.relative_to(folder)}")
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit(stop("interrupted"))
