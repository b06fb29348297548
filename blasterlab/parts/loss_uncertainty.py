"""What a build's losses have been learned from: their uncertainty, how they hang together, the shots' spread.

What it is for: the part of a calibration that travels with a build, so that every later prediction can show
its interval.  The values themselves stand with the losses.  What it leaves out: how they were learned
(``bench.calibrate``) and the prediction (``bench.predict``).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import MISSING, dataclass
from typing import Any

import numpy as np

from blasterlab import units
from blasterlab.parts.losses import FIELDS

#: Stands in `LossUncertainty.names` for the chronograph's common error.
CHRONOGRAPH = "chronograph"


@dataclass(frozen=True)
class LossUncertainty:
    """Uncertainty of learned losses: standard uncertainties and correlation, and the spread of shots.

    Parameters
    ----------
    names : tuple of str [-]
        Losses, such as ``"dart_friction"``, and perhaps ``"chronograph"`` at the end.
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
    sd: tuple[Any, ...]
    correlation: tuple[tuple[float, ...], ...]
    shot_spread: float
    spread_dof: int
    setup: float = 0.0
    reads: float = 1.0
    strings: int = 0
    shots: int = 0

    def __post_init__(self) -> None:
        wrong = self._faults()
        if wrong:
            raise units.UnitError("\n".join(wrong))
        object.__setattr__(self, "names", tuple(self.names))
        object.__setattr__(self, "sd", tuple(self._read_sd()))
        rows = tuple(tuple(float(v) for v in row) for row in self.correlation)
        object.__setattr__(self, "correlation", rows)
        for name in ("shot_spread", "setup", "reads"):
            object.__setattr__(self, name, float(getattr(self, name)))

    @classmethod
    def from_table(cls, table: Mapping[str, Any]) -> LossUncertainty:
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
            f"calibration.{key[:64]}: no such key; would do: {', '.join(fields)}"
            for key in table
            if key not in fields
        ]
        wrong += [
            f"calibration.{key}: missing" for key, needed in fields.items() if needed and key not in table
        ]
        if wrong:
            raise units.UnitError("\n".join(wrong))
        return cls(**table)

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

    def _faults(self) -> list[str]:
        wrong = []
        if not isinstance(self.names, (list, tuple)) or not all(isinstance(n, str) for n in self.names):
            return ["calibration.names: a list of losses is wanted"]
        unknown = [n for n in self.names if n not in FIELDS and n != CHRONOGRAPH]
        count = len(self.names)
        if unknown or not count or len(set(self.names)) != count:
            would = ", ".join([*FIELDS, CHRONOGRAPH])
            wrong.append(f"calibration.names: read {units.shown(self.names)}; each once would do: {would}")
        for name, low, high in (
            ("shot_spread", 0.0, 1.0),
            ("setup", 0.0, 1.0),
            ("reads", 0.5, 2.0),
            ("spread_dof", 1, 10**6),
            ("strings", 0, 10**4),
            ("shots", 0, 10**6),
        ):
            value = getattr(self, name)
            if not _number(value) or not low <= value <= high:
                wrong.append(f"calibration.{name}: read {units.shown(value)}; allowed is {low:g} to {high:g}")
        if not isinstance(self.sd, (list, tuple)) or len(self.sd) != count:
            wrong.append(f"calibration.sd: {count} values are wanted, one for each name")
        elif not unknown:
            try:
                self._read_sd()
            except units.UnitError as error:
                wrong.append(str(error))
        rows = self.correlation
        if (
            not isinstance(rows, (list, tuple))
            or len(rows) != count
            or not all(_numbers(r, count) for r in rows)
        ):
            wrong.append(f"calibration.correlation: {count} rows of {count} numbers are wanted")
        else:
            table = np.array(rows, float).reshape(count, count)
            fair = np.allclose(table, table.T, atol=1e-6) and np.allclose(np.diag(table), 1.0, atol=1e-6)
            if not fair or np.abs(table).max() > 1.0 + 1e-6 or np.linalg.eigvalsh(table)[0] < -1e-5:
                wrong.append(
                    "calibration.correlation: it is no correlation (symmetric, ones on the diagonal)"
                )
        return wrong

    def _read_sd(self) -> list[Any]:
        read: list[Any] = []
        for name, value in zip(self.names, self.sd, strict=True):
            kind, high = (FIELDS[name].kind, FIELDS[name].high) if name in FIELDS else ("number", 0.5)
            dotted = f"calibration.sd of {name}"
            number = units.si_in(value, kind, dotted, 1e-15, high)
            read.append(number if kind == "number" else units.parse(value, kind, dotted))
        return read

    @property
    def sd_si(self) -> Any:
        """Standard uncertainties as floats, shape (names,) [SI]."""
        kinds = [FIELDS[name].kind if name in FIELDS else "number" for name in self.names]
        return np.array([units.si(value, kind) for value, kind in zip(self.sd, kinds, strict=True)])

    @property
    def covariance(self) -> Any:
        """Covariance, shape (names, names) [SI]."""
        return np.array(self.correlation) * np.outer(self.sd_si, self.sd_si)


def _list(values: Any) -> str:
    """A TOML list of texts (none of ours needs escaping) and numbers."""
    return "[" + ", ".join(f'"{v}"' if isinstance(v, str) else repr(v) for v in values) + "]"


def _number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and -1e300 < value < 1e300


def _numbers(values: Any, count: int) -> bool:
    return isinstance(values, (list, tuple)) and len(values) == count and all(_number(v) for v in values)
