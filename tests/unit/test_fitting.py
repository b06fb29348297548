"""The fitting routine: bounds, priors, and unknowns that the data cannot tell."""

from __future__ import annotations

import numpy as np
import pytest

from blasterlab.bench.fitting import difference_jacobian, fit

X = np.linspace(0.0, 3.0, 12)
Y = 1.0 + 2.0 * X + 0.1 * np.cos(7.0 * X)


def line(b: np.ndarray) -> np.ndarray:
    return b[0] + b[1] * X - Y


def test_a_straight_line_by_hand() -> None:
    result = fit(line, [0.0, 1.0])
    design = np.column_stack([np.ones_like(X), X])
    expected, rest, *_ = np.linalg.lstsq(design, Y, rcond=None)
    np.testing.assert_allclose(result.values, expected, rtol=1e-10)
    variance = rest[0] / (len(X) - 2)
    np.testing.assert_allclose(result.covariance, variance * np.linalg.inv(design.T @ design), rtol=1e-8)
    assert result.residual_sd == pytest.approx(np.sqrt(variance))


def test_what_is_known_beforehand_is_one_more_residual() -> None:
    mean, sd = np.array([1.5, 1.5]), np.array([0.2, 0.1])
    result = fit(lambda b: np.concatenate([line(b) / 0.3, (b - mean) / sd]), mean, known_sd=True)
    design = np.column_stack([np.ones_like(X), X]) / 0.3
    information = design.T @ design + np.diag(1 / sd**2)
    expected = np.linalg.solve(information, design.T @ Y / 0.3 + mean / sd**2)
    np.testing.assert_allclose(result.values, expected, rtol=1e-9)
    np.testing.assert_allclose(result.covariance, np.linalg.inv(information), rtol=1e-8)


def test_a_given_slope_is_used() -> None:
    design = np.column_stack([np.ones_like(X), X])
    result = fit(line, [0.0, 1.0], jacobian=lambda b: design)
    np.testing.assert_allclose(result.values, fit(line, [0.0, 1.0]).values, rtol=1e-10)


def test_differences_are_of_fourth_order() -> None:
    slope = difference_jacobian(lambda x: np.sin(3.0 * x), np.array([0.4]), np.ones(1))
    assert slope[0, 0] == pytest.approx(3.0 * np.cos(1.2), abs=1e-10)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: fit(line, [0.0, np.nan]), "start: got"),
        (lambda: fit(lambda b: np.array([b[0] - b[1]]), [0.0, 1.0]), "1 for 2 unknowns"),
        (lambda: fit(lambda b: np.full(3, np.nan), [0.0]), "start: got .*finite residuals"),
        (
            lambda: fit(lambda b: line(np.array([b[0], 2.0])), [0.0, 1.0]),
            r"unknowns \[1\]: the data do not depend",
        ),
        (
            lambda: fit(lambda b: line(np.array([b[0] + b[1], 2.0])), [0.5, 0.3]),
            "the same effect on the data",
        ),
    ],
)
def test_refusals(call: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()  # type: ignore[operator]
