"""What Python computes from a build's values, noted down as JavaScript while it computes.

What it is for: rules that are written for numbers and arrays alike, with dictionaries and loops around them
(`shot.from_build`, `assumed`): each value that the page will move goes in as a `Traced` one, all others as
numbers.  What it leaves out: a branch that a traced value decides, but for `np.where`; loops of compiled code
(``translate``).  Each operation stands as Python did it, so that its last digit is the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin

from blasterlab.page.translate import TranslationError, number

_SIGNS: dict[Any, str] = {
    np.add: "{} + {}", np.subtract: "{} - {}", np.multiply: "{} * {}", np.divide: "{} / {}",
    np.less: "{} < {}", np.greater: "{} > {}", np.bitwise_and: "{} && {}", np.invert: "!{}",
    np.maximum: "$max({}, {})", np.minimum: "$min({}, {})", np.power: "$square({})",
    np.where: "{} ? {} : {}",
}  # fmt: skip


class Traced(NDArrayOperatorsMixin):
    """A number to come, by its JavaScript: a name, or an operation on numbers and others like it."""

    def __init__(self, text: str, *given: Any) -> None:
        self.text, self.given = text, given

    def __bool__(self) -> bool:
        raise TranslationError(f"{self.text}: got a branch on a value to come; must be np.where")

    def __array_ufunc__(self, ufunc: Any, _: str, *given: Any) -> Traced:
        if ufunc not in _SIGNS or (ufunc is np.power and given[1] != 2):
            raise TranslationError(f"{ufunc}: must be among the operations that are known here")
        return Traced(_SIGNS[ufunc], *given)

    def __array_function__(self, function: Any, _: Any, given: Any, __: Any) -> Any:
        if function is np.where and not isinstance(given[0], Traced):
            return given[1] if given[0] else given[2]
        return self.__array_ufunc__(function, "", *given)


def noted(name: str, given: str, results: Mapping[str, Any]) -> str:
    """A function that gives results as they were traced.

    Parameters
    ----------
    name, given : str [-]
        Of the function, and of what it takes, as the texts of the traced values name it.
    results : mapping of str to Traced or float [-]
        What it gives, by name.

    Returns
    -------
    str
        JavaScript; only what the results rest on [-].
    """
    lines: list[str] = []
    known: dict[int, str] = {}

    def text(value: Any) -> str:
        if not isinstance(value, Traced):
            return number(float(value))
        if value.given and id(value) not in known:
            said = value.text.format(*map(text, value.given))
            known[id(value)] = f"t{len(known)}"
            lines.append(f"const {known[id(value)]} = {said};")
        return known.get(id(value), value.text)

    record = ", ".join(f'"{key}": {text(value)}' for key, value in results.items())
    return "\n".join([f"const {name} = ({given}) => {{", *lines, f"return {{{record}}};", "};", ""])
