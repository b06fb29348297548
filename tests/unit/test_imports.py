"""The floors of the house: imports point downwards, never in a circle; heavy libraries stay in their rooms.

Each rule is read from the source, so an import inside a function counts as well, and each is proved by a
small package that breaks it.  Imports by name at run time are allowed in the front doors only, whose tables
are read too; and every floor is imported once, to see that it pulled in nothing from above.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Callable, Iterator
from graphlib import CycleError, TopologicalSorter
from importlib import import_module
from pathlib import Path
from statistics import median

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "blasterlab"

#: Lowest first; rooms in one line share a floor and may import each other.
FLOORS = [
    {"units", "fields", "tables", "compiled", "compile_cache", "doors", "faults", "files"},
    {"air"},
    {"parts"},
    {"assumed", "build", "buildtext", "measured", "pasted", "values"},
    {"shot"},
    {"closed_forms"},
    {"waves"},
    {"flight"},
    {"checks"},
    {"bench"},
    {"plan"},
    {"report"},
    {"figures"},
    {"panels", "page"},
]
HEIGHT = {room: height for height, rooms in enumerate(FLOORS) for room in rooms}
#: The package's lazy front door and ``python -m blasterlab``, above all floors.
DOORS = {"", "__main__"}
#: Who may import what, beside the type checker.
OWNERS = {"ipywidgets": {"panels"}, "matplotlib": {"figures"}, "pint": {"units"}}
#: Who may import by a name made at run time: the one door up, whose table holds the names that the public
#: interface fixes on a lower floor, and the room of words.
BY_NAME = {"doors", "report"}
LONGEST = 500  # lines of a module
MIDDLE = 200  # of half the modules
BODY = 60  # lines of a function's body
LONG = 120  # of one that is a single loop over a state too wide to pass about
#: (module, function) -> why its body may be longer than the others'.
LOOPS = {
    ("shot.integrate", "_steps"): "the loop over steps and events of a shot",
    ("shot.ark_step", "advance"): "the loop over the stages of one step",
    ("waves.gas_shot", "_shoot"): "the loop over steps and events of the gas waves",
}


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


def inside(target: str) -> str:
    """The dotted name inside the package; empty for another library."""
    return target.partition("blasterlab.")[2] if target.startswith("blasterlab.") else ""


def downwards(package: Path) -> Iterator[str]:
    """A lower floor never imports a higher one, and nothing imports the package through its front door."""
    for name, module in modules(package).items():
        if name in DOORS:
            continue
        low = HEIGHT.get(module.room, -1)
        for target in module.imports():
            room = inside(target).split(".")[0]
            if target == "blasterlab" or (room and room not in HEIGHT):
                yield f"{name} imports {target} through the front door"
            if HEIGHT.get(room, -1) > low:
                yield f"{name} imports {target}, which is above it"


def by_name(package: Path) -> Iterator[str]:
    """Only the doors import by a name that is made at run time."""
    for name, module in modules(package).items():
        words = {node.id for node in ast.walk(module.tree) if isinstance(node, ast.Name)}
        words |= {node.attr for node in ast.walk(module.tree) if isinstance(node, ast.Attribute)}
        if words & {"import_module", "__import__"} and name not in BY_NAME:
            yield f"{name} imports by a name made at run time"


def circle(arrows: dict[str, set[str]]) -> list[str]:
    """The first circle that the arrows make, as the names along it; empty where there is none."""
    try:
        tuple(TopologicalSorter(arrows).static_order())
    except CycleError as error:
        return list(error.args[1])
    return []


def no_circles(package: Path) -> Iterator[str]:
    """No two modules import each other at run time, over any number of steps; no two rooms either."""
    known = modules(package)
    between: dict[str, set[str]] = {name: set() for name in known if name not in DOORS}
    rooms: dict[str, set[str]] = {}
    for name in between:
        for target in known[name].imports():
            other = inside(target)
            if other in between and other != name and not name.startswith(f"{other}."):
                between[name].add(other)
        for target in known[name].imports():
            if (other := inside(target).split(".")[0]) not in ("", known[name].room):
                rooms.setdefault(known[name].room, set()).add(other)
    for arrows in (between, rooms):
        if found := circle(arrows):
            yield " -> ".join(found)


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


def bodies(tree: ast.Module) -> Iterator[tuple[str, int]]:
    """Each function's name and the lines of its body, without its docstring."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            body = node.body[1:] if ast.get_docstring(node) else node.body
            yield node.name, (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def sizes(package: Path) -> Iterator[str]:
    """Modules and functions stay small enough to be read in one go."""
    lengths = []
    for name, module in modules(package).items():
        lengths.append(module.text.count("\n"))
        if lengths[-1] > LONGEST:
            yield f"{name}: {lengths[-1]} lines"
        for function, lines in bodies(module.tree):
            if lines > (LONG if (name, function) in LOOPS else BODY):
                yield f"{name}.{function}: a body of {lines} lines"
    if (middle := median(lengths)) > MIDDLE:
        yield f"half of the modules have more than {middle:.0f} lines"


Rule = Callable[[Path], Iterator[str]]
RULES: list[Rule] = [rooms_known, downwards, by_name, no_circles, owners, cores_without_units, sizes]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_the_package_keeps(rule: Rule) -> None:
    found = list(rule(PACKAGE))
    assert not found, "\n" + "\n".join(found)


def test_excuses_are_still_needed() -> None:
    known = modules(PACKAGE)
    for (name, function), reason in LOOPS.items():
        assert reason
        assert max(lines for found, lines in bodies(known[name].tree) if found == function) > BODY, name
    for name in BY_NAME:
        assert "import_module" in known[name].text, name


def tables() -> Iterator[tuple[str, str, str]]:
    """What is loaded by name: (door, dotted module, name in it)."""
    from blasterlab import doors, report

    for room, name in doors.DOORS.values():
        yield "doors", room, name
    for said in (report._SAYS, report._SHOWS):
        for place in said.values():
            module, name = place.split(".")
            yield "report", f"report.{module}", name


def test_the_doors_lead_to_what_they_name() -> None:
    import blasterlab
    from blasterlab import figures, panels

    found = list(tables())
    known = modules(PACKAGE)
    assert {door for door, _, _ in found} == {"doors", "report"}
    for door, module, name in found:
        assert module in known, (door, module)
        assert not name or hasattr(import_module(f"blasterlab.{module}"), name), (door, module, name)
    for room in (blasterlab, figures, panels):
        assert len(room.__all__) > 8
        assert all(hasattr(room, name) for name in room.__all__)


@pytest.mark.parametrize("height", range(len(FLOORS)))
def test_a_floor_loads_nothing_from_above(height: int) -> None:
    rooms = FLOORS[height]
    names = [name for name, module in modules(PACKAGE).items() if module.room in rooms and name not in DOORS]
    assert names
    code = "\n".join(f"import blasterlab.{name}" for name in names)
    code += (
        "\nimport sys; print(*{name.split('.')[1] for name in sys.modules if name.startswith('blasterlab.')})"
    )
    loaded = set(
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        ).stdout.split()
    )
    assert rooms <= loaded
    assert {room for room in loaded if HEIGHT[room] > height} == set()


GOOD = {
    "__init__.py": "",
    "units.py": "import pint\nureg = pint.UnitRegistry()\n",
    "compiled.py": "def compiled(function): return function\nfrom blasterlab import tables\n",
    "tables.py": "",
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
    (by_name, "parts/spring.py", "from importlib import import_module\nimport_module('blasterlab.panels')"),
    (by_name, "parts/spring.py", "def rate():\n    return __import__('blasterlab.shot')"),
    (no_circles, "tables.py", "import blasterlab.compiled\n"),
    (no_circles, "shot/equations.py", "from blasterlab.shot.simulate import equations"),
    (no_circles, "shot/equations.py", "def shot():\n    from . import simulate"),
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
    (sizes, "parts/spring.py", "def rate():\n" + "    x = 1\n" * 61),
    (sizes, "shot/integrate.py", "def integrate():\n" + "    x = 1\n" * 121),
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


def loaded_by(code: str, parts: int = 1) -> set[str]:
    """The modules that a fresh interpreter has after some code, cut to the first parts of their names."""
    code += f"\nimport sys; print(*{{'.'.join(name.split('.')[:{parts}]) for name in sys.modules}})"
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
