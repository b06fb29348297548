"""The data of a chronograph string: the shots of one build and dart, and what is known about them.

What it is for: loading from a file, from text or from a list; muzzle velocities; exact export.  What it
leaves out: what the shots say beyond mean and spread, which are functions of a string in modules above.

References
----------
R. L. McCoy, *Modern Exterior Ballistics*, 2nd ed., 2012, section 5.3 (drag that grows with v², C_D constant).
"""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any, Self

import numpy as np

from blasterlab import units
from blasterlab.air import Air
from blasterlab.bench.cells import KEYS, MAX_SHOTS, SPEED_UNITS, StringError, UnreadLine, plain, si_factor
from blasterlab.bench.file_bytes import decode, read_file
from blasterlab.bench.reading import Reading, read_text
from blasterlab.bench.source import FASTEST, SLOWEST, choose_unit, csv_text, read_list
from blasterlab.bench.statistics import mean_sd
from blasterlab.build import Build
from blasterlab.files import write_whole
from blasterlab.flight.flat_fire import retardation
from blasterlab.parts.dart import Dart
from blasterlab.units import Quantity

_TEXTS = ("title", "note", "dart", "build", "date")
_QUANTITIES = {
    "temperature": ("temperature", 213.15, 333.15),
    "distance": ("distance", 0.0, 30.0),
    "dart_mass": ("mass", 1e-5, 0.1),
    "dart_diameter": ("length", 1e-3, 0.1),
    "air_density": ("density", 0.1, 3.0),
}
_FIELDS = {key.replace(" ", "_"): key for key in KEYS if key != "unit"}
_FILES = (".csv", ".txt", ".tsv", ".dat")


