"""The translator of equations: what it refuses, with its place; it writes all it needs and nothing twice.

That the translated shot gives the same bits is tried in a browser.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from blasterlab.page.translate import HELPERS, TranslationError, javascript
from blasterlab.shot.integrate import integrate, shoot
from blasterlab.shot.parameters import Floats, Parameters

TABLE = np.array([0.1, math.nan, -math.inf])
OTHER = "a word"


def power(x: float) -> float:
    return x**3


def square_root_by_power(x: float) -> float:
    return x**0.5


def exponential(x: float) -> float:
    return math.exp(x)


def whole_division(x: int) -> int:
    return x // 2


def array_arithmetic(x: Floats) -> Floats:
    return 1.0 / x


def array_made_here(n: int) -> Floats:
    scale = np.empty(n)
    scale *= 2.0
    return scale


def array_of_a_call(n: int) -> Floats:
    return -array_made_here(n)


def array_part(x: Floats) -> None:
    x[:] = 0.0


def table_arithmetic(x: float) -> Any:
    return x * TABLE


def chain_of_calls(x: float) -> bool:
    return 0.0 < math.sqrt(x) < 1.0


def keyword(x: float) -> float:
    return max(x, 0.0, key=abs)  # type: ignore[call-overload,no-any-return]


def comprehension(x: float) -> float:
    return sum([x for _ in range(3)])


def words(x: float) -> str:
    return OTHER


def with_default(x: float = 1.0) -> float:
    return x


def step_of_two(x: float) -> float:
    for n in range(0, 10, 2):
        x += n
    return x


def test_refuses_what_it_does_not_know() -> None:
    unknown: list[Callable[..., Any]] = [
        power, square_root_by_power, exponential, whole_division, array_arithmetic, array_made_here,
        array_of_a_call, array_part, table_arithmetic, chain_of_calls, keyword, comprehension, words,
        with_default, step_of_two,
    ]  # fmt: skip
    for function in unknown:
        with pytest.raises(
            TranslationError, match=rf"test_translate\.{function.__name__}, line \d+: got .*must"
        ):
            javascript(function)


def test_the_exponential_function_only_where_it_is_asked_for() -> None:
    assert "return Math.exp(x);" in javascript(exponential, nearly=True)
    with pytest.raises(TranslationError):
        javascript(power, nearly=True)


def test_refuses_two_things_of_one_name() -> None:
    def shoot(x: float) -> float:
        return x

    with pytest.raises(TranslationError, match="shoot: got two"):
        javascript(shoot, globals()["shoot"])


def table_entry(n: int) -> float:
    return TABLE[n]


def test_tables_names_and_helpers() -> None:
    assert "const TABLE = [0.1, NaN, -Infinity];" in javascript(table_entry)
    script = javascript(shoot, integrate)
    assert script.startswith(HELPERS)
    for name in ("shoot", "integrate", "advance", "exchange_leaking", "watch_all", "_draw"):
        assert script.count(f"function {name}(") == 1, name
    assert len(script) < 60_000


def test_parameters_are_read_by_name() -> None:
    script = javascript(shoot)
    assert all(f"p.{name}" in script for name in Parameters._fields)
