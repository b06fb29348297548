"""Every notebook keeps the contract, and every rule of the contract catches a notebook that breaks it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import nbformat
import notebook_contract as rules
import pytest

FOLDER = Path(__file__).resolve().parents[2] / "notebooks"
LIST = Path(__file__).with_name("list.txt").read_text(encoding="utf-8")
LISTED = [line for line in LIST.splitlines() if line and not line.startswith("#")]


def test_the_folder_holds_exactly_the_listed_notebooks() -> None:
    found = [path.name for path in FOLDER.rglob("*.ipynb") if ".ipynb_checkpoints" not in path.parts]
    assert found
    assert sorted(found) == sorted(LISTED)


@pytest.mark.parametrize("name", LISTED)
@pytest.mark.parametrize("rule", rules.RULES, ids=lambda rule: rule.__name__)
def test_notebook_keeps(name: str, rule: rules.Rule) -> None:
    notebook = nbformat.read(FOLDER / name, as_version=nbformat.NO_CONVERT)
    nbformat.validate(notebook)
    found = list(rule(notebook))
    assert not found, "\n" + "\n".join(found)


def good() -> Any:
    """A small notebook that keeps every rule."""
    new = nbformat.v4
    png = {"image/png": "iVBORw0KGgo="}
    alt = {"image/png": {"alt": "speed against barrel length"}}
    figure = new.new_output(
        "display_data", {**png, "text/plain": "<Figure size 9x9 with 1 Axes>"}, metadata=alt
    )
    panel = {"text/plain": "Panel: 41.2 m/s at 25 cm", **png}
    view = new.new_output("execute_result", panel, metadata=alt, execution_count=4)
    line = new.new_output("stream", name="stdout", text="1.234 J\n")
    imports = "import blasterlab as bl\nfrom IPython.display import display"
    cells = [
        new.new_markdown_cell("# How long a barrel?\n\n![a barrel](pictures/barrel.png)"),
        new.new_code_cell(imports, execution_count=1),
        new.new_code_cell("print(work)", execution_count=2, outputs=[line]),
        new.new_code_cell("display(figure)\nprint(caption)", execution_count=3, outputs=[figure, line]),
        new.new_code_cell("panel", execution_count=4, metadata={"deletable": False}, outputs=[view]),
    ]
    metadata = {
        "kernelspec": {"name": "python3", "display_name": "Python 3"},
        "language_info": {"name": "python"},
    }
    return new.new_notebook(cells=cells, metadata=metadata)


def source(text: str) -> Callable[[Any], None]:
    return lambda nb: nb.cells[2].update(source=text)


def text(words: str) -> Callable[[Any], None]:
    return lambda nb: nb.cells[2].outputs[0].update(text=words)


MUTANTS: list[tuple[rules.Rule, Callable[[Any], Any]]] = [
    (rules.counts, lambda nb: nb.cells[2].update(execution_count=None)),
    (rules.counts, lambda nb: nb.cells[2].update(execution_count=7)),
    (rules.counts, lambda nb: nb.cells[4].outputs[0].update(execution_count=9)),
    (rules.counts, lambda nb: nb.update(cells=nb.cells[:1])),
    (rules.clean_outputs, lambda nb: nb.cells[2].outputs[0].update(name="stderr")),
    (rules.clean_outputs, lambda nb: nb.cells[3].outputs[0].data.update({"image/svg+xml": "<svg/>"})),
    (
        rules.clean_outputs,
        lambda nb: nb.cells[2].outputs.append(
            nbformat.v4.new_output("error", ename="E", evalue="", traceback=[])
        ),
    ),
    (rules.clean_outputs, text("<Thing at 0x7f00aa11bb22> 1\n")),
    (rules.clean_outputs, text("RuntimeWarning: overflow 1\n")),
    (rules.clean_outputs, text("/home/someone/build.toml 1\n")),
    (rules.something_compared, lambda nb: nb.cells[3].update(outputs=nb.cells[3].outputs[:1])),
    (rules.something_compared, lambda nb: [cell.update(outputs=[]) for cell in nb.cells[1:]]),
    (rules.no_skips, source("# NBVAL_SKIP\nprint(work)")),
    (rules.no_skips, source("# NBVAL_IGNORE_OUTPUT\nprint(work)")),
    (rules.no_skips, lambda nb: nb.cells[2].metadata.update(tags=["nbval-ignore-output"])),
    (rules.no_skips, lambda nb: nb.cells[2].metadata.update(tags=["raises-exception"])),
    (rules.plain_python, source("%timeit work")),
    (rules.plain_python, source("%matplotlib widget")),
    (rules.plain_python, source("!ls")),
    (rules.plain_python, source("print(id(work))")),
    (rules.plain_python, source("print(datetime.now())")),
    (rules.plain_python, source("with widgets.Output(): print(work)")),
    (rules.plain_python, source("interact(show, x=3)")),
    (rules.plain_python, source("clear_output(wait=True)")),
    (rules.plain_python, source("display(SVG(picture))")),
    (rules.plain_python, source("print(np.random.default_rng().normal())")),
    (
        rules.plain_python,
        lambda nb: nb.cells[1].update(source="import blasterlab as bl\nfrom w import interact"),
    ),
    (rules.short_cells, source("\n".join(["print(work)"] * 12))),
    (rules.short_cells, source("print(work)  " + "#" * 100)),
    (rules.short_cells, source("")),
    (rules.no_definitions, source("def work():\n    return 1")),
    (rules.no_definitions, source("class Work:\n    pass")),
    (rules.no_definitions, source("work = lambda x: x")),
    (rules.two_imports, source("import math")),
    (rules.two_imports, lambda nb: nb.cells[1].update(source="import math")),
    (rules.two_imports, lambda nb: nb.cells[1].update(source="import blasterlab as bl\nimport a\nimport b")),
    (rules.pictures_speak, lambda nb: nb.cells[3].outputs[0].update(metadata={})),
    (rules.pictures_speak, lambda nb: nb.cells[3].outputs[0].update(metadata={"image/png": {"alt": "plot"}})),
    (rules.pictures_speak, lambda nb: nb.cells[3].outputs[1].update(text="no number\n")),
    (rules.pictures_speak, lambda nb: nb.cells[3].outputs[0].data.update({"text/html": "<img src='x'>"})),
    (rules.pictures_speak, lambda nb: nb.cells[0].update(source="# Title\n\n![](x.png)")),
    (rules.pictures_speak, lambda nb: nb.cells[0].update(source="# Title\n\n<img src='x.png'>")),
    (rules.panels_kept, lambda nb: nb.cells[4].metadata.clear()),
    (rules.panels_kept, lambda nb: nb.cells[4].metadata.update(deletable=True)),
    (
        rules.panels_kept,
        lambda nb: nb.cells[4].outputs[0].data.update({"text/plain": "VBox(children=(1, 2))"}),
    ),
    (rules.panels_kept, lambda nb: nb.cells[4].outputs[0].update(data={"text/plain": "VBox()"})),
    (rules.panels_kept, lambda nb: nb.cells[4].outputs[0].data.update({"text/plain": "41 m/s\n25 cm"})),
    (rules.panels_kept, lambda nb: nb.cells[4].outputs[0].data.update({rules.VIEW: {"model_id": "0"}})),
    (rules.panels_left_alone, source('panel.set("barrel.length", "30 cm")\nprint(work)')),
    (rules.panels_left_alone, source("for length in work:\n    print(panel.reset())")),
    (rules.lean_metadata, lambda nb: nb.metadata.update(widgets={"state": {}})),
    (rules.lean_metadata, lambda nb: nb.metadata.kernelspec.update(name="other")),
    (rules.lean_metadata, lambda nb: nb.metadata.language_info.update(version="3.11.2")),
    (rules.lean_metadata, lambda nb: nb.cells[2].update(id=nb.cells[1].id)),
    (rules.lean_metadata, lambda nb: nb.cells[2].metadata.update(execution={"at": "noon"})),
    (rules.lean_metadata, lambda nb: nb.update(nbformat_minor=4)),
    (rules.prose_points, lambda nb: nb.cells[0].update(source="# Title\n\nThe spring holds 1.234 J.")),
    (rules.titled, lambda nb: nb.cells[0].update(source="How long a barrel?")),
    (rules.titled, lambda nb: nb.update(cells=nb.cells[1:])),
]


def test_a_good_notebook_keeps_every_rule() -> None:
    assert {rule.__name__: list(rule(good())) for rule in rules.RULES} == {
        rule.__name__: [] for rule in rules.RULES
    }


def test_every_rule_has_mutants() -> None:
    assert {rule for rule, _ in MUTANTS} == set(rules.RULES)


@pytest.mark.parametrize(("rule", "mutate"), MUTANTS)
def test_rule_catches(rule: rules.Rule, mutate: Callable[[Any], Any]) -> None:
    notebook = good()
    mutate(notebook)
    assert list(rule(notebook))


def sanitized(patterns: str, words: str) -> str:
    """What nbval compares, by the way it reads and applies its patterns."""
    for pattern, new in re.findall("^regex: (.*)$\n^replace: (.*)$", patterns, flags=re.MULTILINE):
        words = re.sub(pattern, new, words)
    return words


ORDINARY = "41.27 m/s, 25 cm, 3.1e-5, 1/2 in, 1 000 N/m, 12.5 %, 2026-01-31, 0.0001, -0.5 J, 7 shots"


def test_the_sanitizer_leaves_ordinary_numbers_alone() -> None:
    patterns = Path(__file__).with_name("sanitize.cfg").read_text(encoding="utf-8")
    assert sanitized(patterns, ORDINARY) == ORDINARY


def test_a_greedy_sanitizer_would_be_caught() -> None:
    assert sanitized("regex: \\d+\\.\\d+\nreplace: N\n", ORDINARY) != ORDINARY


def unwritten(notebook: Any) -> int:
    """How many exercises have no place right behind them to write a prediction."""
    prose = [cell.source for cell in notebook.cells if cell.cell_type == "markdown"]
    asked = [place for place, words in enumerate(prose) if "## Exercises" in words]
    if len(asked) != 1 or not prose[asked[0] + 1].startswith("**My predictions.**"):
        return 99
    asks, spots = (re.findall(r"^\d\. ", words, re.MULTILINE) for words in prose[asked[0] : asked[0] + 2])
    return max(len(asks), 1) - len(spots)


@pytest.mark.parametrize("name", [name for name in LISTED if re.match(r"\d[02]_", name)])
def test_each_exercise_is_predicted_in_writing(name: str) -> None:
    notebook = nbformat.read(FOLDER / name, as_version=4)
    assert unwritten(notebook) == 0
    spot = next(cell for cell in notebook.cells if cell.source.startswith("**My predictions.**"))
    spot.source = spot.source.replace("\n2. …", "")
    assert unwritten(notebook) == 1
    notebook.cells.remove(spot)
    assert unwritten(notebook) == 99
