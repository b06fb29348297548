"""The spring as a part: what is written in the build text, and what follows from it.

What it is for: rate, lengths, force, energy, stress and cutting of one compression spring.  What it leaves
out: whether the spring survives (``checks.spring_limits``) and what it drives (``shot``).  The formulas
themselves are in ``parts.coil``, the wire in ``parts.wire``.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from blasterlab import units
from blasterlab.parts import coil
from blasterlab.parts.coil import (
    bergstraesser,
    mass,
    rate,
    shear_stress,
    solid_length,
    total_coils,
    wahl,
)
from blasterlab.parts.wire import MATERIALS, Material, material

__all__ = [
    "GUIDES",
    "MATERIALS",
    "Material",
    "Spring",
    "SpringValues",
    "bergstraesser",
    "mass",
    "material",
    "rate",
    "shear_stress",
    "solid_length",
    "total_coils",
    "wahl",
]


class SpringValues(NamedTuple):
    """A spring as SI floats, for the compiled and vectorised code."""

    rate: float
    mass: float
    solid_length: float
    free_length: float
    preload: float
    gap: float


#: How a spring is kept from bowing out sideways.
GUIDES = ("not said", "free", "on a rod", "in a tube")
_LENGTHS = ("wire_diameter", "outer_diameter", "free_length", "preload", "gap", "guide_diameter")
_FIELDS = dict.fromkeys(_LENGTHS, "length") | {"measured_rate": "spring rate", "measured_mass": "mass"}
_OPTIONAL = ("measured_rate", "measured_mass", "guide_diameter")
_WRITTEN_AS = {"measured_rate": "rate", "measured_mass": "mass"}


@dataclass(frozen=True)
class Spring:
    """A compression spring of round wire.

    Parameters
    ----------
    wire_diameter, outer_diameter, free_length : Quantity or str [length]
        Wire d, outer diameter D_e and free length L0.
    active_coils : float [-]
        Coils n that deflect.
    ends : str [-]
        ``"open"``, ``"open and ground"``, ``"closed"``, ``"closed and ground"``, or two with a slash.
    material : str [-]
        A key of `MATERIALS`.
    preload : Quantity or str [length]
        Compression left when the plunger is at its front stop.
    measured_rate : Quantity or str or None [spring rate]
        Wins over the computed rate.
    measured_mass : Quantity or str or None [mass]
        Wins over the computed mass.
    gap : Quantity or str [length]
        Travel back from the front stop before this spring is touched.
    guide : str [-]
        One of `GUIDES`: what keeps the spring straight.
    guide_diameter : Quantity or str or None [length]
        Diameter of the rod, or bore of the tube, that guides it.
    name : str [-]
        The dotted name for messages, ``"spring"`` or ``"springs[1]"``.

    Raises
    ------
    UnitError
        Every field that cannot be taken and every reason why the spring cannot be built, one a line.

    Notes
    -----
    At a plunger travel s from the catch and a stroke S the compression is preload + S - s - gap, and never
    less than zero.

    Examples
    --------
    >>> spring = Spring("1.3 mm", "16 mm", "180 mm", 24, preload="30 mm")
    >>> round(spring.rate.m_as("N/m"), 2)
    381.66
    """

    wire_diameter: Any
    outer_diameter: Any
    free_length: Any
    active_coils: float
    ends: str = "closed"
    material: str = "EN 10270-1 SH"
    preload: Any = "0 mm"
    measured_rate: Any = None
    measured_mass: Any = None
    gap: Any = "0 mm"
    guide: str = "not said"
    guide_diameter: Any = None
    name: str = dataclasses.field(default="spring", compare=False, repr=False)

    def __post_init__(self) -> None:
        wrong: list[str] = []
        for field, kind in _FIELDS.items():
            value, dotted = getattr(self, field), f"{self.name}.{_WRITTEN_AS.get(field, field)}"
            if value is None and field in _OPTIONAL:
                continue
            try:
                object.__setattr__(self, field, units.parse(value, kind, dotted))
            except units.UnitError as error:
                wrong.append(str(error))
        try:
            coils = units.si(self.active_coils, "number", f"{self.name}.active_coils")
            object.__setattr__(self, "active_coils", coils)
        except units.UnitError as error:
            wrong.append(str(error))
        try:
            ends = self.ends if isinstance(self.ends, str) else units.shown(self.ends)
            object.__setattr__(self, "ends", coil.end_text(ends))
        except ValueError as error:
            wrong.append(f"{self.name}.ends: {error}")
        try:
            object.__setattr__(self, "material", material(self.material, f"{self.name}.material").name)
        except units.UnitError as error:
            wrong.append(str(error))
        guide = self.guide[:64] if isinstance(self.guide, str) else units.shown(self.guide)
        object.__setattr__(self, "guide", " ".join(guide.lower().split()))
        if self.guide not in GUIDES:
            wrong.append(f"{self.name}.guide: read {self.guide!r}; would do: {', '.join(GUIDES)}")
        if not wrong:
            wrong = self._impossible()
        if wrong:
            raise units.UnitError("\n".join(wrong))

    def _impossible(self) -> list[str]:
        """Every reason why such a spring cannot be built or fitted."""

        def say(field: str, why: str) -> str:
            value = getattr(self, field)
            kind = _FIELDS.get(field, "number")
            return f"{self.name}.{_WRITTEN_AS.get(field, field)}: read {units.show(value, kind)}; {why}"

        wrong = [
            say(field, "it must be more than zero")
            for field in ("wire_diameter", "outer_diameter", "free_length", *_OPTIONAL)
            if getattr(self, field) is not None and getattr(self, field).magnitude <= 0
        ]
        wrong += [
            say(field, "it must not be negative (a loose spring has a gap, not a negative preload)")
            for field in ("preload", "gap")
            if getattr(self, field).magnitude < 0
        ]
        if not 0.5 <= self.active_coils <= 1000:
            wrong.append(say("active_coils", "allowed is 0.5 to 1000 active coils"))
        if wrong:
            return wrong
        d, outer, free = (self._m(field) for field in ("wire_diameter", "outer_diameter", "free_length"))
        if outer <= 2 * d:
            why = f"two wires are {units.show(2 * d, 'length')}, so the coil has no hole (is it a radius?)"
            return [say("outer_diameter", why)]
        try:
            self.wire.shear_modulus(d)
        except units.UnitError as error:
            return [f"{self.name}.{error}"]
        solid = solid_length(d, total_coils(self.active_coils, self.ends), self.ends)
        if free <= solid * (1 + 1e-9):
            touch = f"coils touch at {units.show(solid, 'length')}, so it cannot be compressed"
            why = f"with {self.active_coils:g} active coils and {self.ends} ends the {touch}"
            return [say("free_length", why)]
        if self._m("preload") >= free - solid:
            return [
                say(
                    "preload",
                    f"the spring is solid after {units.show(free - solid, 'length')} of compression",
                )
            ]
        return []

    @cached_property
    def _floats(self) -> dict[str, float]:
        """The given fields in SI, read once."""
        given = ((field, getattr(self, field)) for field in _FIELDS)
        return {field: units.si(value, _FIELDS[field], field) for field, value in given if value is not None}

    def _m(self, field: str) -> float:
        return self._floats[field]

    @cached_property
    def _si(self) -> SpringValues:
        return SpringValues(
            self.computed_rate.magnitude if self.measured_rate is None else self._m("measured_rate"),
            self.computed_mass.magnitude if self.measured_mass is None else self._m("measured_mass"),
            solid_length(self.si_wire, self.total_coils, self.ends),
            self._m("free_length"),
            self._m("preload"),
            self._m("gap"),
        )

    def si_values(self) -> SpringValues:
        """The spring as SI floats, for code that runs without units.

        Returns
        -------
        SpringValues
            rate, mass, solid_length, free_length, preload, gap [N/m, kg, m, m, m, m].
        """
        return self._si

    @property
    def wire(self) -> Material:
        """The wire's moduli, density and strength data."""
        return material(self.material, f"{self.name}.material")

    @cached_property
    def si_wire(self) -> float:
        """Wire diameter as a float [m]."""
        return self._m("wire_diameter")

    @cached_property
    def si_mean_diameter(self) -> float:
        """Mean coil diameter as a float [m]."""
        return self._m("outer_diameter") - self._m("wire_diameter")

    @property
    def computed_rate(self) -> Any:
        """Rate from wire, coil and count, whatever was measured [N/m]."""
        d = self.si_wire
        value = rate(d, self.si_mean_diameter, self.active_coils, self.wire.shear_modulus(d))
        return units.quantity(value, "N/m")

    @property
    def computed_mass(self) -> Any:
        """Mass of the wire, whatever was measured [kg]."""
        value = mass(self.si_wire, self.si_mean_diameter, self.total_coils, self.wire.density)
        return units.quantity(value, "kg")

    @property
    def rate(self) -> Any:
        """Rate: measured when given, else G d^4/(8 D^3 n) [N/m]."""
        return units.quantity(self._si.rate, "N/m")

    @property
    def mass(self) -> Any:
        """Mass: measured when given, else that of the wire [kg]."""
        return units.quantity(self._si.mass, "kg")

    @property
    def solid_length(self) -> Any:
        """Length with all coils touching, by Shigley's Table 10-1 [m]."""
        return units.quantity(self._si.solid_length, "m")

    @property
    def mean_diameter(self) -> Any:
        """Mean coil diameter, outer diameter less one wire [m]."""
        return units.quantity(self.si_mean_diameter, "m")

    @property
    def index(self) -> float:
        """Mean diameter over wire diameter [-]."""
        return self.si_mean_diameter / self.si_wire

    @property
    def total_coils(self) -> float:
        """Active coils and the ends' dead coils [-]."""
        return total_coils(self.active_coils, self.ends)

    @property
    def pitch(self) -> Any:
        """Distance from coil to coil of the free spring [m]."""
        return units.quantity(
            coil.pitch(self._si.free_length, self.active_coils, self.si_wire, self.ends), "m"
        )

    @property
    def front_length(self) -> Any:
        """Length with the plunger at its front stop: free length less preload [m]."""
        return units.quantity(self._si.free_length - self._si.preload, "m")

    @property
    def natural_frequency(self) -> Any:
        """First surge frequency with both ends held, sqrt(k/m_active)/2 by the wire's formula [Hz]."""
        d, wire = self.si_wire, self.wire
        value = coil.natural_frequency(
            d, self.si_mean_diameter, self.active_coils, wire.shear_modulus(d), wire.density
        )
        return units.quantity(float(value), "Hz")

    def _compressions(self, length: Any, name: str) -> Any:
        """Compression at a length or an array of lengths, refused below solid [m]."""
        values = self._si
        if isinstance(length, units.Quantity) and np.ndim(length.magnitude):
            lengths = np.asarray(length.m_as("m"), dtype=float)
        else:
            lengths = np.asarray(units.si(length, "length", name))
        low = float(np.min(lengths)) if np.all(np.isfinite(lengths)) and lengths.size else float("nan")
        if not low >= values.solid_length * (1 - 1e-9):
            raise units.UnitError(
                f"{name}: read {units.show(low, 'length')}; {self.name} is solid at "
                f"{units.show(values.solid_length, 'length')} and cannot be shorter"
            )
        shorter = np.maximum(values.free_length - lengths, 0.0)
        return shorter if shorter.ndim else float(shorter)

    def force(self, length: Any) -> Any:
        """Force at a length: rate times compression, zero beyond the free length.

        Parameters
        ----------
        length : Quantity or str [length]
            One length, or a Quantity array of lengths.

        Returns
        -------
        Quantity
            Same shape [N].

        Raises
        ------
        UnitError
            A length below solid length.

        Examples
        --------
        >>> spring = Spring("1.3 mm", "16 mm", "180 mm", 24, measured_rate="400 N/m")
        >>> spring.force("80 mm").m_as("N")
        40.0
        """
        return units.quantity(self._si.rate * self._compressions(length, "length"), "N")

    def energy(self, from_length: Any, to_length: Any) -> Any:
        """Work put into the spring from one length to another; negative when it is given back.

        E = k (c_to^2 - c_from^2)/2 with the compressions c.

        Parameters
        ----------
        from_length, to_length : Quantity or str [length]
            One length each, or Quantity arrays that broadcast.

        Returns
        -------
        Quantity
            Energy stored on the way [J].

        Raises
        ------
        UnitError
            A length below solid length.

        Examples
        --------
        >>> spring = Spring("1.3 mm", "16 mm", "180 mm", 24, measured_rate="400 N/m")
        >>> round(spring.energy("180 mm", "80 mm").m_as("J"), 12)
        2.0
        """
        start, stop = (
            self._compressions(from_length, "from_length"),
            self._compressions(to_length, "to_length"),
        )
        return units.quantity(0.5 * self._si.rate * (stop**2 - start**2), "J")

    def shear_stress(self, length: Any, corrected: bool = True) -> Any:
        """Shear stress in the wire at a length, 8 D F/(pi d^3), with or without the curvature factor.

        Parameters
        ----------
        length : Quantity or str [length]
            One length, or a Quantity array of lengths.
        corrected : bool [-]
            With Bergstraesser's factor.

        Returns
        -------
        Quantity
            Same shape [Pa].

        Raises
        ------
        UnitError
            A length below solid length.

        References
        ----------
        EN 13906-1:2013; Budynas & Nisbett, *Shigley's Mechanical Engineering Design*, 9th ed., 2011,
        eqs 10-5 and 10-7.
        """
        force = self._si.rate * self._compressions(length, "length")
        factor = bergstraesser(self.index) if corrected else 1.0
        return units.quantity(factor * shear_stress(force, self.si_wire, self.si_mean_diameter), "Pa")

    def cut(self, to_length: Any = None, coils: float | None = None, end: str = "open") -> Spring:
        """The spring cut shorter, its seat kept: k' = k n/n' and less preload.

        Parameters
        ----------
        to_length : Quantity or str or None [length]
            The new free length, with the new end as it is left.
        coils : float or None [-]
            Or the coils cut off the end, its dead coil counted.
        end : str [-]
            How the cut end is left: ``"open"``, or bent to ``"closed"`` (that costs one more active coil).

        Returns
        -------
        Spring
            A new spring.  Where more length went than there was preload, the rest becomes `gap`.

        Raises
        ------
        UnitError
            Not exactly one of both given, a longer spring than before, or too little left.

        Notes
        -----
        The pitch stays; the length at the front stop stays, so preload shrinks by what the free length lost.
        A measured rate is scaled by n/n', a measured mass by the total coils.

        Examples
        --------
        >>> spring = Spring("1.3 mm", "16 mm", "180 mm", 24, preload="30 mm")
        >>> shorter = spring.cut(coils=3)
        >>> shorter.active_coils, shorter.ends
        (22.0, 'closed / open')
        """
        if (to_length is None) == (coils is None):
            raise units.UnitError("cut: give either to_length or coils, one of both")
        kept, lost = coil.end_pair(self.ends)
        try:
            ends = coil.end_text(f"{kept} / {end}")
        except ValueError as error:
            raise units.UnitError(f"cut.end: {error}") from None
        pitch, d = self.pitch.magnitude, self.si_wire
        if to_length is not None:
            free = units.si(to_length, "length", "cut.to_length")
            active = coil.active_from_pitch(free, pitch, d, ends)
        else:
            off = units.si_in(coils, "number", "cut.coils", 0.0, self.total_coils, "coils cut off the end")
            active = coil.active_coils(self.total_coils - off, ends)
            free = coil.free_length(pitch, active, d, ends)
        if free >= self._si.free_length or active <= 0 or active > self.active_coils * (1 + 1e-9):
            least = f"; a cut takes the {lost} end's own coil at least" if active > self.active_coils else ""
            raise units.UnitError(
                f"cut: {units.show(free, 'length')} free length with {active:.4g} active coils is no cut of "
                f"a spring of {units.show(self._si.free_length, 'length')} with {self.active_coils:.4g}"
                + least
            )
        left = self._si.preload - self._si.gap - (self._si.free_length - free)
        fresh: dict[str, Any] = {
            "free_length": units.quantity(free, "m"),
            "active_coils": active,
            "ends": ends,
            "preload": units.quantity(max(left, 0.0), "m"),
            "gap": units.quantity(max(-left, 0.0), "m"),
        }
        if self.measured_rate is not None:
            fresh["measured_rate"] = self.measured_rate * (self.active_coils / active)
        if self.measured_mass is not None:
            total = coil.total_coils(active, ends)
            fresh["measured_mass"] = self.measured_mass * (total / self.total_coils)
        return dataclasses.replace(self, **fresh)
