"""Drag: a projectile, drag coefficients as numbers or tables, and what is published for simple shapes.

What it is for: say what flies (`Projectile`) and how the air brakes it (`DragTable`, or a plain number).
What it leaves out: a drag coefficient for foam darts, since none is published: measure it, see
`blasterlab.flight.measured`.

References
----------
E. Matthews, *Aeronautical Engineer's Data Book*, 2002, fig. 5.13b (blunt cylinders end-on).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from blasterlab import tables, units

#: What is accepted: kg, m, and a drag coefficient on the frontal area (a tumbling dart stays below 5).
MASSES, DIAMETERS, COEFFICIENTS = (1e-6, 1.0), (5e-4, 0.3), (0.0, 10.0)
_MOST_ROWS, _MOST_TEXT = 1000, 100_000


@dataclass(frozen=True)
class DragTable:
    """Drag coefficient against Mach number, Reynolds number, or both; linear in Mach and in log Reynolds.

    Parameters
    ----------
    mach : sequence of float [-]
        Rising Mach numbers; one single value when the table does not depend on it.
    drag_coefficient : sequence of float, or of rows [-]
        One value a Mach number; with several Reynolds numbers one such row for each of them.
    reynolds : sequence of float [-]
        Rising Reynolds numbers on the diameter; one single value when the table does not depend on it.

    Raises
    ------
    UnitError
        Mach or Reynolds numbers that do not rise, a wrong count, a value that is not finite or is outside
        0 to 10 000 (a creeping sphere has hundreds).

    Notes
    -----
    Outside the table its end values are held; a flight that gets there is marked and warns.

    Examples
    --------
    >>> table = DragTable(mach=[0.0, 0.3, 0.6], drag_coefficient=[0.70, 0.72, 0.80])
    >>> round(table.value(0.15), 3)
    0.71
    """

    mach: tuple[float, ...]
    drag_coefficient: tuple[tuple[float, ...], ...]
    reynolds: tuple[float, ...] = (1e4,)

    def __init__(
        self, mach: Sequence[float], drag_coefficient: Sequence[Any], reynolds: Sequence[float] = (1e4,)
    ) -> None:
        rows = [drag_coefficient] if len(np.shape(drag_coefficient[:1])) == 1 else drag_coefficient
        if len(reynolds) > 1 and len(mach) == 1 and len(rows) == 1:
            rows = [[one] for one in rows[0]]
        object.__setattr__(self, "mach", _rising(mach, "drag.mach", 0.0, 5.0))
        object.__setattr__(self, "reynolds", _rising(reynolds, "drag.reynolds", 1e-6, 1e9))
        if len(rows) != len(self.reynolds) or any(len(row) != len(self.mach) for row in rows):
            raise units.UnitError(
                f"drag.drag_coefficient: read {[len(row) for row in rows]} values; wanted are "
                f"{len(self.reynolds)} row(s) of {len(self.mach)}, one a Mach number and Reynolds number"
            )
        values = tuple(tuple(_finite(one, "drag.drag_coefficient", 0.0, 1e4) for one in row) for row in rows)
        object.__setattr__(self, "drag_coefficient", values)

    @classmethod
    def read(cls, source: str | Path) -> DragTable:
        """A table from text or a file: a heading, then one line a point.

        Parameters
        ----------
        source : str or Path [-]
            Text with a heading of ``mach``, ``reynolds``, ``drag_coefficient`` in any order (the first or the
            second may be missing) and comma-separated numbers; or the path of such a file.  ``#`` starts a
            comment.

        Returns
        -------
        DragTable
            The table [-].

        Raises
        ------
        UnitError
            A heading, number or count that does not fit, with its line number.

        Examples
        --------
        >>> DragTable.read("mach, drag_coefficient\\n0.0, 0.70\\n0.5, 0.75").mach
        (0.0, 0.5)
        """
        text = source.read_text(encoding="utf-8") if isinstance(source, Path) else source
        if len(text) > _MOST_TEXT:
            raise units.UnitError(f"drag table: {len(text)} characters; allowed are {_MOST_TEXT}")
        lines = [(i, line.split("#")[0].strip()) for i, line in enumerate(text.splitlines(), 1)]
        lines = [(i, line) for i, line in lines if line]
        heading = [word.strip().lower() for word in lines[0][1].split(",")] if lines else []
        if "drag_coefficient" not in heading or not {"mach", "reynolds"} & set(heading):
            raise units.UnitError(
                f"drag table: read the heading {', '.join(heading)!r:.64}; would do: mach, drag_coefficient"
            )
        points: list[dict[str, float]] = []
        for i, line in lines[1:]:
            words = line.split(",")
            if len(words) != len(heading):
                raise units.UnitError(f"drag table, line {i}: {len(words)} numbers; wanted {len(heading)}")
            try:
                points.append(dict(zip(heading, map(float, words), strict=True)))
            except ValueError:
                raise units.UnitError(
                    f"drag table, line {i}: read {line!r:.64}; numbers are wanted"
                ) from None
        return cls._from_points(points)

    @classmethod
    def _from_points(cls, points: list[dict[str, float]]) -> DragTable:
        machs = list(dict.fromkeys(point.get("mach", 0.0) for point in points))
        numbers = list(dict.fromkeys(point.get("reynolds", 1e4) for point in points))
        grid = {(p.get("reynolds", 1e4), p.get("mach", 0.0)): p["drag_coefficient"] for p in points}
        if len(grid) != len(points) or len(grid) != len(machs) * len(numbers):
            raise units.UnitError(
                f"drag table: {len(points)} lines for {len(machs)} Mach and {len(numbers)} Reynolds numbers; "
                "every pair is wanted once"
            )
        return cls(machs, [[grid[r, m] for m in machs] for r in numbers], numbers)

    @classmethod
    def sphere(cls) -> DragTable:
        """A smooth sphere between Reynolds numbers of 0.1 and 2e5, from `sphere_drag`.

        Returns
        -------
        DragTable
            Against Reynolds number, 127 points [-].
        """
        numbers = np.geomspace(0.1, 2e5, 127)
        return cls([0.0], [sphere_drag(float(one)) for one in numbers], [float(one) for one in numbers])

    def value(self, mach: float, reynolds: float = 1e4) -> float:
        """The drag coefficient at a Mach and a Reynolds number.

        Parameters
        ----------
        mach : float [-]
            Zero or more.
        reynolds : float [-]
            On the diameter.

        Returns
        -------
        float
            Drag coefficient [-].
        """
        from blasterlab.flight import equations as kernel

        return float(kernel.table_value(mach, math.log(reynolds), *self.arrays))

    @property
    def arrays(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Mach numbers, logarithms of Reynolds numbers, coefficients, as the kernel takes them [-]."""
        return np.array(self.mach), np.log(np.array(self.reynolds)), np.array(self.drag_coefficient)


