"""The descent to a best answer against NIST's certified nonlinear regressions, from both of their starts."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from blasterlab import tables
from blasterlab.bench.posterior import descent

# NIST Statistical Reference Datasets, nonlinear regression, NIST/ITL 1998: models as printed in the files.
exp = np.exp
MODELS: dict[str, Callable] = {
    "Misra1a": lambda b, x: b[0] * (1 - exp(-b[1] * x)),
    "DanWood": lambda b, x: b[0] * x ** b[1],
    "Kirby2": lambda b, x: (b[0] + b[1] * x + b[2] * x**2) / (1 + b[3] * x + b[4] * x**2),
    "MGH17": lambda b, x: b[0] + b[1] * exp(-x * b[3]) + b[2] * exp(-x * b[4]),
    "Thurber": lambda b, x: (
        (b[0] + b[1] * x + b[2] * x**2 + b[3] * x**3) / (1 + b[4] * x + b[5] * x**2 + b[6] * x**3)
    ),
    "Rat43": lambda b, x: b[0] / (1 + exp(b[1] - b[2] * x)) ** (1 / b[3]),
    "MGH09": lambda b, x: b[0] * (x**2 + x * b[1]) / (x**2 + x * b[2] + b[3]),
    "MGH10": lambda b, x: b[0] * exp(b[1] / (x + b[2])),
    "Eckerle4": lambda b, x: b[0] / b[1] * exp(-0.5 * ((x - b[2]) / b[1]) ** 2),
    "BoxBOD": lambda b, x: b[0] * (1 - exp(-b[1] * x)),
}


def slope(off: Callable, b: np.ndarray) -> np.ndarray:
    """Differences of fourth order."""
    columns = []
    for step in 7e-4 * np.diag(np.abs(b)):
        near, far = (off(b + k * step) - off(b - k * step) for k in (1, 2))
        columns.append((8.0 * near - far) / (12.0 * step.sum()))
    return np.column_stack(columns)


def test_the_sets_are_there() -> None:
    certified = tables.read("reference/strd_nonlinear_certified")
    assert set(certified["set"]) == set(MODELS)
    assert (certified.drop_duplicates("set")["difficulty"] == "higher").sum() >= 2


@pytest.mark.parametrize("start", [1, 2])
@pytest.mark.parametrize("name", MODELS)
def test_strd_nonlinear(name: str, start: int) -> None:
    certified = tables.read("reference/strd_nonlinear_certified")
    certified = certified[certified["set"] == name]
    data = tables.read("reference/strd_nonlinear_data")
    data = data[data["set"] == name]
    x, y = data["x"].to_numpy(), data["y"].to_numpy()

    def off(b: np.ndarray) -> np.ndarray:
        r = MODELS[name](b, x) - y
        return np.where(np.isfinite(r), r, 1e100)

    found = certified[f"start_{start}"].to_numpy(float)
    with np.errstate(all="ignore"):
        for _ in range(6):  # a fresh start of the trust region finds the last digits
            result = descent(off, lambda b: slope(off, b), found, 1e-15)
            found = result.scores
    np.testing.assert_allclose(found, certified["certified"].to_numpy(), rtol=1e-6)
    first = certified.iloc[0]
    assert result.cost == pytest.approx(first["residual_sum_of_squares"], rel=1e-9)
    spread = np.sqrt(result.cost / (len(x) - len(found)))
    assert spread == pytest.approx(first["residual_sd"], rel=1e-9)
    sd = spread * np.sqrt(np.diag(result.covariance))
    np.testing.assert_allclose(sd, certified["certified_sd"].to_numpy(), rtol=2e-5)
