"""What a build's losses have been learned from: their uncertainty, how they hang together, the shots' spread.

What it is for: the part of a calibration that travels with a build, so that every later prediction can show
its interval.  The values themselves stand with the losses.  What it leaves out: how they were learned
(``bench.calibrate``) and the prediction (``bench.predict``).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import MISSING, dataclass
from typing import Any

import numpy as np

from blasterlab import units
from blasterlab.fields import refuse
from blasterlab.parts.losses import FIELDS
from blasterlab.units import Quantity

#: Stands in `LossUncertainty.names` for the chronograph's common error.
CHRONOGRAPH = "chronograph"
_RANGES = {
    "shot_spread": (0.0, 1.0),
    "setup": (0.0, 1.0),
    "reads": (0.5, 2.0),
    "spread_dof": (1, 10**6),
    "strings": (0, 10**4),
    "shots": (0, 10**6),
}


@dataclass(frozen=True)
class LossUncertainty:
    """Uncertainty of learned losses: standard uncertainties and correlation, and the spread of shots.

    Parameters
    ----------
    names : tuple of str [-]
        Losses, such as ``"seal_friction"``, and perhaps ``"chronograph"`` at the end.
    sd : tuple of Quantity, str or float [unit of each]
        Standard uncertainty of each; of the chronograph's reading factor as a number.
    correlation : tuple of tuple of float [-]
        Between them, symmetric with ones on the diagonal.
    shot_spread : float [-]
        SD of one shot over the mean.
    spread_dof : int [-]
        Degrees of freedom of that spread.
    setup : float [-]
        Relative SD from one assembly to the next.
    reads : float [-]
        What the chronograph reads over the true speed, as the calibration has it.
    strings, shots : int [-]
        What it was learned from.

    Raises
    ------
    UnitError
        Unknown names, sizes that do not fit, or a correlation that cannot be; all at once.
    """

    names: tuple[str, ...]
    sd: tuple[Quantity | float, ...]
    correlation: tuple[tuple[float, ...], ...]
    shot_spread: float
    spread_dof: int
    setup: float = 0.0
    reads: float = 1.0
    strings: int = 0
    shots: int = 0

    def __post_init__(self) -> None:
        refuse(list(self._faults()))
        found: dict[str, Any] = {key: float(getattr(self, key)) for key in ("shot_spread", "setup", "reads")}
        rows = tuple(tuple(float(v) for v in row) for row in self.correlation)
        found |= {"names": tuple(self.names), "sd": tuple(self._read_sd()), "correlation": rows}
        for name, value in found.items():
            object.__setattr__(self, name, value)

    @classmethod
    def from_table(cls, table: Mapping[str, object]) -> LossUncertainty:
        """Read what a build text's ``[calibration]`` table holds.

        Parameters
        ----------
        table : mapping of str [-]
            Keys as the fields here, lists for tuples.

        Returns
        -------
        LossUncertainty
            The same, checked [SI].

        Raises
        ------
        UnitError
            Unknown or missing keys, or values that cannot be; all at once.
        """
        fields = {field.name: field.default is MISSING for field in dataclasses.fields(cls)}
        wrong = [
            f"calibration.{key[:64]}: no such key; must be among {', '.join(fields)}"
            for key in table
            if key not in fields
        ]
        wrong += [
            f"calibration.{key}: missing" for key, needed in fields.items() if needed and key not in table
        ]
        refuse(wrong)
        return cls(**table)  # type: ignore[arg-type]

    def to_text(self) -> str:
        """The ``[calibration]`` table of a build text; reading it gives an equal object.

        Returns
        -------
        str
            TOML, with its heading [-].
        """
        lines = ["[calibration]", f"names = {_list(self.names)}"]
        words = [v if isinstance(v, float) else f"{float(v.m)!r} {units.unit_text(v.units)}" for v in self.sd]
        lines.append(f"sd = {_list(words)}")
        lines += ["correlation = [", *(f"  {_list(row)}," for row in self.correlation), "]"]
        for name in ("shot_spread", "spread_dof", "setup", "reads", "strings", "shots"):
            lines.append(f"{name} = {getattr(self, name)!r}")
        return "\n".join(lines) + "\n"

    def _faults(self) -> Iterator[str]:
        if not isinstance(self.names, list | tuple) or not all(isinstance(n, str) for n in self.names):
            yield "calibration.names: must be a list of losses"
            return
        count, known = len(self.names), all(n in FIELDS or n == CHRONOGRAPH for n in self.names)
        if not known or not count or len(set(self.names)) != count:
            among = ", ".join([*FIELDS, CHRONOGRAPH])
            yield f"calibration.names: got {units.shown(self.names)}; must be, each once, among {among}"
        for name, (low, high) in _RANGES.items():
            value = getattr(self, name)
            if not _number(value) or not low <= value <= high:
                yield f"calibration.{name}: got {units.shown(value)}; must be {low:g} to {high:g}"
        if not isinstance(self.sd, list | tuple) or len(self.sd) != count:
            yield f"calibration.sd: must be {count} values, one for each name"
        elif known:
            try:
                self._read_sd()
            except units.UnitError as error:
                yield str(error)
        rows = self.correlation
        whole = isinstance(rows, list | tuple) and len(rows) == count
        if not whole or not all(_numbers(row, count) for row in rows):
            yield f"calibration.correlation: must be {count} rows of {count} numbers"
        elif not _is_correlation(np.array(rows, float).reshape(count, count)):
            yield "calibration.correlation: is no correlation (symmetric, ones on the diagonal)"

    def _read_sd(self) -> list[Quantity | float]:
        read: list[Quantity | float] = []
        for name, value in zip(self.names, self.sd, strict=True):
            dotted, kind = f"calibration.sd of {name}", loss_kind(name)
            number = units.si_in(value, kind, dotted, 1e-15, FIELDS[name].high if name in FIELDS else 0.5)
            read.append(number if kind == "number" else units.parse(value, kind, dotted))
        return read

    @property
    def sd_si(self) -> np.ndarray:
        """Standard uncertainties as floats, shape (names,) [SI]."""
        pairs = zip(self.sd, self.names, strict=True)
        return np.array([units.si(value, loss_kind(name)) for value, name in pairs])

    def at(self, losses: Mapping[str, float]) -> np.ndarray:
        """The unknowns where a build stands, shape (names,), from its ``si`` values [SI]."""
        return np.array([losses.get(f"losses.{name}", self.reads) for name in self.names])

    @property
    def covariance(self) -> np.ndarray:
        """Covariance, shape (names, names) [SI]."""
        return np.array(self.correlation) * np.outer(self.sd_si, self.sd_si)


def loss_kind(name: str) -> str:
    """The kind of unit of a loss, a number for the chronograph's factor [-]."""
    return FIELDS[name].kind if name in FIELDS else "number"


