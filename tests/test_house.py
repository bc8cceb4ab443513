"""The one-way flow of the package: a room imports only rooms above it in the map of DEVELOPERS.md."""

import ast
from pathlib import Path

SIM = Path(__file__).resolve().parent.parent / "sim" / "sleevelift"

FLOORS = [
    ("constants", "cache_folder", "drills", "jit", "units"),
    ("gas_tables",),
    ("physics",),
    ("sizing", "combustion_tables"),
    ("case",),
    ("integrate",),
    ("plant",),
    ("measures", "checks", "trajectory", "barriers"),
    ("remarks",),
    ("run",),
    ("batch",),
    ("plots", "report", "study"),
    ("cli",),
]
"""Highest first; rooms of one row may import each other."""
PLACE = {room: row for row, rooms in enumerate(FLOORS) for room in rooms}


def imports(path: Path) -> list[tuple[str, int]]:
    """(module, line) of every import of this package in a file, those inside functions included."""
    found = []
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "sleevelift":
            names = [node.module] if node.module != "sleevelift" else [f"sleevelift.{alias.name}" for alias in node.names]
            found += [(name, node.lineno) for name in names]
        elif isinstance(node, ast.Import):
            found += [(alias.name, node.lineno) for alias in node.names if alias.name.split(".")[0] == "sleevelift"]
    return found


def room(module: str) -> str:
    """First part of a module's name below the package."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else ""


def test_every_room_stands_in_the_map() -> None:
    rooms = {p.stem if p.suffix == ".py" else p.name for p in SIM.iterdir() if not p.name.startswith("_")}
    rooms -= {"py.typed", "MODEL.md", "MODEL"}
    assert rooms <= set(PLACE), f"not in the map: {sorted(rooms - set(PLACE))}"


def test_imports_point_up() -> None:
    wrong = []
    for path in sorted(SIM.rglob("*.py")):
        here = path.relative_to(SIM).with_suffix("").parts[0]
        if here == "__init__":
            continue
        for module, line in imports(path):
            there = room(module)
            if there in PLACE and PLACE[there] > PLACE[here]:
                wrong.append(f"{path.relative_to(SIM)}:{line} imports {module}")
    assert not wrong, "\n".join(wrong)


def test_only_jit_mentions_the_compiler() -> None:
    wrong = []
    for path in sorted(SIM.rglob("*.py")):
        if path.parent.name == "jit":
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            names = []
            if isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module]
            elif isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            wrong += [f"{path.relative_to(SIM)}:{node.lineno}" for name in names if name.split(".")[0] == "numba"]
    assert not wrong, "\n".join(wrong)


def test_importing_the_package_loads_nothing_heavy() -> None:
    import subprocess
    import sys

    heavy = "numba", "scipy", "pint", "matplotlib", "CoolProp", "pydantic"
    code = f"import sys, sleevelift; print([m for m in {heavy} if m in sys.modules])"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=SIM.parent)
    assert found.stdout.strip() == "[]"
