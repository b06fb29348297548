"""The list of small faults fits the sources; `tests/bench/mutants.py` tries them, by hand."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

BENCH = Path(__file__).resolve().parents[1] / "bench" / "mutants.py"


@pytest.fixture(scope="module")
def mutants() -> ModuleType:
    spec = importlib.util.spec_from_file_location("mutants", BENCH)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_fault_of_the_list_can_be_put_in(mutants: ModuleType) -> None:
    assert len(mutants.MUTANTS) >= 80
    assert mutants.faults_of_the_list() == []
    rooms = {mutant.file.split("/")[0] for mutant in mutants.MUTANTS}
    assert rooms >= {"shot", "waves", "closed_forms", "flight", "bench", "checks", "parts", "report", "data"}
    assert {"air.py", "units.py", "values.py", "files.py"} <= rooms


def test_a_fault_that_no_longer_fits_is_told(mutants: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    first = mutants.MUTANTS[0]
    odd = (first._replace(text="no such text"), first._replace(text="\n"), first._replace(likely="test_none"),
           first._replace(file="none.py"))  # fmt: skip
    monkeypatch.setattr(mutants, "MUTANTS", odd)
    assert len(mutants.faults_of_the_list()) == len(odd)


def test_every_layer_is_known(mutants: ModuleType) -> None:
    assert mutants.layer_of("tests/unit/test_a.py::test_b") == "unit"
    assert mutants.layer_of("blasterlab/air.py::blasterlab.air") == "unit"
    assert mutants.layer_of("notebooks/10_barrel_length.ipynb::Cell 1") == "notebooks"
