"""Sobol' indices of a function whose indices are known in closed form.

T. Ishigami, T. Homma, *An importance quantification technique in uncertainty analysis for computer models*,
Proc. 1st Int. Symp. Uncertainty Modeling and Analysis, 1990: f = sin x1 + a sin² x2 + b x3⁴ sin x1, each x
uniform from -π to π.  With a = 7, b = 0.1 the variances follow by integration:
V1 = (1 + b π⁴/5)²/2, V2 = a²/8, V13 = b² π⁸ (1/18 - 1/50), all others 0.
"""

import math

import numpy as np
import pytest
from scipy.special import ndtr

from blasterlab.plan.sensitivity import sobol

A, B = 7.0, 0.1


def _ishigami(scores: np.ndarray) -> np.ndarray:
    x = math.pi * (2.0 * ndtr(scores) - 1.0)
    return np.sin(x[:, 0]) + A * np.sin(x[:, 1]) ** 2 + B * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_ishigami_indices() -> None:
    first_part, second = 0.5 * (1.0 + B * math.pi**4 / 5.0) ** 2, A**2 / 8.0
    both = B**2 * math.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
    whole = first_part + second + both
    first, total = sobol(_ishigami, 3, 4096)
    assert first == pytest.approx([first_part / whole, second / whole, 0.0], abs=0.01)
    assert total == pytest.approx([(first_part + both) / whole, second / whole, both / whole], abs=0.01)
