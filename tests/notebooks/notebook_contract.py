"""The contract of every notebook: one checker a rule, each yielding faults in words.

nbval passes a notebook that was cleared, an image without words, a skipped cell.  These rules close those
holes.  They are applied, and proved by notebooks that break them, in ``test_contract.py``.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from typing import Any

LONGEST_CELL = 11
VIEW = "application/vnd.jupyter.widget-view+json"
BANNED_NAMES = {
    "Output",
    "interact",
    "interactive",
    "interactive_output",
    "interact_manual",
    "clear_output",
    "SVG",
}
BANNED_CALLS = {
    "id",
    "now",
    "today",
    "utcnow",
    "time",
    "perf_counter",
    "uuid4",
    "getpid",
    "exec",
    "eval",
    "input",
}
#: What moves a panel.
MOVES = {"clear_bench", "press", "redo", "reset", "save", "set", "slide", "start_from", "type", "undo"}
VOLATILE = re.compile(r"0x[0-9a-f]{6,}|/(?:home|root|tmp|work|Users)/|[A-Z]:\\|[Ww]arning:")
SKIPS = re.compile(r"NBVAL|PYTEST_VALIDATE|raises-exception|skip-execution|nbval", re.IGNORECASE)
Faults = Iterator[str]
Rule = Callable[[Any], Iterator[str]]


def code_cells(notebook: Any) -> list[Any]:
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def tree(cell: Any) -> ast.Module:
    try:
        return ast.parse(cell.source)
    except SyntaxError:
        return ast.parse("")


def bundles(cell: Any) -> list[Any]:
    return [out for out in cell.outputs if out.output_type in ("display_data", "execute_result")]


def printed(cell: Any) -> str:
    """The words of a cell's outputs, without the repr that a figure brings along."""
    words = [out.text for out in cell.outputs if out.output_type == "stream"]
    words += [out.data.get("text/plain", "") for out in bundles(cell)]
    return "\n".join(text for text in words if not is_figure(text))


def is_figure(words: str) -> bool:
    return bool(re.match(r"<Figure size|<IPython\.core", words))


def counts(notebook: Any) -> Faults:
    """Executed from top to bottom in a fresh kernel: counts 1 to n, in outputs too."""
    cells = code_cells(notebook)
    found = [cell.execution_count for cell in cells]
    if not cells or found != list(range(1, len(cells) + 1)):
        yield f"execution counts are {found}"
    for cell in cells:
        for out in cell.outputs:
            if out.output_type == "execute_result" and out.execution_count != cell.execution_count:
                yield f"an output of cell {cell.execution_count} has count {out.execution_count}"


def clean_outputs(notebook: Any) -> Faults:
    """No stderr, no error, no address, path of a machine or warning, no SVG."""
    for cell in code_cells(notebook):
        for out in cell.outputs:
            if out.output_type == "error" or out.get("name") == "stderr":
                yield f"stderr or an error in an output of: {cell.source[:50]!r}"
        for out in bundles(cell):
            if "image/svg+xml" in out.data:
                yield f"an SVG picture in: {cell.source[:50]!r}"
        html = "".join(out.data.get("text/html", "") for out in bundles(cell))
        if match := VOLATILE.search(printed(cell) + html):
            yield f"{match.group()!r} in an output of: {cell.source[:50]!r}"


def something_compared(notebook: Any) -> Faults:
    """Every cell that shows anything shows words, and some cell a number."""
    shown = [cell for cell in code_cells(notebook) if cell.outputs]
    for cell in shown:
        if not printed(cell).strip():
            yield f"an output without words, which is never compared: {cell.source[:50]!r}"
    if not any(re.search(r"\d", printed(cell)) for cell in shown):
        yield "no cell prints a number, so nothing is compared"


def no_skips(notebook: Any) -> Faults:
    """No mark that tells nbval or nbclient to look away."""
    for cell in code_cells(notebook):
        marks = [line for line in cell.source.splitlines() if line.strip().startswith("#")]
        marks += list(cell.metadata.get("tags", []))
        if any(SKIPS.search(mark) for mark in marks):
            yield f"a skip mark in: {cell.source[:50]!r}"


def plain_python(notebook: Any) -> Faults:
    """Cells are Python without magics, and call nothing whose output changes or is not compared."""
    for cell in code_cells(notebook):
        try:
            nodes = list(ast.walk(ast.parse(cell.source)))
        except SyntaxError:
            yield f"a magic, shell line or broken Python: {cell.source[:50]!r}"
            continue
        for node in nodes:
            name = getattr(node, "attr", getattr(node, "id", None))
            called = node.func if isinstance(node, ast.Call) else None
            call = getattr(called, "attr", getattr(called, "id", None))
            if name in BANNED_NAMES or call in BANNED_CALLS:
                yield f"{name or call} in: {cell.source[:50]!r}"
            if isinstance(node, ast.ImportFrom) and BANNED_NAMES & {alias.name for alias in node.names}:
                yield f"a banned import: {ast.unparse(node)}"
            if call == "default_rng" and isinstance(node, ast.Call) and not (node.args or node.keywords):
                yield f"a random generator without a seed: {cell.source[:50]!r}"


def short_cells(notebook: Any) -> Faults:
    """Fewer than a dozen lines, and none so long that it needs scrolling."""
    for cell in code_cells(notebook):
        lines = cell.source.splitlines()
        if not lines or len(lines) > LONGEST_CELL:
            yield f"{len(lines)} lines in: {cell.source[:50]!r}"
        if any(len(line) > 110 for line in lines):
            yield f"a line over 110 characters in: {cell.source[:50]!r}"


