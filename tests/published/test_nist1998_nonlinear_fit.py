"""The fitting routine against NIST's certified nonlinear regressions, from both of their starts."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from blasterlab import tables
from blasterlab.bench.fitting import fit

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
    with np.errstate(all="ignore"):
        result = fit(lambda b: MODELS[name](b, x) - y, certified[f"start_{start}"].to_numpy(float))
    np.testing.assert_allclose(result.values, certified["certified"].to_numpy(), rtol=1e-6)
    np.testing.assert_allclose(result.sd, certified["certified_sd"].to_numpy(), rtol=2e-5)
    first = certified.iloc[0]
    assert result.sum_of_squares == pytest.approx(first["residual_sum_of_squares"], rel=1e-9)
    assert result.residual_sd == pytest.approx(first["residual_sd"], rel=1e-9)
