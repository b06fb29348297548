"""Execute the notebooks in place and store what they show, without what changes from run to run.

Use, in the environment with the pinned versions::

    python tests/notebooks/refresh.py                     # all
    python tests/notebooks/refresh.py 10_barrel_length    # some
    python tests/notebooks/refresh.py --try               # execute all, write nothing

Widget state and widget views are not stored: a page without a kernel shows the panel's picture instead of an
error.  A cell that shows a panel is marked so that a slip of the keys cannot delete it.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient

FOLDER = Path(__file__).resolve().parents[2] / "notebooks"
VIEW = "application/vnd.jupyter.widget-view+json"
KEPT = {"deletable", "editable", "tags", "jupyter"}


def clean(notebook: Any) -> Any:
    """Drop volatile metadata and widget views; number outputs as their cells; in place."""
    notebook.nbformat, notebook.nbformat_minor = 4, max(5, notebook.nbformat_minor)
    notebook.metadata = nbformat.from_dict(
        {
            "kernelspec": {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"},
            "language_info": {"file_extension": ".py", "mimetype": "text/x-python", "name": "python"},
        }
    )
    taken: set[str] = set()
    for number, cell in enumerate(notebook.cells):
        if not cell.get("id") or cell.id in taken:
            cell.id = f"cell-{number:02d}"
        taken.add(cell.id)
        for key in set(cell.metadata) - KEPT:
            del cell.metadata[key]
        for out in cell.get("outputs", []):
            if VIEW in out.get("data", {}):
                del out.data[VIEW]
                cell.metadata["deletable"] = False
    return notebook


def refresh(path: Path, folder: Path = FOLDER) -> Any:
    """The notebook, executed in a fresh kernel in its folder, and cleaned."""
    notebook = nbformat.read(path, as_version=4)
    for cell in notebook.cells:
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None
    client = NotebookClient(
        notebook, timeout=300, kernel_name="python3", record_timing=False, store_widget_state=False,
        coalesce_streams=True, resources={"metadata": {"path": str(folder)}},
    )  # fmt: skip
    os.environ["BLASTERLAB_BENCH"] = ""  # from the demos, whatever the developer keeps on the bench
    client.execute()
    return clean(notebook)


def main(arguments: list[str]) -> None:
    dry = "--try" in arguments
    names = [argument for argument in arguments if argument != "--try"]
    paths = [FOLDER / f"{Path(name).stem}.ipynb" for name in names] or sorted(FOLDER.glob("*.ipynb"))
    for path in paths:
        start = time.monotonic()
        notebook = refresh(path)
        if not dry:
            nbformat.write(notebook, path)
        print(f"{path.name}: {len(notebook.cells)} cells, {time.monotonic() - start:.1f} s", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
