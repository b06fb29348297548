"""Rules for docstrings, read from the source: one checker a rule, each yielding faults in words.

The public interface (the names in ``__init__.pyi``, their methods, the classes they return) carries the long
form: numpydoc sections.  Anything else may carry the short form, one paragraph, if that or its module says
the units.  Whoever writes sections keeps all the rules.  Applied to the package, and proved by small modules
that break them, in ``test_docstrings.py``.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

SECTIONS = [
    "Parameters", "Attributes", "Returns", "Yields", "Raises", "Warns", "Notes", "References", "Examples",
]  # fmt: skip
#: What libraries and the system raise; nothing to find in the package's source.
OUTSIDE = {"OSError", "FileNotFoundError", "ImportError", "KeyboardInterrupt", "MemoryError", "StopIteration"}
UNIT = re.compile(r"\[[^\]\n]+\]|\bunits?\b")
#: Words of a return annotation that may carry a dimension; texts, flags and documented classes do not.
DIMENSIONAL = {"Any", "float", "Quantity", "ndarray", "Array", "NDArray"}


@dataclass
class Thing:
    """A public function, method, property or class, with its docstring taken apart."""

    name: str
    node: ast.FunctionDef | ast.ClassDef
    method: bool = False
    module_doc: str = ""
    doc: str = ""
    sections: dict[str, str] = field(default_factory=dict)
    headings: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.doc = ast.get_docstring(self.node) or ""
        parts = re.split(r"^(\w[\w ]*)\n-{3,}\n", self.doc, flags=re.MULTILINE)
        self.headings = parts[1::2]
        self.sections = dict(zip(parts[1::2], parts[2::2], strict=True))

    @property
    def decorators(self) -> list[str]:
        return [ast.unparse(decorator) for decorator in self.node.decorator_list]

    @property
    def is_property(self) -> bool:
        return any(word.endswith("property") for word in self.decorators)

    @property
    def answer(self) -> str:
        """The return annotation; "None" where there is none."""
        returns = None if isinstance(self.node, ast.ClassDef) else self.node.returns
        return ast.unparse(returns) if returns else "None"

    @property
    def says_units(self) -> bool:
        return bool(UNIT.search(self.doc) or re.search(r"\bSI\b|[Uu]nits|\[[^\]\n]+\]", self.module_doc))

    @property
    def arguments(self) -> list[str]:
        """The names of the signature, or the fields of a dataclass, in order."""
        if isinstance(self.node, ast.ClassDef):
            if not any("dataclass" in word for word in self.decorators):
                return []
            return [
                item.target.id
                for item in self.node.body
                if isinstance(item, ast.AnnAssign)
                and isinstance(item.target, ast.Name)
                and not item.target.id.startswith("_")
                and "init=False" not in ast.unparse(item)
                and "ClassVar" not in ast.unparse(item.annotation)
            ]
        spec = self.node.args
        names = [argument.arg for argument in spec.posonlyargs + spec.args]
        if self.method and "staticmethod" not in self.decorators:
            names = names[1:]
        names += [spec.vararg.arg] if spec.vararg else []
        names += [argument.arg for argument in spec.kwonlyargs]
        names += [spec.kwarg.arg] if spec.kwarg else []
        return [name for name in names if not name.startswith("_")]

    def entries(self, section: str) -> list[tuple[list[str], str]]:
        """Names and text of each entry: ``a, b : float [m]`` and the lines below it."""
        found: list[tuple[list[str], str]] = []
        for line in self.sections.get(section, "").splitlines():
            if line and not line[0].isspace():
                names = [name.strip(" *`") for name in line.split(" : ")[0].split(",")]
                found.append((names, line))
            elif found:
                found[-1] = (found[-1][0], found[-1][1] + "\n" + line)
        return found


@cache
def _parsed(text: str) -> list[ast.AST]:
    """The nodes of a source text, the module first; each knows its parent."""
    found = list(ast.walk(ast.parse(text)))
    for node in found:
        for child in ast.iter_child_nodes(node):
            child.parent = node  # type: ignore[attr-defined]
    return found


def nodes(path: Path) -> list[ast.AST]:
    """The nodes of a source file; each rule asks for them again, so a text is parsed once."""
    return _parsed(path.read_text(encoding="utf-8"))


def things(path: Path, package: Path) -> list[Thing]:
    """The public things of a module: functions, classes, and the classes' methods."""
    module = ".".join(path.relative_to(package).with_suffix("").parts)
    tree = nodes(path)
    words = ast.get_docstring(tree[0]) or ""  # type: ignore[arg-type]
    found = []
    for node in tree:
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.name.startswith("_"):
            parent = node.parent  # type: ignore[attr-defined]
            if isinstance(parent, (ast.Module, ast.If)):
                found.append(Thing(f"{module}.{node.name}", node, module_doc=words))
            elif isinstance(parent, ast.ClassDef) and not parent.name.startswith("_"):
                found.append(Thing(f"{module}.{parent.name}.{node.name}", node, True, words))
    return [thing for thing in found if not any(word.endswith("setter") for word in thing.decorators)]


