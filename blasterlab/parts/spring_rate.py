"""A spring on the kitchen scale: rate and free length from readings.

What it is for: least squares with an interval on (length, force) readings.  What it leaves out: hysteresis,
the scale's own calibration, and springs whose rate changes on the way (look at the residuals).

The length is fitted to the force, not the other way round: a ruler is off by half a millimetre, which is a
fifth of a newton on a spring of 400 N/m, while the scale shows a hundredth.

References
----------
N. R. Draper, H. Smith, *Applied Regression Analysis*, 3rd ed., 1998, ch. 1 (straight line, t interval).
JCGM 100:2008, *Guide to the expression of uncertainty in measurement*, 4.3.7 (resolution).
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from blasterlab import units
from blasterlab.doors import Spoken
from blasterlab.tables import pd
from blasterlab.units import Quantity, QuantityLike

_G = 9.80665  # standard gravity, BIPM SI brochure, 2019: what a scale divides by
_MOST = 200


@dataclass(frozen=True)
class RateFit(Spoken):
    """A rate from readings.

    Attributes
    ----------
    rate, rate_low, rate_high : Quantity [N/m]
        Least squares and its interval; the ends are None when the readings give no interval.
    free_length, free_low, free_high : Quantity [m]
        The same for the free length; the ends are equal to it when it was given.
    spread : Quantity or None [m]
        Standard deviation of the length readings about the line.
    spare : int [-]
        Readings beyond the fitted numbers; 0 means that the line goes through all of them.
    level : float [-]
        Confidence level of the interval.
    interval_from : str [-]
        Where the interval comes from: "readings", the ruler's "resolution", or "" where there is none.
    lengths, forces : ndarray [m, N]
        The readings, in their order.
    """

    rate: Quantity
    rate_low: Quantity | None
    rate_high: Quantity | None
    free_length: Quantity
    free_low: Quantity | None
    free_high: Quantity | None
    spread: Quantity | None
    spare: int
    level: float
    interval_from: str
    lengths: np.ndarray = field(repr=False)
    forces: np.ndarray = field(repr=False)

    @cached_property
    def residuals(self) -> pd.DataFrame:
        """length_m, force_N, line_m, residual_m: one row a reading, by rising force."""
        table = pd.DataFrame({"length_m": self.lengths, "force_N": self.forces})
        table["line_m"] = self.free_length.m_as("m") - self.forces / self.rate.m_as("N/m")
        table["residual_m"] = table["length_m"] - table["line_m"]
        return table.sort_values("force_N", ignore_index=True)


def reading_force(value: QuantityLike, name: str = "force") -> float:
    """A scale's reading as a force: newtons as they are, grams times standard gravity.

    Parameters
    ----------
    value : Quantity or str [force or mass]
        Such as ``"4.1 N"``, ``"2 lbf"`` or ``"418 g"``.
    name : str [-]
        The field's name for the message.

    Returns
    -------
    float
        Force [N].

    Raises
    ------
    UnitError
        Neither a force nor a mass.

    Examples
    --------
    >>> reading_force("1 kg")
    9.80665
    """
    try:
        return units.si(value, "force", name)
    except units.UnitError as refused:
        try:
            return units.si(value, "mass", name) * _G
        except units.UnitError:
            raise refused from None


def read_readings(text: str) -> list[tuple[str, str]]:
    """Lines of length and force from pasted text.

    Parameters
    ----------
    text : str [-]
        A reading a line, as in ``120 mm, 418 g``; also with a semicolon, a tab or ``|`` between.  Empty
        lines and lines that begin with ``#`` are passed over.

    Returns
    -------
    list of tuple of str
        Length and force as written [-].

    Raises
    ------
    UnitError
        A line without two values, by its number, or more than 200 readings.

    Examples
    --------
    >>> read_readings("120 mm, 418 g")
    [('120 mm', '418 g')]
    """
    pairs = []
    for number, line in enumerate(text.splitlines(), start=1):
        stripped = line.strip()
        if not stripped or stripped.startswith("#"):
            continue
        parts = [part.strip() for part in re.split(r"[;\t|]|,(?!\d)", stripped) if part.strip()]
        if len(parts) != 2:
            raise units.UnitError(
                f"line {number}: got {stripped[:64]!r}; must be a length and a force, as in 120 mm, 418 g"
            )
        pairs.append((parts[0], parts[1]))
    if len(pairs) > _MOST:
        raise units.UnitError(f"readings: got {len(pairs)}; must be at most {_MOST}")
    return pairs


def rate_from_readings(
    readings: Sequence[tuple[QuantityLike, QuantityLike]],
    free_length: QuantityLike | None = None,
    length_resolution: QuantityLike | None = None,
    level: float = 0.95,
) -> RateFit:
    """Rate and free length of a spring from readings on a scale.

    L = L0 - F/k, least squares in the length L.

    Parameters
    ----------
    readings : sequence of (Quantity or str, Quantity or str) [length, force or mass]
        Length of the spring and what the scale shows; two or more, one when the free length is given.
    free_length : Quantity or str or None [length]
        When it was measured too; else it is fitted.
    length_resolution : Quantity or str or None [length]
        Half width of the ruler's reading: the spread is not taken smaller than this over the square root
        of 3, and an interval becomes possible without spare readings.
    level : float [-]
        Confidence level, 0.5 to 0.999.

    Returns
    -------
    RateFit
        Rate, free length, intervals and residuals.

    Raises
    ------
    UnitError
        Too few readings, readings that do not differ, a spring that pushes less when it is shorter, or
        scatter that leaves the rate open.

    Notes
    -----
    The interval is Student's t on the compliance 1/k and on the free length, so that of the rate is not
    symmetric.  Readings near solid bend the line: leave them out when the residuals say so.

    Examples
    --------
    >>> fit = rate_from_readings([("150 mm", "12 N"), ("120 mm", "24 N"), ("90 mm", "36 N")])
    >>> round(fit.rate.m_as("N/m"), 6), round(fit.free_length.m_as("mm"), 6)
    (400.0, 180.0)
    """
    wanted = units.si_in(level, "number", "level", 0.5, 0.999, "a confidence level")
    known = None if free_length is None else units.si(free_length, "length", "free_length")
    lengths, forces = _taken(readings, known)
    centre, top = (0.0, known) if known is not None else (float(forces.mean()), float(lengths.mean()))
    swing = float(np.sum((forces - centre) ** 2))
    if swing <= 1e-12 * max(1.0, float(np.max(forces)) ** 2):
        raise units.UnitError("readings: the forces do not differ; read the scale at two lengths at least")
    give = -float(np.sum((forces - centre) * (lengths - top))) / swing  # compliance, 1/k
    if give <= 0:
        raise units.UnitError(
            "readings: the spring pushes less when it is shorter; are lengths and forces swapped, or is the "
            "length that of the compression?"
        )
    free = top + give * centre
    spare = len(lengths) - (2 if known is None else 1)
    misses = lengths - (free - give * forces)
    spread = math.sqrt(float(np.sum(misses**2)) / spare) if spare else None
    spread, wide, source = _scatter(spread, spare, length_resolution, wanted)
    reach = wide * (spread or 0.0)
    half = reach / math.sqrt(swing)
    if half >= give:
        raise units.UnitError("readings: they scatter so much that the rate is open; use a longer travel")
    half_free = reach * math.sqrt(1 / len(lengths) + centre**2 / swing) if known is None else 0.0

    def of(value: float | None, unit: str) -> Any:
        return None if value is None else units.quantity(value, unit)

    ends = [1 / (give + half), 1 / (give - half), free - half_free, free + half_free]
    low, high, free_low, free_high = ends if source else [None] * 4
    return RateFit(
        of(1 / give, "N/m"), of(low, "N/m"), of(high, "N/m"), of(free, "m"), of(free_low, "m"),
        of(free_high, "m"), of(spread, "m"), spare, wanted, source, lengths, forces,
    )  # fmt: skip


def _taken(
    readings: Sequence[tuple[QuantityLike, QuantityLike]], known: float | None
) -> tuple[np.ndarray, np.ndarray]:
    """Lengths and forces of the readings, checked [m, N]; UnitError for too few, or for any below zero."""
    pairs = list(readings)
    fitted = 2 if known is None else 1
    if not fitted <= len(pairs) <= _MOST:
        hint = " (one is enough when the free length is given)" if known is None else ""
        raise units.UnitError(f"readings: got {len(pairs)}; must be {fitted} to {_MOST}{hint}")
    lengths = np.array([units.si(p[0], "length", f"readings[{i}].length") for i, p in enumerate(pairs)])
    forces = np.array([reading_force(p[1], f"readings[{i}].force") for i, p in enumerate(pairs)])
    if np.any(lengths <= 0) or np.any(forces < 0):
        raise units.UnitError("readings: lengths must be more than zero and forces not below zero")
    return lengths, forces


def _scatter(
    spread: float | None, spare: int, resolution: QuantityLike | None, level: float
) -> tuple[float | None, float, str]:
    """SD of one length [m], the factor on it at a confidence, and where they come from."""
    from scipy.stats import norm, t

    factor = float(t.ppf(0.5 + level / 2, spare)) if spare else 0.0
    if resolution is not None:
        floor = units.si_in(resolution, "length", "length_resolution", 0.0, 0.1, "ruler") / math.sqrt(3)
        ruler = float(norm.ppf(0.5 + level / 2))
        if spread is None or spread * factor < floor * ruler:
            return floor, ruler, "resolution"
    return spread, factor, "" if spread is None else "readings"
