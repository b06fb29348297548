"""The sampler: exact where a formula is, and not deceived by kinks, side valleys and two answers."""

from __future__ import annotations

import numpy as np
import pytest

from blasterlab.bench.posterior import sampled


def test_a_straight_model_gives_the_normal_law_of_the_textbook() -> None:
    design, told = np.array([[3.0, 1.0, 0.0], [0.0, 2.0, -1.0]]), np.array([1.0, -2.0])
    found = sampled(lambda z: z @ design.T - told, 3)
    covariance = np.linalg.inv(design.T @ design + np.eye(3))
    np.testing.assert_allclose(found.answers[0].scores, covariance @ design.T @ told, atol=1e-5)
    np.testing.assert_allclose(found.answers[0].covariance, covariance, rtol=1e-6, atol=1e-9)
    assert len(found.answers) == 1
    assert found.effective > 600.0
    assert found.weights.sum() == pytest.approx(1.0)
    mean = found.weights @ found.scores
    spread = np.cov(found.scores.T, aweights=found.weights)
    np.testing.assert_allclose(mean, covariance @ design.T @ told, atol=0.05)
    np.testing.assert_allclose(spread, covariance, atol=0.06)


def on_a_grid(cost: np.ndarray, at: np.ndarray) -> tuple[float, float]:
    """Mean and standard deviation of exp(−cost/2), summed up."""
    weight = np.exp(-0.5 * (cost - cost.min()))
    mean = np.sum(weight * at) / weight.sum()
    return float(mean), float(np.sqrt(np.sum(weight * (at - mean) ** 2) / weight.sum()))


@pytest.mark.parametrize(
    "residual",
    [
        lambda z: (np.abs(z - 0.4) - 0.1) / 0.2,  # a kink at the best answer
        lambda z: np.maximum(z + 0.5, 0.0) / 0.1,  # flat on one side
        lambda z: 4.0 * np.sin(4.0 * z) + 2.0 * z,  # a row of valleys
    ],
)
def test_a_kink_or_a_row_of_valleys_is_summed_up_as_on_a_fine_grid(residual: object) -> None:
    found = sampled(lambda z: residual(z), 1)  # type: ignore[operator]
    at = np.linspace(-6.0, 6.0, 200_001)
    cost = residual(at) ** 2 + at**2  # type: ignore[operator]
    mean, sd = on_a_grid(cost, at)
    assert found.answers[0].cost == pytest.approx(cost.min(), abs=1e-3)
    assert found.weights @ found.scores[:, 0] == pytest.approx(mean, abs=0.05 * sd)
    here = np.sqrt(found.weights @ (found.scores[:, 0] - mean) ** 2)
    assert here == pytest.approx(sd, rel=0.05)


def test_both_of_two_equal_answers_are_kept_with_their_weight() -> None:
    found = sampled(lambda z: np.column_stack([(z[:, 0] ** 2 - 1.5) / 0.1, z[:, 1] / 0.5]), 2)
    assert sorted(round(float(one.scores[0]), 2) for one in found.answers) == [-1.22, 1.22]
    right = found.weights[found.scores[:, 0] > 0.0].sum()
    assert right == pytest.approx(0.5, abs=0.05)


def test_the_same_measurements_give_the_same_sample() -> None:
    first, second = (sampled(lambda z: (z - 1.0) / 0.3, 2) for _ in range(2))
    np.testing.assert_array_equal(first.scores, second.scores)
    np.testing.assert_array_equal(first.weights, second.weights)
