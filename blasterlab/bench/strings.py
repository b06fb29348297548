"""A chronograph string: the shots of one build and dart, read from whatever the builder has.

What it is for: `ChronoString.read` for files, pasted text and lists; the numbers of a string; exact export.
What it leaves out: the parsing of text (`reading`), the statistics themselves (`statistics`,
`significance`), and losses (`calibrate`).

References
----------
R. L. McCoy, *Modern Exterior Ballistics*, 2nd ed., 2012, section 5.3 (drag that grows with v², C_D constant).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from blasterlab import units
from blasterlab.air import Air
from blasterlab.bench import cap_risk as _cap
from blasterlab.bench import summary as _summary
from blasterlab.bench.instrument import Chronograph
from blasterlab.bench.reading import KEYS, StringError, UnreadLine, plain
from blasterlab.bench.source import check, choose_unit, csv_text, read_source, si_factor
from blasterlab.bench.statistics import mean_sd
from blasterlab.files import write_whole

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["ChronoString", "Chronograph", "StringError", "UnreadLine"]

_TEXTS = ("title", "note", "dart", "build", "date")
_QUANTITIES = {
    "temperature": ("temperature", 213.15, 333.15),
    "distance": ("distance", 0.0, 30.0),
    "dart_mass": ("mass", 1e-5, 0.1),
    "dart_diameter": ("length", 1e-3, 0.1),
    "air_density": ("density", 0.1, 3.0),
}


@dataclass(frozen=True)
class ChronoString:
    """Shots over a chronograph, in the order they were shot.

    Parameters
    ----------
    readings : tuple of float [unit]
        What the chronograph showed; at least 3, not all equal.
    unit : str [-]
        ``"m/s"``, ``"ft/s"``, ``"km/h"`` or ``"mph"``.
    numbers : tuple of int [-]
        Shot numbers; empty counts from 1.
    title, note, dart, build, date : str [-]
        Words, one line each.
    temperature : Quantity, str or None [K]
        Of the air.
    distance : Quantity, str or None [m]
        From the muzzle to the middle of the screens.
    dart_mass, dart_diameter : Quantity, str or None [kg, m]
        Of the dart, for its drag.
    drag_coefficient : float or None [-]
        Of the dart.
    air_density : Quantity, str or None [kg/m^3]
        None takes it from the temperature.
    comments : tuple of str [-]
        Comment lines of the text.
    unread : tuple of UnreadLine [-]
        Lines that gave no shot, and why.
    notes : tuple of str [-]
        What was noticed or supposed while reading.

    Raises
    ------
    StringError
        Fewer than 3 shots, all equal, a speed outside 1 to 300 m/s, a shot number twice.
    UnitError
        A distance or the like without a unit, of the wrong kind or outside its range.

    Notes
    -----
    When distance, mass, diameter and drag coefficient are all known, every speed is carried back to the
    muzzle: v₀ = v exp(k x), k = ρ C_d A/(2 m).

    References
    ----------
    McCoy 2012, section 5.3.

    Examples
    --------
    >>> string = ChronoString.read("250, 252, 249, 251", unit="ft/s")
    >>> string.count, round(string.mean.m_as("ft/s"), 6)
    (4, 250.5)
    """

    readings: tuple[float, ...]
    unit: str
    numbers: tuple[int, ...] = ()
    title: str = ""
    note: str = ""
    dart: str = ""
    build: str = ""
    date: str = ""
    temperature: Any = None
    distance: Any = None
    dart_mass: Any = None
    dart_diameter: Any = None
    drag_coefficient: float | None = None
    air_density: Any = None
    comments: tuple[str, ...] = ()
    unread: tuple[UnreadLine, ...] = field(default=(), compare=False)
    notes: tuple[str, ...] = field(default=(), compare=False)

    def __post_init__(self) -> None:
        for name in _TEXTS:
            object.__setattr__(self, name, plain(getattr(self, name), name))
        object.__setattr__(self, "comments", tuple(plain(text, "comment") for text in self.comments))
        for name, (kind, low, high) in _QUANTITIES.items():
            if (value := getattr(self, name)) is not None:
                units.si_in(value, kind, name, low, high)
                taken = units.parse(value, kind, name)
                object.__setattr__(
                    self, name, units.quantity(float(taken.magnitude), units.unit_text(taken.units))
                )
        if self.drag_coefficient is not None:
            object.__setattr__(
                self,
                "drag_coefficient",
                units.si_in(self.drag_coefficient, "number", "drag_coefficient", 0.0, 5.0),
            )
        object.__setattr__(self, "readings", tuple(float(value) for value in self.readings))
        object.__setattr__(
            self, "numbers", tuple(int(n) for n in self.numbers) or tuple(range(1, len(self.readings) + 1))
        )
        check(self)

    @classmethod
    def read(
        cls,
        source: Any,
        *,
        unit: str | None = None,
        decimal: str | None = None,
        column: str | int | None = None,
        dart: Any = None,
        build: Any = None,
        air: Air | None = None,
        **fields: Any,
    ) -> ChronoString:
        """Read a string from a file, from pasted text or from a list.

        Parameters
        ----------
        source : Path, str, bytes or sequence [m/s]
            A path, a text, or numbers (with `unit`), Quantities or texts with units.
        unit : str or None [-]
            Needed where the source does not say and both ft/s and m/s would be plausible.
        decimal : str or None [-]
            ``"."`` or ``","`` where the text leaves it open.
        column : str, int or None [-]
            The column of speeds by its header or counted from 1, where there are several.
        dart : str, Dart or None [-]
            Its name, or the part itself, from which mass, diameter and drag coefficient are taken.
        build : str, Build or None [-]
            Its title, or the build itself, from which the dart and the air are taken too.
        air : Air or None [-]
            The day's air, for drag.
        **fields : str or Quantity [-]
            Any other field of `ChronoString`; it wins over the text.

        Returns
        -------
        ChronoString
            With `unread` and `notes` telling what was left out or supposed [m/s].

        Raises
        ------
        StringError
            The text cannot be taken (see `reading`), or its unit is not known.
        UnitError
            A field without a unit, of the wrong kind or outside its range.

        Examples
        --------
        >>> string = ChronoString.read("shot;speed [m/s]\\n1;40,2\\n2;39,8\\n3;missed\\n4;40,5")
        >>> string.numbers, [str(line) for line in string.unread]
        ((1, 2, 4), ["line 4: '3;missed': 'missed' is no number that is known here"])
        """
        reading = read_source(source, decimal, column)
        chosen = choose_unit(reading, unit)
        found = {key.replace(" ", "_"): text for key, text in reading.fields.items() if key != "unit"}
        given = {name: value for name, value in fields.items() if value is not None}
        if unknown := set(fields) - {key.replace(" ", "_") for key in KEYS}:
            raise StringError(f"fields: {sorted(unknown)} are not known; would do: {', '.join(KEYS)}")
        string = cls(
            readings=tuple(reading.values),
            unit=chosen,
            numbers=tuple(reading.numbers),
            comments=tuple(reading.comments),
            unread=tuple(reading.unread),
            notes=tuple(reading.notes),
            **{**found, **given},
        )
        if isinstance(build, str):
            string = replace(string, build=build)
        elif build is not None:
            string = string.of_build(build, air)
        if isinstance(dart, str):
            return replace(string, dart=dart)
        return string.of_dart(dart, air) if dart is not None else string

    def of_dart(self, dart: Any, air: Air | None = None) -> ChronoString:
        """The same string with a dart's mass, diameter and drag coefficient.

        Parameters
        ----------
        dart : Dart [-]
            The part.
        air : Air or None [-]
            None leaves the air as it is.

        Returns
        -------
        ChronoString
            A new string [m/s].
        """
        return replace(
            self,
            dart_mass=dart.mass,
            dart_diameter=dart.diameter,
            drag_coefficient=dart.drag_coefficient,
            air_density=air.density if air is not None else self.air_density,
        )

    def of_build(self, build: Any, air: Air | None = None) -> ChronoString:
        """The same string with a build's title, dart and air.

        Parameters
        ----------
        build : Build [-]
            The build that shot it.
        air : Air or None [-]
            None takes the build's.

        Returns
        -------
        ChronoString
            A new string [m/s].
        """
        named = replace(self, build=self.build or build.title)
        return named.of_dart(build.dart, air or (None if self.temperature is not None else build.air))

    def without(self, *shots: int) -> ChronoString:
        """A new string that leaves out some shots, and says so in its notes.

        Parameters
        ----------
        *shots : int [-]
            Shot numbers.

        Returns
        -------
        ChronoString
            A new string [m/s].

        Raises
        ------
        StringError
            A number that is not in the string, or fewer than 3 shots left.
        """
        if missing := set(shots) - set(self.numbers):
            raise StringError(f"shots: no number {sorted(missing)} among {list(self.numbers)[:20]}")
        kept = [(n, v) for n, v in zip(self.numbers, self.readings, strict=True) if n not in shots]
        words = "shots left out by hand: " + ", ".join(str(n) for n in sorted(shots))
        return replace(
            self,
            numbers=tuple(n for n, _ in kept),
            readings=tuple(v for _, v in kept),
            comments=(*self.comments, words),
        )

    @cached_property
    def drag_constant(self) -> float | None:
        """k = ρ C_d A/(2 m) [1/m]; None when the dart is not known well enough."""
        if self.dart_mass is None or self.dart_diameter is None or self.drag_coefficient is None:
            return None
        density = self.air_density
        if density is None:
            density = (Air() if self.temperature is None else Air(temperature=self.temperature)).density
        area = 0.25 * math.pi * self.dart_diameter.m_as("m") ** 2
        mass = self.dart_mass.m_as("kg")
        return float(density.m_as("kg/m^3") * self.drag_coefficient * area / (2.0 * mass))

    @cached_property
    def muzzle_factor(self) -> float:
        """exp(k x) that carries a reading back to the muzzle; 1 where that is not possible or needed [-]."""
        if self.distance is None or self.drag_constant is None:
            return 1.0
        return math.exp(min(self.drag_constant * self.distance.m_as("m"), 50.0))

    @property
    def at_muzzle(self) -> bool:
        """True unless a distance is given and the drag is not known."""
        return self.distance is None or self.distance.m == 0.0 or self.drag_constant is not None

    @cached_property
    def speeds_si(self) -> tuple[float, ...]:
        """Muzzle velocities as floats [m/s]."""
        factor = si_factor(self.unit) * self.muzzle_factor
        return tuple(value * factor for value in self.readings)

    @property
    def speeds(self) -> Any:
        """Muzzle velocities, shape (shots,) [m/s]."""
        return units.quantity(np.array(self.speeds_si), "m/s")

    @property
    def count(self) -> int:
        """Number of shots."""
        return len(self.readings)

    @property
    def mean(self) -> Any:
        """Mean muzzle velocity [m/s]."""
        return units.quantity(mean_sd(self.speeds_si)[0], "m/s")

    @property
    def sd(self) -> Any:
        """Sample standard deviation [m/s]."""
        return units.quantity(mean_sd(self.speeds_si)[1], "m/s")

    @property
    def extreme_spread(self) -> Any:
        """Fastest minus slowest [m/s]."""
        return units.quantity(max(self.speeds_si) - min(self.speeds_si), "m/s")

    @property
    def coefficient_of_variation(self) -> float:
        """SD over mean [-]."""
        mean, sd = mean_sd(self.speeds_si)
        return sd / mean

    @property
    def table(self) -> pd.DataFrame:
        """Shots in order: number, reading in its unit, muzzle velocity in m/s, odd or not."""
        import pandas as pd

        columns = {"shot": self.numbers, f"reading_{self.unit.replace('/', '_per_')}": self.readings}
        odd = self.odd_shots().flags
        return pd.DataFrame({**columns, "muzzle_velocity_m_per_s": self.speeds_si, "odd": odd})

    def odd_shots(self, level: float = 0.05, most: int = 1) -> _summary.OddShots:
        """Odd shots by Grubbs' test: flagged, with the numbers both ways, never dropped.

        Parameters
        ----------
        level : float [-]
            Chance of calling a shot odd when none is.
        most : int [-]
            The most odd shots looked for; two close together hide each other from 1.

        Returns
        -------
        OddShots
            Which, how odd, and mean and SD with and without [m/s].

        Raises
        ------
        ValueError
            A level or `most` outside its range.
        """
        return _summary.odd_shots(self, level, most)

    @property
    def trend(self) -> _summary.RunOrder:
        """Straight line through the shots in order, whatever their number [m/s a shot]."""
        return _summary.run_order(self)

    def summary(
        self, level: float = 0.95, next_shots: int = 10, chronograph: Chronograph | None = None
    ) -> _summary.Summary:
        """All that the string says, with intervals.

        Parameters
        ----------
        level : float [-]
            Confidence.
        next_shots : int [-]
            Shots to come, for the largest among them.
        chronograph : Chronograph or None [-]
            Its common error is added to the mean's uncertainty after averaging.

        Returns
        -------
        Summary
            Numbers, and the same in words [m/s].

        Raises
        ------
        ValueError
            A level or a number of shots outside its range.
        """
        return _summary.summarise(self, level, next_shots, chronograph)

    def cap_risk(self, cap: Any, shots: int = 1, **options: Any) -> _cap.CapRisk:
        """The chance that one shot, or any of several, breaks a velocity cap.

        Parameters
        ----------
        cap : Quantity or str [m/s]
            The cap.
        shots : int [-]
            Shots to come.
        **options : float or Chronograph [-]
            `level`, `confidence`, `chronograph` as in `cap_risk.cap_risk`.

        Returns
        -------
        CapRisk
            Chances, their limits and the mean to aim for [-], [m/s].

        Raises
        ------
        ValueError
            As `cap_risk.cap_risk`.
        """
        return _cap.cap_risk(self, cap, shots, **options)

    def compare(self, other: ChronoString, level: float = 0.95, show: float = 0.02) -> _summary.Comparison:
        """This string against another, by Welch's test.

        Parameters
        ----------
        other : ChronoString [m/s]
            The second string.
        level : float [-]
            Confidence.
        show : float [-]
            Relative difference for which the shots needed are given; 0.02 is 2 %.

        Returns
        -------
        Comparison
            Difference, interval, and how many shots would show one [m/s].

        Raises
        ------
        ValueError
            A level outside its range, or a difference too small to ever show.
        """
        return _summary.compare(self, other, level, show)

    def to_csv(self) -> str:
        """The string as CSV text that `read` takes back exactly.

        Returns
        -------
        str
            Comment lines with the fields, a header, one shot a line; no cell can act as a spreadsheet
            formula, since words stand only in quoted cells that begin with #.

        Notes
        -----
        Lines that were not read and notes on the reading are not carried.
        """
        return csv_text(self)

    def save(self, path: str | Path) -> None:
        """Write `to_csv` to a file, all or nothing.

        Parameters
        ----------
        path : str or Path [-]
            The file; an old one stays as it is when the disk is full.
        """
        write_whole(path, self.to_csv())

    def __str__(self) -> str:
        return str(self.summary())

    def _repr_html_(self) -> str:
        return self.summary()._repr_html_()