def all_things(package: Path) -> list[Thing]:
    found = [thing for path in sorted(package.rglob("*.py")) for thing in things(path, package)]
    assert found
    return found


def interface(package: Path) -> set[str]:
    """The names of the public interface: ``__init__.pyi``, and the classes that its members return."""
    stub = ast.walk(ast.parse((package / "__init__.pyi").read_text(encoding="utf-8")))
    public = {alias.name for node in stub if isinstance(node, ast.ImportFrom) for alias in node.names}
    everything = all_things(package)
    classes = {thing.node.name for thing in everything if isinstance(thing.node, ast.ClassDef)}
    grown = True
    while grown:
        answers = " ".join(thing.answer for thing in everything if is_public(thing, public))
        more = set(re.findall(r"\w+", answers)) & classes - public
        public |= more
        grown = bool(more)
    return public


def is_public(thing: Thing, public: set[str]) -> bool:
    """A name of the interface, or a method of one of its classes."""
    parts = thing.name.split(".")
    return parts[-2 if thing.method else -1] in public


def documented(package: Path) -> Iterator[str]:
    """Every module and every public name opens with a sentence."""
    for path in sorted(package.rglob("*.py")):
        module = nodes(path)[0]
        if module.body and not ast.get_docstring(module):  # type: ignore[attr-defined,arg-type]
            yield f"{path.relative_to(package)}: no module docstring"
    for thing in all_things(package):
        first = thing.doc.split("\n\n")[0].strip()
        if len(first) < 7 or first[-1] not in ".:?" or first.split("\n")[0] in SECTIONS:
            yield f"{thing.name}: no opening sentence"


def long_form(package: Path) -> Iterator[str]:
    """The public interface has Parameters and Returns; anything else says its units somewhere."""
    public = interface(package)
    for thing in all_things(package):
        if is_public(thing, public):
            if thing.arguments and not ({"Parameters", "Attributes"} & set(thing.headings)):
                yield f"{thing.name}: no Parameters"
            if (
                thing.answer != "None"
                and not thing.is_property
                and not ({"Returns", "Yields"} & set(thing.headings))
            ):
                yield f"{thing.name}: no Returns"
        elif (
            not thing.headings
            and DIMENSIONAL & set(re.findall(r"\w+", thing.answer))
            and not thing.says_units
        ):
            yield f"{thing.name}: neither it nor its module says the units"


def parameters(package: Path) -> Iterator[str]:
    """The documented parameters are the signature's, complete and in order."""
    for thing in all_things(package):
        section = "Parameters" if "Parameters" in thing.headings else "Attributes"
        names = [name for entry, _ in thing.entries(section) for name in entry]
        if isinstance(thing.node, ast.ClassDef) and not thing.arguments:
            thing = next((t for t in _inits(thing)), thing)
        if names and names != thing.arguments:
            yield f"{thing.name}: documents ({', '.join(names)}), takes ({', '.join(thing.arguments)})"


def _inits(thing: Thing) -> list[Thing]:
    """The initialiser of a plain class, whose parameters the class documents."""
    return [
        Thing(thing.name, node, method=True)
        for node in thing.node.body
        if isinstance(node, ast.FunctionDef) and node.name == "__init__"
    ]