@dataclass(frozen=True)
class StringData:
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
        Of the dart, for its drag and for an energy cap.
    drag_coefficient : float or None [-]
        Of the dart.
    air_density : Quantity, str or None [kg/m^3]
        None takes it from the temperature.
    comments : tuple of str [-]
        Comment lines of the text.
    unread : tuple of UnreadLine [-]
        Lines that gave no shot, or not all of it, and why.
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
    """

    readings: tuple[float, ...]
    unit: str
    numbers: tuple[int, ...] = ()
    title: str = ""
    note: str = ""
    dart: str = ""
    build: str = ""
    date: str = ""
    temperature: Quantity | None = None
    distance: Quantity | None = None
    dart_mass: Quantity | None = None
    dart_diameter: Quantity | None = None
    drag_coefficient: float | None = None
    air_density: Quantity | None = None
    comments: tuple[str, ...] = ()
    unread: tuple[UnreadLine, ...] = field(default=(), compare=False)
    notes: tuple[str, ...] = field(default=(), compare=False)

    def __post_init__(self) -> None:
        taken: dict[str, object] = {name: plain(getattr(self, name), name) for name in _TEXTS}
        taken["comments"] = tuple(plain(text, "comment") for text in self.comments)
        for name, (kind, low, high) in _QUANTITIES.items():
            if (value := getattr(self, name)) is not None:
                units.si_in(value, kind, name, low, high)
                read = units.parse(value, kind, name)
                taken[name] = units.quantity(float(read.magnitude), units.unit_text(read.units))
        if (drag := self.drag_coefficient) is not None:
            taken["drag_coefficient"] = units.si_in(drag, "number", "drag_coefficient", 0.0, 5.0)
        taken["readings"] = tuple(float(value) for value in self.readings)
        taken["numbers"] = tuple(int(n) for n in self.numbers) or tuple(range(1, len(self.readings) + 1))
        for name, value in taken.items():
            object.__setattr__(self, name, value)
        _refuse_impossible(self)

    @classmethod
    def load(cls, path: str | os.PathLike[str], **how: Any) -> Self:
        """A string from a file.

        Parameters
        ----------
        path : str or path [-]
            A text file, such as a CSV export.
        **how : str or Quantity [-]
            Keywords of `from_text`.

        Returns
        -------
        ChronoString
            As `from_text` [m/s].

        Raises
        ------
        StringError
            No such file, no text, or as `from_text`.
        """
        return cls.from_text(read_file(Path(path)), **how)

    @classmethod
    def from_text(
        cls, text: str | bytes, *, decimal: str | None = None, column: str | int | None = None, **about: Any
    ) -> Self:
        """A string from pasted text, or from the bytes of a file.

        Parameters
        ----------
        text : str or bytes [-]
            Shots as a builder writes them; see `reading.read_text`.
        decimal : str or None [-]
            ``"."`` or ``","`` where the text leaves it open.
        column : str, int or None [-]
            The column of speeds by its header or counted from 1, where there are several.
        **about : str or Quantity [-]
            ``unit``, needed where the text does not say and both ft/s and m/s would be plausible; ``dart``,
            its name, or the part itself, from which mass, diameter and drag coefficient are taken; ``build``,
            its title, or the build itself, from which the dart and the air are taken too; ``air``, the day's,
            for drag; and any other field of a string, which wins over the text.

        Returns
        -------
        ChronoString
            With `unread` and `notes` telling what was left out or supposed [m/s].

        Raises
        ------
        StringError
            The text cannot be taken (see `reading`), its unit is not known, or a field of another name.
        UnitError
            A field without a unit, of the wrong kind or outside its range.

        Examples
        --------
        >>> from blasterlab import ChronoString
        >>> string = ChronoString.from_text("shot;speed [m/s]\\n1;40,2\\n2;39,8\\n3;missed\\n4;40,5")
        >>> string.numbers, [str(line) for line in string.unread]
        ((1, 2, 4), ["line 4: '3;missed': 'missed' is not a number"])
        """
        plain_text, noticed = decode(text) if isinstance(text, bytes) else (text, [])
        reading = read_text(plain_text, decimal, column)
        reading.notes[:0] = noticed
        return cls._of(reading, **about)

    @classmethod
    def from_readings(cls, readings: Sequence[Any] | np.ndarray | Quantity, **about: Any) -> Self:
        """A string from a list of readings.

        Parameters
        ----------
        readings : sequence of float, Quantity or str, or an array [m/s]
            Numbers (with ``unit``), Quantities or texts with units, in the order shot.
        **about : str or Quantity [-]
            Keywords of `from_text` without ``decimal`` and ``column``.

        Returns
        -------
        ChronoString
            As `from_text` [m/s].

        Raises
        ------
        StringError
            An item that is no number, mixed units, or as `from_text`.
        UnitError
            As `from_text`.
        """
        if isinstance(readings, list | tuple) and readings and all(isinstance(v, str) for v in readings):
            return cls.from_text("\n".join(readings), **about)
        return cls._of(read_list(readings), **about)

    @classmethod
    def read(cls, source: Any, **how: Any) -> Self:
        """A string from whatever the builder has: picks `load`, `from_text` or `from_readings`.

        Parameters
        ----------
        source : Path, str, bytes or sequence [m/s]
            A path, or one line of text that ends like a file's name (.csv, .txt, .tsv, .dat), is loaded;
            other text and bytes are read as text; anything else as a list of readings.
        **how : str or Quantity [-]
            Keywords of `from_text`.

        Returns
        -------
        ChronoString
            As `from_text` [m/s].

        Raises
        ------
        StringError
            As `load`, `from_text` or `from_readings`.
        UnitError
            As `from_text`.
        """
        named = isinstance(source, str) and "\n" not in source and source.lower().endswith(_FILES)
        if named or isinstance(source, os.PathLike):
            return cls.load(source, **how)
        return (cls.from_text if isinstance(source, str | bytes) else cls.from_readings)(source, **how)

    @classmethod
    def _of(
        cls,
        reading: Reading,
        unit: str | None = None,
        dart: str | Dart | None = None,
        build: str | Build | None = None,
        air: Air | None = None,
        **fields: Any,
    ) -> Self:
        """The string of a reading, with what was said beside it."""
        chosen = choose_unit(reading, unit)
        if unknown := set(fields) - set(_FIELDS):
            raise StringError(f"fields: {sorted(unknown)} are not known; must be among {', '.join(KEYS)}")
        found = {key.replace(" ", "_"): text for key, text in reading.fields.items() if key != "unit"}
        found |= {name: value for name, value in fields.items() if value is not None}
        for name, value in (("build", build), ("dart", dart)):
            if isinstance(value, str):
                found[name] = value
        string = cls(
            readings=tuple(reading.values),
            unit=chosen,
            numbers=tuple(reading.numbers),
            comments=tuple(reading.comments),
            unread=tuple(reading.unread),
            notes=tuple(reading.notes),
            **found,  # type: ignore[arg-type]
        )
        if build is not None and not isinstance(build, str):
            string = string.of_build(build, air)
        return string if dart is None or isinstance(dart, str) else string.of_dart(dart, air)

    def of_dart(self, dart: Dart, air: Air | None = None) -> Self:
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

    def of_build(self, build: Build, air: Air | None = None) -> Self:
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

    def without(self, *shots: int) -> Self:
        """A new string that leaves out some shots, and says so in its comments.

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
        mass, diameter = self.dart_mass.m_as("kg"), self.dart_diameter.m_as("m")
        return self.drag_coefficient * retardation(density.m_as("kg/m^3"), mass, diameter)

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
    def count(self) -> int:
        """Number of shots."""
        return len(self.readings)

    @property
    def mean(self) -> Quantity:
        """Mean muzzle velocity [m/s]."""
        return units.quantity(mean_sd(self.speeds_si)[0], "m/s")

    @property
    def sd(self) -> Quantity:
        """Sample standard deviation [m/s]."""
        return units.quantity(mean_sd(self.speeds_si)[1], "m/s")

    @property
    def extreme_spread(self) -> Quantity:
        """Fastest minus slowest [m/s]."""
        return units.quantity(max(self.speeds_si) - min(self.speeds_si), "m/s")

    def to_csv(self) -> str:
        """The string as CSV text that `from_text` takes back exactly.

        Returns
        -------
        str
            Comment lines with the fields, a header, one shot a line; no cell can act as a spreadsheet
            formula, since words stand only in quoted cells that begin with #.

        Notes
        -----
        Lines that were not read and notes on the reading are not carried.
        """
        fields = {key: getattr(self, name) for name, key in _FIELDS.items()}
        return csv_text(fields, self.comments, self.unit, zip(self.numbers, self.readings, strict=True))

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write `to_csv` to a file, all or nothing.

        Parameters
        ----------
        path : str or path [-]
            The file; an old one stays as it is when the disk is full.
        """
        write_whole(path, self.to_csv())


def _refuse_impossible(string: StringData) -> None:
    """StringError for a string that says nothing or cannot be speeds, whatever units."""
    count, readings, unit = len(string.readings), string.readings, string.unit
    more = "; not read: " + "; ".join(str(line) for line in string.unread[:5]) if string.unread else ""
    if unit not in SPEED_UNITS.values():
        raise StringError(f"unit: got {str(unit)[:40]!r}; must be m/s, ft/s, km/h or mph")
    if not 3 <= count <= MAX_SHOTS:
        raise StringError(f"shots: got {count}; a string has 3 to {MAX_SHOTS}{more}")
    if len(string.numbers) != count or len(set(string.numbers)) != count:
        raise StringError(f"numbers: {len(set(string.numbers))} different shot numbers for {count} shots")
    factor = si_factor(unit)
    pairs = zip(string.numbers, readings, strict=True)
    if wrong := [f"shot {n} {v:g}" for n, v in pairs if not SLOWEST <= v * factor <= FASTEST]:
        raise StringError(
            f"speeds: {', '.join(wrong[:5])}{' …' if len(wrong) > 5 else ''} {unit}; must be "
            f"{SLOWEST / factor:.3g} to {FASTEST / factor:.4g} {unit} "
            "(a missed shot or another unit? A # before a line leaves it out)"
        )
    if min(readings) == max(readings):
        raise StringError(
            f"shots: all {count} read {readings[0]:g} {unit}; a spread of zero says nothing "
            "(the chronograph repeats its last reading, or shows too few digits)"
        )
    if string.muzzle_factor > 3.0 and string.distance is not None:
        raise StringError(
            f"distance: over {units.show(string.distance, 'distance')} this dart loses "
            f"{100 * (1.0 - 1.0 / string.muzzle_factor):.0f} % of its speed; too much to carry back "
            "(mass in grams, diameter in millimetres?)"
        )
