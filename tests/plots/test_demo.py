"""The demonstration script: standard library only, and one clear line where a step fails."""

import ast
import importlib.util
import subprocess
import sys
from pathlib import Path

SCRIPT = Path(__file__).resolve().parents[2] / "scripts" / "demo.py"


def demo():
    """The script as a module."""
    spec = importlib.util.spec_from_file_location("demo_script", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_it_needs_nothing_but_python():
    names = set()
    for node in ast.walk(ast.parse(SCRIPT.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add(node.module.split(".")[0])
    assert names and names <= sys.stdlib_module_names


def test_a_failing_pip_is_one_clear_line(tmp_path, monkeypatch, capsys):
    """An interpreter that answers like pip without a network: exit code 1, its last lines shown, and what to do."""
    module = demo()
    fake = tmp_path / "python"
    fake.write_text("#!/bin/sh\necho Collecting numpy\necho 'ERROR: No matching distribution found'\nexit 1\n")
    fake.chmod(0o755)
    monkeypatch.setattr(module, "ENVIRONMENT", tmp_path)
    monkeypatch.setattr(module, "environment_python", lambda environment: fake)
    monkeypatch.setattr(module, "works", lambda python: True)
    monkeypatch.setattr(sys, "argv", ["demo.py", "--out", str(tmp_path / "out")])
    assert module.main() == module.EXIT_FAILED
    shown = capsys.readouterr()
    assert "No matching distribution" in shown.err and "demo: pip could not install" in shown.err
    assert "Traceback" not in shown.err and "Collecting numpy" in shown.out


def test_help_comes_without_doing_anything(tmp_path):
    done = subprocess.run([sys.executable, SCRIPT, "--help"], capture_output=True, text=True, cwd=tmp_path, check=False)
    assert done.returncode == 0 and "hot-start" in done.stdout and not list(tmp_path.iterdir())
