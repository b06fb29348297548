"""The floors of the house: imports point downwards, heavy libraries stay in their rooms, cores know no units.

Each rule is read from the source, so an import inside a function counts as well, and each is proved by a
small package that breaks it.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "blasterlab"

#: Lowest first; rooms in one line share a floor and may import each other.
FLOORS = [
    {"units", "fields", "tables", "compiled", "compile_cache", "doors", "faults", "files", "front"},
    {"air"},
    {"parts"},
    {"build", "buildtext", "values"},
    {"shot"},
    {"closed_forms"},
    {"waves"},
    {"flight"},
    {"checks"},
    {"bench"},
    {"plan"},
    {"report"},
    {"figures"},
    {"panels"},
]
HEIGHT = {room: height for height, rooms in enumerate(FLOORS) for room in rooms}
#: The package's lazy front door and ``python -m blasterlab``, above all floors.
DOORS = {"", "__main__"}
#: Who may import what, beside the type checker.
OWNERS = {"ipywidgets": {"panels"}, "matplotlib": {"figures"}, "pint": {"units"}}
#: (module, room above it) -> why a method fixed by name has to reach up, inside the function only.
UPWARD: dict[tuple[str, str], str] = {}
LONGEST = 500


class Module:
    """One source file: its dotted name inside the package, its room, and what it imports."""

    def __init__(self, path: Path, package: Path) -> None:
        parts = path.relative_to(package).with_suffix("").parts
        self.name = ".".join(part for part in parts if part != "__init__")
        self.room = parts[0]
        self.text = path.read_text(encoding="utf-8")
        self.tree = ast.parse(self.text)
        self.package = self.name if path.stem == "__init__" else self.name.rpartition(".")[0]
        self.typing_only = {
            inner
            for node in ast.walk(self.tree)
            if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
            for inner in ast.walk(node)
        }
        self.top = {
            inner
            for node in self.tree.body
            if not isinstance(node, (ast.FunctionDef, ast.ClassDef))
            for inner in ast.walk(node)
        }

    def imports(self, at_run_time: bool = True, top_only: bool = False) -> Iterator[str]:
        """Dotted names that are imported; ``from a import b`` gives both ``a`` and ``a.b``."""
        for node in ast.walk(self.tree):
            if (at_run_time and node in self.typing_only) or (top_only and node not in self.top):
                continue
            if isinstance(node, ast.Import):
                yield from (alias.name for alias in node.names)
            elif isinstance(node, ast.ImportFrom):
                base = node.module or ""
                if node.level:
                    parents = ["blasterlab", *filter(None, self.package.split("."))]
                    base = ".".join([*parents[: len(parents) - node.level + 1], *filter(None, [node.module])])
                if base != "blasterlab":
                    yield base
                yield from (f"{base}.{alias.name}" for alias in node.names)

    def is_core(self) -> bool:
        decorators = [
            ast.unparse(decorator)
            for node in ast.walk(self.tree)
            if isinstance(node, ast.FunctionDef)
            for decorator in node.decorator_list
        ]
        return any("compiled" in decorator or "njit" in decorator for decorator in decorators)


def modules(package: Path) -> dict[str, Module]:
    found = [Module(path, package) for path in sorted(package.rglob("*.py"))]
    assert found
    return {module.name: module for module in found}


def rooms_known(package: Path) -> Iterator[str]:
    """Every file and folder has its floor, and every folder is a package."""
    for name, module in modules(package).items():
        if name not in DOORS and module.room not in HEIGHT:
            yield f"{name}: the room {module.room} has no floor"
    for folder in {path.parent for path in package.rglob("*.py")}:
        if not (folder / "__init__.py").exists():
            yield f"{folder.name} has no __init__.py"


def downwards(package: Path) -> Iterator[str]:
    """A lower floor never imports a higher one."""
    for name, module in modules(package).items():
        if name in DOORS:
            continue
        low = HEIGHT.get(module.room, -1)
        for target in module.imports():
            room = target.split(".")[1] if target.startswith("blasterlab.") else ""
            if target == "blasterlab" or (room and room not in HEIGHT):
                yield f"{name} imports {target} through the front door"
            if HEIGHT.get(room, -1) > low and (name, room) not in UPWARD:
                yield f"{name} imports {target}, which is above it"
        for target in module.imports(top_only=True):
            room = target.split(".")[1] if target.startswith("blasterlab.") else ""
            if HEIGHT.get(room, -1) > low and (name, room) in UPWARD:
                yield f"{name} imports {target} outside of a function"


def owners(package: Path) -> Iterator[str]:
    """Only panels knows ipywidgets, only figures matplotlib, only units pint and the registry."""
    for name, module in modules(package).items():
        for target in module.imports():
            library = target.split(".")[0]
            if library in OWNERS and module.room not in OWNERS[library]:
                yield f"{name} imports {library}"
        if "UnitRegistry(" in module.text and module.room != "units":
            yield f"{name} builds a registry"
        if "pyplot" in {part for target in module.imports() for part in target.split(".")}:
            yield f"{name} imports pyplot, which keeps state"


def cores_without_units(package: Path) -> Iterator[str]:
    """A module with compiled functions reaches the units by no import at its top."""
    known = modules(package)
    for name, module in known.items():
        if module.is_core() and name != "compiled":
            seen, waiting = set(), [name]
            while waiting:
                current = waiting.pop()
                if current in seen or current not in known:
                    continue
                seen.add(current)
                waiting += [target[11:] for target in known[current].imports(top_only=True) if "." in target]
                waiting += [".".join(current.split(".")[:end]) for end in range(1, current.count(".") + 1)]
            if "units" in seen or any("pint" in known[each].imports() for each in seen):
                yield f"{name} reaches the units through {sorted(seen - {name, 'units'})}"
        if name.endswith(".equations") and not module.is_core():
            yield f"{name} holds no compiled function"


def sizes(package: Path) -> Iterator[str]:
    """No module over 500 lines."""
    for name, module in modules(package).items():
        if (length := module.text.count("\n")) > LONGEST:
            yield f"{name}: {length} lines"


Rule = Callable[[Path], Iterator[str]]
RULES: list[Rule] = [rooms_known, downwards, owners, cores_without_units, sizes]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_the_package_keeps(rule: Rule) -> None:
    found = list(rule(PACKAGE))
    assert not found, "\n" + "\n".join(found)


def test_excuses_are_still_needed() -> None:
    known = modules(PACKAGE)
    for (name, room), reason in UPWARD.items():
        assert reason
        assert any(target.startswith(f"blasterlab.{room}") for target in known[name].imports()), (name, room)


GOOD = {
    "__init__.py": "",
    "units.py": "import pint\nureg = pint.UnitRegistry()\n",
    "compiled.py": "def compiled(function): return function\n",
    "parts/__init__.py": "",
    "parts/spring.py": "from blasterlab.units import ureg\n",
    "shot/__init__.py": "",
    "shot/equations.py": "from blasterlab.compiled import compiled\n@compiled\ndef shot(x): return x\n",
    "shot/simulate.py": "from ..units import ureg\nfrom . import equations\nimport blasterlab.parts.spring\n",
    "figures/__init__.py": "",
    "figures/shot.py": "from matplotlib.figure import Figure\nimport blasterlab.shot.simulate\n",
    "panels/__init__.py": "",
    "panels/shot.py": "import ipywidgets\nfrom blasterlab.figures import shot\n",
}
MUTANTS: list[tuple[Rule, str, str]] = [
    (rooms_known, "attic.py", ""),
    (rooms_known, "checks/fit.py", ""),
    (downwards, "parts/spring.py", "from blasterlab.shot.simulate import simulate"),
    (downwards, "parts/spring.py", "from blasterlab import shot"),
    (downwards, "parts/spring.py", "from ..shot import shot"),
    (downwards, "parts/spring.py", "import blasterlab.panels.shot"),
    (downwards, "parts/spring.py", "def rate():\n    from blasterlab.figures import shot"),
    (downwards, "figures/shot.py", "import blasterlab as bl"),
    (downwards, "figures/shot.py", "from blasterlab import simulate"),
    (owners, "figures/shot.py", "import ipywidgets as w"),
    (owners, "shot/simulate.py", "def draw():\n    import matplotlib"),
    (owners, "parts/spring.py", "from pint import Quantity"),
    (owners, "parts/spring.py", "from blasterlab import units\nunits.pint.UnitRegistry()"),
    (owners, "figures/shot.py", "import matplotlib.pyplot as plt"),
    (
        cores_without_units,
        "shot/equations.py",
        GOOD["shot/equations.py"] + "from blasterlab.units import si",
    ),
    (
        cores_without_units,
        "shot/equations.py",
        GOOD["shot/equations.py"] + "from blasterlab.parts import spring",
    ),
    (cores_without_units, "shot/__init__.py", "from .simulate import simulate"),
    (cores_without_units, "shot/equations.py", "def shot(x): return x"),
    (sizes, "parts/spring.py", "x = 1\n" * 501),
]


def write(folder: Path, files: dict[str, str]) -> Path:
    for name, text in files.items():
        path = folder / "blasterlab" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder / "blasterlab"


def test_a_good_package_keeps_every_rule(tmp_path: Path) -> None:
    package = write(tmp_path, GOOD)
    assert [fault for rule in RULES for fault in rule(package)] == []


def test_every_rule_has_mutants() -> None:
    assert {rule for rule, _, _ in MUTANTS} == set(RULES)


@pytest.mark.parametrize(("rule", "name", "text"), MUTANTS)
def test_rule_catches(rule: Rule, name: str, text: str, tmp_path: Path) -> None:
    assert list(rule(write(tmp_path, {**GOOD, name: text})))


def loaded_by(code: str) -> set[str]:
    code += "\nimport sys; print(*{name.split('.')[0] for name in sys.modules})"
    return set(
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        ).stdout.split()
    )


def test_the_front_door_is_light() -> None:
    assert "json" in loaded_by("import json")
    heavy = {"matplotlib", "ipywidgets", "IPython", "pandas", "scipy", "numba", "numpy", "pint"}
    assert loaded_by("import blasterlab") & heavy == set()


def test_the_floors_below_the_figures_run_without_screen_libraries() -> None:
    below = [name for name, module in modules(PACKAGE).items() if module.room not in ("figures", "panels")]
    assert "units" in below
    code = "\n".join(f"import blasterlab.{name}" for name in below if name)
    assert loaded_by(code) & {"matplotlib", "ipywidgets", "IPython"} == set()