def units(package: Path) -> Iterator[str]:
    """Each parameter, and what is returned, says its unit in brackets ([-] for none)."""
    public = interface(package)
    for thing in all_things(package):
        for section in ("Parameters", "Attributes"):
            for names, text in thing.entries(section):
                if not UNIT.search(text):
                    yield f"{thing.name}: no [unit] for {', '.join(names)}"
        returned = thing.sections.get("Returns", "") + thing.sections.get("Yields", "")
        if returned and thing.answer == "None":
            yield f"{thing.name}: documents a return value and returns None"
        if DIMENSIONAL & set(re.findall(r"\w+", thing.answer)):
            if returned and not UNIT.search(returned):
                yield f"{thing.name}: no [unit] in Returns"
            if thing.is_property and is_public(thing, public) and not UNIT.search(thing.doc):
                yield f"{thing.name}: a property without [unit]"


def order(package: Path) -> Iterator[str]:
    """Sections are known and stand in the house's order."""
    for thing in all_things(package):
        ranks = [SECTIONS.index(heading) for heading in thing.headings if heading in SECTIONS]
        if len(ranks) != len(thing.headings) or ranks != sorted(set(ranks)):
            yield f"{thing.name}: sections {thing.headings}"


def _raised(node: ast.AST) -> set[str]:
    """Exceptions raised by name in a body; "?" where a helper makes the exception."""
    found = set()
    for inner in ast.walk(node):
        if isinstance(inner, ast.Raise) and isinstance(inner.exc, ast.Call):
            name = ast.unparse(inner.exc.func).rpartition(".")[2]
            found.add(name if re.match(r"[A-Z]\w*$", name) else "?")
    return found


def _may_raise(package: Path) -> dict[str, set[str]]:
    """Name -> exceptions that it or what it calls may raise, by names alone: too many, never too few."""
    raised: dict[str, set[str]] = {}
    calls: dict[str, set[str]] = {}
    for path in package.rglob("*.py"):
        for node in nodes(path):
            if isinstance(node, (ast.FunctionDef, ast.ClassDef)):
                made = {
                    ast.unparse(call.func).rpartition(".")[2]
                    for call in ast.walk(node)
                    if isinstance(call, ast.Call)
                }
                used = {inner.attr for inner in ast.walk(node) if isinstance(inner, ast.Attribute)}
                raised.setdefault(node.name, set()).update(_raised(node), made & {"UnitError"})
                calls.setdefault(node.name, set()).update(made, used)
                if "?" in raised[node.name]:
                    raised[node.name] |= {name for name in made if name.endswith("Error")}
    changed = True
    while changed:
        changed = False
        for name, called in calls.items():
            more = set().union(*(raised.get(other, set()) for other in called)) - raised[name]
            if more:
                raised[name] |= more
                changed = True
    return raised


def _ancestors(package: Path) -> dict[str, set[str]]:
    """Exception class of the package -> itself and the classes it descends from, by name."""
    found = {"UnitError": {"UnitError", "ValueError"}}
    for _ in range(3):  # as deep as families of errors go here
        for path in package.rglob("*.py"):
            for node in nodes(path):
                if isinstance(node, ast.ClassDef) and node.name.endswith("Error"):
                    bases = {ast.unparse(base).rpartition(".")[2] for base in node.bases}
                    found[node.name] = (
                        {node.name} | bases | set().union(*(found.get(base, set()) for base in bases))
                    )
    return found


def raises(package: Path) -> Iterator[str]:
    """Raises (or the short form's text) names what the body raises, and nothing that cannot come."""
    possible, family = _may_raise(package), _ancestors(package)
    for thing in all_things(package):
        listed = {name for names, _ in thing.entries("Raises") for name in names}
        if isinstance(thing.node, ast.FunctionDef):
            own = _raised(thing.node)
            named = listed if thing.headings else {name for name in own if name in thing.doc}
            missing = {name for name in own - {"?"} if not named & family.get(name, {name})}
            if missing:
                yield f"{thing.name}: raises {sorted(missing)} and does not say so"
            if "?" in own and not re.search(r"Error|Raises", thing.doc):
                yield f"{thing.name}: raises and does not say so"
        key = thing.name.rpartition(".")[2]
        coming = set().union(*(family.get(name, {name}) for name in possible.get(key, set())))
        if never := listed - coming - OUTSIDE:
            yield f"{thing.name}: says it raises {sorted(never)}, which nothing below it does"


Rule = Callable[[Path], Iterator[str]]
RULES: list[Rule] = [documented, long_form, parameters, units, order, raises]