def loss_value(name: str, value: float) -> Quantity | float:
    """A loss in its usual unit, short enough to stand in a build text; a float where it has no dimension.

    Parameters
    ----------
    name : str [-]
        A loss, or `CHRONOGRAPH`.
    value : float [SI]
        Its value, or its uncertainty.

    Returns
    -------
    Quantity or float
        To six digits [unit of the loss].
    """
    kind = units.KINDS[loss_kind(name)]
    if kind.name == "number":
        return float(f"{value:.6g}")
    shown = units.quantity(float(value), kind.si).to(kind.metric)
    return units.quantity(float(f"{shown.m:.6g}"), kind.metric)


def _is_correlation(table: np.ndarray) -> bool:
    fair = np.allclose(table, table.T, atol=1e-6) and np.allclose(np.diag(table), 1.0, atol=1e-6)
    return bool(fair and np.abs(table).max() <= 1.0 + 1e-6 and np.linalg.eigvalsh(table)[0] >= -1e-5)


def _list(values: Iterable[str | float]) -> str:
    """A TOML list of texts (none of ours needs escaping) and numbers."""
    return "[" + ", ".join(f'"{v}"' if isinstance(v, str) else repr(v) for v in values) + "]"


def _number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and -1e300 < value < 1e300


def _numbers(values: object, count: int) -> bool:
    return isinstance(values, list | tuple) and len(values) == count and all(_number(v) for v in values)