def _finite(value: Any, name: str, low: float, high: float) -> float:
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise units.UnitError(f"{name}: read {value!r:.64}; a number is wanted") from None
    if not low <= number <= high:  # also refuses nan
        raise units.UnitError(f"{name}: read {number:.6g}; allowed is {low:.6g} to {high:.6g}")
    return number


def _rising(values: Sequence[float], name: str, low: float, high: float) -> tuple[float, ...]:
    if not 1 <= len(values) <= _MOST_ROWS:
        raise units.UnitError(f"{name}: {len(values)} values; allowed are 1 to {_MOST_ROWS}")
    numbers = tuple(_finite(value, name, low, high) for value in values)
    for i in range(1, len(numbers)):
        if numbers[i] <= numbers[i - 1]:
            raise units.UnitError(
                f"{name}: value {i + 1} is {numbers[i]:.6g} after {numbers[i - 1]:.6g}; each must be larger "
                "than the one before (sort the rows, and keep one row for each)"
            )
    return numbers


@dataclass(frozen=True)
class Projectile:
    """What flies, when there is no dart of a build at hand.

    Parameters
    ----------
    mass : Quantity or str [kg]
        1 mg to 1 kg.
    diameter : Quantity or str [m]
        Of the frontal area, 0.5 mm to 30 cm.
    drag_coefficient : float, Quantity or DragTable [-]
        On the frontal area, 0 to 10.  For a foam dart nothing is published: measure it.
    length : Quantity, str or None [m]
        Only for pitch behaviour.

    Raises
    ------
    UnitError
        A value without unit, of the wrong kind, or outside its range.

    Examples
    --------
    >>> Projectile("1.0 g", "12.7 mm", 0.70).mass.m_as("g")
    1.0
    """

    mass: Any
    diameter: Any
    drag_coefficient: Any
    length: Any = None

    def __post_init__(self) -> None:
        mass_and_size(self)
        object.__setattr__(self, "mass", units.parse(self.mass, "mass", "dart.mass"))
        object.__setattr__(self, "diameter", units.parse(self.diameter, "length", "dart.diameter"))
        if self.length is not None:
            object.__setattr__(self, "length", units.parse(self.length, "length", "dart.length"))
        drag_table(self.drag_coefficient)

    def replace(self, **changes: Any) -> Projectile:
        """The same with some values changed, checked again.

        Parameters
        ----------
        **changes : Quantity, str, float or DragTable [unit of the field]
            By field name.

        Returns
        -------
        Projectile
            A new one [kg, m, -].
        """
        from dataclasses import replace

        return replace(self, **changes)


