"""What is traced: the same operations in the same order, and a refusal of what would not be the same."""

from __future__ import annotations

import numpy as np
import pytest

import blasterlab as bl
from blasterlab.page.traced import Traced, noted
from blasterlab.page.translate import TranslationError
from blasterlab.shot.from_build import columns
from blasterlab.values import derive


def test_a_rule_is_noted_as_python_computed_it() -> None:
    a, b = Traced("v.a"), Traced("v.b")
    root = np.where(a < b, np.maximum(a, 2.0) ** 2, 3 / b)
    assert noted("f", "v", {"x": root, "y": 0.1 + 0.2, "z": a}) == "\n".join(
        [
            "const f = (v) => {",
            "const t0 = v.a < v.b;",
            "const t1 = $max(v.a, 2.0);",
            "const t2 = $square(t1);",
            "const t3 = 3.0 / v.b;",
            "const t4 = t0 ? t2 : t3;",
            'return {"x": t4, "y": 0.30000000000000004, "z": v.a};',
            "};",
            "",
        ]
    )


def test_what_nothing_rests_on_is_left_out() -> None:
    a = Traced("a")
    _ = a * 5.0
    assert "5.0" not in noted("f", "a", {"x": a + 1.0})


def test_a_condition_that_is_known_is_decided() -> None:
    a = Traced("a")
    assert np.where(True, a, 1.0) is a
    assert np.where(np.bool_(False), a, 1.0) == 1.0


@pytest.mark.parametrize(
    ("rule", "why"),
    [
        (lambda a: 1.0 if a > 2.0 else 3.0, "branch"),
        (lambda a: max(a, 2.0), "branch"),
        (lambda a: a**1.5, "power"),
        (lambda a: np.exp(a), "exp"),
        (lambda a: np.clip(a, 0.0, 1.0), "clip"),
    ],
)
def test_what_would_not_be_the_same_is_refused(rule: object, why: str) -> None:
    with pytest.raises(TranslationError, match=why):
        rule(Traced("a"))  # type: ignore[operator]


def test_a_power_in_the_shots_rules_is_noticed() -> None:
    """The air's viscosity has a power of the temperature, which no slider moves."""
    traced = {key: Traced(f'v["{key}"]') for key in bl.demo_build("workhorse").si}
    with pytest.raises(TranslationError, match="power"):
        columns(derive(traced))