def no_definitions(notebook: Any) -> Faults:
    """The package holds the logic: no functions or classes in cells."""
    for cell in code_cells(notebook):
        for node in ast.walk(tree(cell)):
            if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda)):
                yield f"a definition in: {cell.source[:50]!r}"


def two_imports(notebook: Any) -> Faults:
    """Set up in one cell with at most two import lines, one of them the kit."""
    homes: list[Any] = []
    lines: list[str] = []
    for cell in code_cells(notebook):
        found = [node for node in ast.walk(tree(cell)) if isinstance(node, (ast.Import, ast.ImportFrom))]
        lines += [ast.unparse(node) for node in found]
        homes += [cell] if found else []
    if len(homes) != 1 or len(lines) > 2 or "import blasterlab as bl" not in lines:
        yield f"imports in {len(homes)} cells: {lines}"


def pictures_speak(notebook: Any) -> Faults:
    """Alt text on every picture, and a number in words in the same cell."""
    for cell in code_cells(notebook):
        for out in bundles(cell):
            for kind in set(out.data) - {VIEW}:
                if kind.startswith("image/") and not _alt(out, kind):
                    yield f"a picture without alt text in: {cell.source[:50]!r}"
            if "<img" in (html := out.data.get("text/html", "")) and not re.search(
                r"<img[^>]*\balt=.\w", html
            ):
                yield f"an <img> without alt text in: {cell.source[:50]!r}"
            if any(kind.startswith("image/") for kind in out.data) and not re.search(r"\d", printed(cell)):
                yield f"a picture and no number in words in: {cell.source[:50]!r}"
    for cell in notebook.cells:
        if cell.cell_type == "markdown" and re.search(r"!\[\s*\]|<img(?![^>]*\balt=.\w)", cell.source):
            yield f"a picture without alt text in the prose: {cell.source[:50]!r}"


def _alt(out: Any, kind: str) -> bool:
    metadata = out.metadata.get(kind, {})
    return len(str(metadata.get("alt", out.metadata.get("alt", "")))) >= 10


def panels_kept(notebook: Any) -> Faults:
    """A panel's cell cannot be deleted by a slip, and its line of numbers is compared."""
    for cell in code_cells(notebook):
        for out in bundles(cell):
            words = out.data.get("text/plain", "")
            if VIEW in out.data:
                yield f"a widget view without its state (refresh.py drops it): {cell.source[:50]!r}"
            if re.match(r"[A-Z]\w*\((children|layout|value|style|description|\))", words):
                yield f"a bare widget, whose repr hides its numbers: {words[:50]!r}"
            if VIEW not in out.data and ("image/png" not in out.data or is_figure(words)):
                continue
            if cell.metadata.get("deletable") is not False:
                yield f'a panel cell without "deletable": false: {cell.source[:50]!r}'
            if not re.search(r"\d", words) or "\n" in words or re.match(r"\w+\(", words):
                yield f"a panel without one line of numbers: {words[:60]!r}"


def panels_left_alone(notebook: Any) -> Faults:
    """No cell moves a panel that is shown, into which a builder may have typed: examples have their own."""
    shown = set()
    for cell in code_cells(notebook):
        match tree(cell).body[-1:]:
            case [ast.Expr(value=ast.Name(id=name))] if bundles(cell):
                shown.add(name)
    for cell in code_cells(notebook):
        for node in ast.walk(tree(cell)):
            match node:
                case ast.Attribute(value=ast.Name(id=name), attr=what) if name in shown and what in MOVES:
                    yield f"{name}.{what}(...) moves a panel that is shown: {cell.source[:50]!r}"


def lean_metadata(notebook: Any) -> Faults:
    """No widget state, the plain kernel, cell ids, nothing that changes with the machine."""
    if (notebook.nbformat, notebook.nbformat_minor) < (4, 5):
        yield "nbformat is older than 4.5"
    if set(notebook.metadata) != {"kernelspec", "language_info"}:
        yield f"metadata holds {sorted(notebook.metadata)}"
    if notebook.metadata.get("kernelspec", {}).get("name") != "python3":
        yield "the kernel is not python3"
    if "version" in notebook.metadata.get("language_info", {}):
        yield "the Python version is stored"
    ids = [cell.get("id", "") for cell in notebook.cells]
    if len(set(ids)) != len(ids) or not all(ids):
        yield "cell ids are missing or doubled"
    for cell in notebook.cells:
        if extra := set(cell.metadata) - {"deletable", "editable", "tags", "jupyter"}:
            yield f"cell metadata holds {sorted(extra)}"


def prose_points(notebook: Any) -> Faults:
    """Prose does not repeat a number that a cell prints: it would rot."""
    shown = {number for cell in code_cells(notebook) for number in _long_numbers(printed(cell))}
    for cell in notebook.cells:
        if cell.cell_type == "markdown" and (again := shown & set(_long_numbers(cell.source))):
            yield f"prose repeats {sorted(again)}: {cell.source[:50]!r}"


def _long_numbers(text: str) -> list[str]:
    return [
        n
        for n in re.findall(r"(?<![\w.])\d+\.\d+(?![\w.]*\d)", text)
        if len(n.replace(".", "").strip("0")) > 2
    ]


def titled(notebook: Any) -> Faults:
    """Opens with a title."""
    if not notebook.cells or not re.match(r"# \S", notebook.cells[0].source):
        yield "the first cell is no title"


RULES: list[Rule] = [
    counts, clean_outputs, something_compared, no_skips, plain_python, short_cells, no_definitions,
    two_imports, pictures_speak, panels_kept, panels_left_alone, lean_metadata, prose_points, titled,
]  # fmt: skip
