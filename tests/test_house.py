"""The one-way flow of the package: a room imports only rooms above it in the map of DEVELOPERS.md; and sources that have names."""

import ast
import re
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SIM = ROOT / "sim" / "sleevelift"


def floors() -> list[tuple[str, ...]]:
    """The rooms of each row of the map, highest first; rooms of one row may import each other."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (`sim/sleevelift/.*?) \|", text, re.MULTILINE)
    return [tuple(re.findall(r"`sim/sleevelift/(\w+)(?:\.py|/)`", row)) for row in rows]


PLACE = {room: row for row, rooms in enumerate(floors()) for room in rooms}


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


def test_the_map_is_read() -> None:
    """Known neighbours, in their order, so that a map that cannot be read does not pass for an empty one."""
    order = ["jit", "units", "physics", "case", "plant", "run", "plots", "study", "cli"]
    assert [PLACE[name] for name in order] == sorted({PLACE[name] for name in order})
    assert all((SIM / name).is_dir() or (SIM / f"{name}.py").is_file() for name in PLACE), "rooms that are gone"


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

    heavy = "numba", "scipy", "pint", "matplotlib", "CoolProp", "pydantic"
    code = f"import sys, sleevelift; print([m for m in {heavy} if m in sys.modules])"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=SIM.parent)
    assert found.stdout.strip() == "[]"


UNNAMED = re.compile(
    r"public(ly)? (data|files?|summar|transcri|code)|(open|a) public repositor|alloy data ?sheet|public data set", re.I
)
"""A source that nobody can look up."""


def test_sources_have_names() -> None:
    """Each file that states where a number comes from names it: a document, a library, an address, or says from memory."""
    here = SIM.parents[1]
    wrong = []
    for path in sorted([*SIM.rglob("*.py"), *(here / "tests").rglob("*.py"), *(here / "scripts").rglob("*.py")]):
        if path.name != Path(__file__).name:
            lines = enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
            wrong += [f"{path.relative_to(here)}:{number}: {line.strip()}" for number, line in lines if UNNAMED.search(line)]
    assert not wrong, "\n".join(wrong)


FORMULA = re.compile(r"PUBLISHED \+ [^#]*\"[^\"]*( = |eqs|clause|branch|class V|\(w |\(W )")
"""A row of evidence called published whose source is a formula."""


def test_evaluated_formulas_do_not_count_as_published() -> None:
    """What a published formula gives here is a closed form: nobody printed the number."""
    wrong = []
    for path in sorted((SIM.parents[1] / "tests" / "published").glob("test_*.py")):
        lines = enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        wrong += [f"{path.name}:{number}: {line.strip()}" for number, line in lines if FORMULA.search(line)]
    assert not wrong, "\n".join(wrong)


def test_fluid_values_of_cases_are_those_of_the_library_they_name() -> None:
    """`# ... CoolProp: 1142.1` beside a value: the library says so, and the value is within 3 % of it."""
    library = pytest.importorskip("CoolProp.CoolProp")
    count = 0
    pattern = re.compile(
        r'^(density|viscosity|vapour_pressure|bulk_modulus) = "([\d.]+) [^"]*" *# .*?([\d.]+) K.*CoolProp: ([\d.]+)$'
    )
    for path in sorted((SIM.parents[1] / "cases").glob("*.toml")):
        fluid = ""
        for line in path.read_text(encoding="utf-8").splitlines():
            if line.startswith("liquid = "):
                fluid = line.split('"')[1]
            found = pattern.match(line)
            assert "table value" not in line, f"{path.name}: {line}"
            if found is None:
                continue
            key, own, kelvin, said = found[1], float(found[2]), float(found[3]), float(found[4])
            assert kelvin in (90.0, 293.15)
            rho, mu, p, a = (library.PropsSI(what, "T", kelvin, "Q", 0, fluid) for what in "DVPA")
            value = {"density": rho, "viscosity": 1e3 * mu, "vapour_pressure": p / 1e5, "bulk_modulus": rho * a * a / 1e9}[key]
            assert said == pytest.approx(value, rel=1e-3), f"{path.name}: {line}"
            assert own == pytest.approx(value, rel=0.03), f"{path.name}: {line}"
            count += 1
    assert count >= 40


def formulas_out_of_reach() -> set[str]:
    """`module.function` of `sizing/` that nothing outside it reaches, by names and attributes, through whatever calls what."""
    calls: dict[str, set[str]] = {}
    reached: set[str] = set()
    for path in sorted(SIM.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        inside = path.parent.name == "sizing"
        for node in tree.body if inside else [tree]:
            used = {n.id for n in ast.walk(node) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Load)}
            used |= {n.attr for n in ast.walk(node) if isinstance(n, ast.Attribute)}
            if inside and isinstance(node, ast.FunctionDef):
                calls[f"{path.stem}.{node.name}"] = used
            elif not inside:
                froms = [n for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.module and "sizing" in n.module]
                reached |= {a.name for n in froms for a in n.names if (a.asname or a.name) in used}
                reached |= used if any(n.module == "sleevelift.sizing" for n in froms) else set()
            elif not isinstance(node, ast.ClassDef):
                reached |= used
    while True:
        more = set().union(*[used for name, used in calls.items() if name.split(".")[1] in reached]) - reached
        if not more:
            return {name for name in calls if name.split(".")[1] not in reached and not name.split(".")[1].startswith("_")}
        reached |= more


def test_every_formula_of_sizing_is_reachable_or_named_as_waiting() -> None:
    """DEVELOPERS.md names those that wait for a command; the list holds no other, so it empties as they find one."""
    text = (SIM.parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    waiting = text.split("## Formulas that wait for a command")[1].split("\n## ")[0]
    named = set(re.findall(r"`(\w+\.\w+)`", waiting))
    whole = set(re.findall(r"`(\w+)\.\*`", waiting))
    unreached = {name for name in formulas_out_of_reach() if name.split(".")[0] not in whole}
    assert not unreached - named, f"neither reached by a command nor named in DEVELOPERS.md: {sorted(unreached - named)}"
    existing = {
        f"{p.stem}.{n.name}"
        for p in (SIM / "sizing").glob("*.py")
        for n in ast.parse(p.read_text()).body
        if isinstance(n, ast.FunctionDef)
    }
    assert named <= existing, f"named in DEVELOPERS.md and gone: {sorted(named - existing)}"


def test_the_package_calls_itself_by_its_own_name() -> None:
    """An unknown name of the package is refused under the name that it is imported by; no text has the folder's for it."""
    import sleevelift

    with pytest.raises(AttributeError, match="module 'sleevelift' has no attribute 'no_such_name'"):
        _ = sleevelift.no_such_name
    named = re.compile(r"""['"`]sim['"`]|\bimport sim\b|\bfrom sim\b|`sim\.\w""")
    assert not [str(path) for path in SIM.rglob("*.py") if named.search(path.read_text(encoding="utf-8"))]


def test_tests_import_no_folder_of_tests() -> None:
    """The project's folder is not on the import path of the checks (they test what is installed): `from runs import`, not
    `from tests.runs import`."""
    folder = Path(__file__).parent
    texts = {str(path): path.read_text(encoding="utf-8") for path in folder.rglob("*.py")}
    wrong = [path for path, text in texts.items() if re.search(r"^(from|import) tests\b", text, re.MULTILINE)]
    assert not wrong