def mass_and_size(dart: Any) -> tuple[float, float]:
    """Mass and diameter of a dart, checked.

    Parameters
    ----------
    dart : object with ``mass`` and ``diameter`` [kg, m]
        Such as a build's dart or a `Projectile`.

    Returns
    -------
    tuple of float
        Mass [kg] and diameter [m].

    Raises
    ------
    UnitError
        Not a dart, or a value outside its range.
    """
    if not all(hasattr(dart, name) for name in ("mass", "diameter", "drag_coefficient")):
        raise units.UnitError(
            f"dart: read a {type(dart).__name__}; wanted is a build's dart or a Projectile with mass, "
            "diameter and drag_coefficient"
        )
    mass = units.si_in(dart.mass, "mass", "dart.mass", *MASSES)
    return mass, units.si_in(dart.diameter, "length", "dart.diameter", *DIAMETERS)


def drag_table(coefficient: Any) -> DragTable:
    """A drag coefficient as a table, whatever form it came in.

    Parameters
    ----------
    coefficient : float, Quantity, str or DragTable [-]
        0 to 10.

    Returns
    -------
    DragTable
        A table of one point for a number [-].

    Raises
    ------
    UnitError
        Not a number, or outside 0 to 10.
    """
    if isinstance(coefficient, DragTable):
        return coefficient
    return DragTable([0.0], [units.si_in(coefficient, "number", "dart.drag_coefficient", *COEFFICIENTS)])


def sphere_drag(reynolds: float) -> float:
    """Drag coefficient of a smooth sphere.

    C_d = 24/Re (1 + 0.152 Re^0.677) + 0.417/(1 + 5070 Re^-0.94)

    Parameters
    ----------
    reynolds : float [-]
        On the diameter, above 0 to 2e5 (below the drag crisis).

    Returns
    -------
    float
        Drag coefficient [-].

    Raises
    ------
    UnitError
        Outside the range.

    Notes
    -----
    Against standard drag curves the formula is good to a few percent.

    References
    ----------
    R. Clift, W. H. Gauvin, *The motion of particles in turbulent gas streams*, Proc. Chemeca, 14, 1970,
    with the constants of R. Barati et al., Powder Technology 257, 11, 2014, table 1.

    Examples
    --------
    >>> round(sphere_drag(200.0), 6)
    0.79054
    """
    if not 0.0 < reynolds <= 2e5:
        raise units.UnitError(f"reynolds: read {reynolds:.6g}; allowed is above 0 to 2e5 for a smooth sphere")
    return 24.0 / reynolds * (1.0 + 0.152 * reynolds**0.677) + 0.417 / (1.0 + 5070.0 * reynolds**-0.94)


def blunt_cylinder_drag(length_over_diameter: float) -> float:
    """Drag coefficient of a flat-faced cylinder end-on, on its frontal area: an upper bound for a dart.

    Parameters
    ----------
    length_over_diameter : float [-]
        1 to 7.

    Returns
    -------
    float
        Drag coefficient, linear between the published points [-].

    Raises
    ------
    UnitError
        Outside the published range.

    Notes
    -----
    A rounded nose is much lower: this is where a search for a dart's own value starts, not where it ends.

    References
    ----------
    E. Matthews, *Aeronautical Engineer's Data Book*, 2002, fig. 5.13b.

    Examples
    --------
    >>> blunt_cylinder_drag(2.0)
    0.85
    """
    table = tables.read("reference/drag_cylinder_axial")
    ratio, value = table.l_over_d.to_numpy(float), table.c_d.to_numpy(float)
    if not ratio[0] <= length_over_diameter <= ratio[-1]:
        raise units.UnitError(
            f"length_over_diameter: read {length_over_diameter:.6g}; allowed is {ratio[0]:.6g} to "
            f"{ratio[-1]:.6g}, where the published points lie"
        )
    return float(np.interp(length_over_diameter, ratio, value))


def drag_constant(dart: Any, air: Any = None) -> Any:
    """The retardation constant k = ρ C_d A/(2 m): speed falls as exp(−k x) in flat fire.

    Parameters
    ----------
    dart : object with ``mass``, ``diameter``, ``drag_coefficient`` [kg, m, -]
        A table is read at Mach 0.
    air : Air or None [-]
        Common laboratory air when None.

    Returns
    -------
    Quantity
        Constant [1/m].

    Raises
    ------
    UnitError
        As `mass_and_size` and `drag_table`.

    References
    ----------
    R. L. McCoy, *Modern Exterior Ballistics*, 1999, ch. 5.

    Examples
    --------
    >>> round(drag_constant(Projectile("1 g", "12.7 mm", 0.7)).m_as("1/m"), 5)
    0.05317
    """
    from blasterlab.air import Air

    mass, diameter = mass_and_size(dart)
    rho = (air or Air()).density.m_as("kg/m^3")
    coefficient = drag_table(dart.drag_coefficient).value(0.0)
    return units.quantity(rho * coefficient * math.pi * diameter**2 / 8.0 / mass, "1/m")
