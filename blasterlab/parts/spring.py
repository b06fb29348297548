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
from blasterlab.faults import fault
from blasterlab.fields import Field, choice_faults, floats, read_fields, refuse
from blasterlab.parts import coil
from blasterlab.parts.wire import Material, material
from blasterlab.units import Quantity, QuantityLike


class SpringValues(NamedTuple):
    """A spring as SI floats, for the compiled and vectorised code."""

    rate: float
    mass: float
    active_mass: float  # of it in the coils that deflect
    solid_length: float
    free_length: float
    preload: float
    gap: float


#: How a spring is kept from bowing out sideways.
GUIDES = ("not said", "free", "on a rod", "in a tube")
_LOOSE = "a loose spring has a gap, not a negative preload"
#: What is accepted: choices of the kit, wide enough for any blaster and far from where arithmetic fails.
FIELDS = {
    "wire_diameter": Field("length", 0.05e-3, 0.02, "the rate goes with its fourth power"),
    "outer_diameter": Field("length", 0.2e-3, 0.5, "over the coils"),
    "free_length": Field("length", 1e-3, 5.0, "unloaded"),
    "active_coils": Field("number", 0.5, 1000.0, "coils that deflect"),
    "preload": Field("length", 0.0, 5.0, _LOOSE),
    "gap": Field("length", 0.0, 5.0, _LOOSE),
    "measured_rate": Field("spring rate", 1.0, 1e5, "from a kitchen scale", "rate", optional=True),
    "measured_mass": Field("mass", 1e-6, 10.0, "of the whole spring", "mass", optional=True),
    "guide_diameter": Field("length", 0.1e-3, 0.5, "rod, or bore of the tube", optional=True),
}


def seated(room: float) -> dict[str, Quantity]:
    """The preload of a spring that is longer than its seat by so much, or the gap of a shorter one [m]."""
    return {
        name: units.quantity(max(round(1e3 * length, 9), 0.0), "mm")
        for name, length in (("preload", room), ("gap", -room))
    }


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

    wire_diameter: Quantity
    outer_diameter: Quantity
    free_length: Quantity
    active_coils: float
    ends: str = "closed"
    material: str = "EN 10270-1 SH"
    preload: Quantity = units.quantity(0.0, "mm")
    measured_rate: Quantity | None = None
    measured_mass: Quantity | None = None
    gap: Quantity = units.quantity(0.0, "mm")
    guide: str = "not said"
    guide_diameter: Quantity | None = None
    name: str = dataclasses.field(default="spring", compare=False, repr=False)

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        """Taken once: hashing quantities is slow, and panels ask with every move of another part."""
        fields = (field.name for field in dataclasses.fields(self) if field.compare)
        return hash(tuple(getattr(self, name) for name in fields))

    def __post_init__(self) -> None:
        wrong: list[str] = []
        one_spelling = (
            ("ends", coil.end_text),
            ("material", lambda name: material(name).name),
            ("guide", lambda word: " ".join(word[:64].lower().split()) if isinstance(word, str) else word),
        )
        for field, spelled in one_spelling:
            try:
                object.__setattr__(self, field, spelled(getattr(self, field)))
            except ValueError as error:
                wrong.append(f"{self.name}.{error}")
        wrong += choice_faults(self.guide, f"{self.name}.guide", GUIDES)
        read_fields(self, self.name, FIELDS, wrong)
        refuse(self._impossible())

    def _impossible(self) -> list[str]:
        """The reason why such a spring cannot be built or fitted, if there is one."""
        si = floats(self)
        d, outer, free = si["wire_diameter"], si["outer_diameter"], si["free_length"]

        def say(field: str, must: str, cause: str) -> list[str]:
            return [fault(f"{self.name}.{field}", units.show(si[field], "length"), must, cause)]

        if outer <= 2 * d:
            hole = f"more than two wire diameters, {units.show(2 * d, 'length')}"
            return say("outer_diameter", hole, "is it a radius?")
        try:
            self.wire.shear_modulus(d)
        except units.UnitError as error:
            return [f"{self.name}.{error}"]
        solid = coil.solid_length(d, self.total_coils, self.ends)
        if free <= solid * (1 + 1e-9):
            coils = f"{self.active_coils:g} active coils and {self.ends} ends"
            touch = f"more than {units.show(solid, 'length')}"
            return say("free_length", touch, f"there the coils touch, with {coils}")
        if si["preload"] >= free - solid:
            return say("preload", f"less than {units.show(free - solid, 'length')}", "there the coils touch")
        return []

    @cached_property
    def _values(self) -> SpringValues:
        si = floats(self)
        whole = si["measured_mass"] if self.measured_mass is not None else self.computed_mass.magnitude
        return SpringValues(
            si["measured_rate"] if self.measured_rate is not None else self.computed_rate.magnitude,
            whole,
            whole * self.active_coils / self.total_coils,
            coil.solid_length(self.si_wire, self.total_coils, self.ends),
            si["free_length"],
            si["preload"],
            si["gap"],
        )

    def si_values(self) -> SpringValues:
        """The spring as SI floats, for code that runs without units.

        Returns
        -------
        SpringValues
            rate, mass, active_mass, solid_length, free_length, preload, gap [N/m, kg, kg, m, m, m, m].
        """
        return self._values

    @property
    def wire(self) -> Material:
        """The wire's moduli, density and strength data."""
        return material(self.material)

    @cached_property
    def si_wire(self) -> float:
        """Wire diameter as a float [m]."""
        return floats(self)["wire_diameter"]

    @cached_property
    def si_mean_diameter(self) -> float:
        """Mean coil diameter as a float [m]."""
        return floats(self)["outer_diameter"] - floats(self)["wire_diameter"]

    @property
    def computed_rate(self) -> Quantity:
        """Rate from wire, coil and count, whatever was measured [N/m]."""
        d = self.si_wire
        value = coil.rate(d, self.si_mean_diameter, self.active_coils, self.wire.shear_modulus(d))
        return units.quantity(value, "N/m")

    @property
    def computed_mass(self) -> Quantity:
        """Mass of the wire, whatever was measured [kg]."""
        value = coil.mass(self.si_wire, self.si_mean_diameter, self.total_coils, self.wire.density)
        return units.quantity(value, "kg")

    @property
    def rate(self) -> Quantity:
        """Rate: measured when given, else G d^4/(8 D^3 n) [N/m]."""
        return units.quantity(self._values.rate, "N/m")

    @property
    def mass(self) -> Quantity:
        """Mass: measured when given, else that of the wire [kg]."""
        return units.quantity(self._values.mass, "kg")

    @property
    def solid_length(self) -> Quantity:
        """Length with all coils touching, by Shigley's Table 10-1 [m]."""
        return units.quantity(self._values.solid_length, "m")

    @property
    def mean_diameter(self) -> Quantity:
        """Mean coil diameter, outer diameter less one wire [m]."""
        return units.quantity(self.si_mean_diameter, "m")

    @property
    def inside_diameter(self) -> Quantity:
        """Clear width inside the coils, outer diameter less two wires [m]."""
        return units.quantity(self.si_mean_diameter - self.si_wire, "m")

    @property
    def index(self) -> float:
        """Mean diameter over wire diameter [-]."""
        return self.si_mean_diameter / self.si_wire

    @property
    def total_coils(self) -> float:
        """Active coils and the ends' dead coils [-]."""
        return coil.total_coils(self.active_coils, self.ends)

    @property
    def pitch(self) -> Quantity:
        """Distance from coil to coil of the free spring [m]."""
        free = self._values.free_length
        return units.quantity(coil.pitch(free, self.active_coils, self.si_wire, self.ends), "m")

    @property
    def grown_diameter(self) -> Quantity:
        """Outer diameter with all coils touching, the ends not turning [m]."""
        grown = coil.grown_diameter(self.si_wire, self.si_mean_diameter, self.pitch.m_as("m"))
        return units.quantity(float(grown), "m")

    @property
    def front_length(self) -> Quantity:
        """Length with the plunger at its front stop: free length less preload [m]."""
        return units.quantity(self._values.free_length - self._values.preload, "m")

    @property
    def natural_frequency(self) -> Quantity:
        """First surge frequency with both ends held, sqrt(k/m_active)/2 by the wire's formula [Hz]."""
        d, mean, shear = self.si_wire, self.si_mean_diameter, self.wire.shear_modulus(self.si_wire)
        value = coil.natural_frequency(d, mean, self.active_coils, shear, self.wire.density)
        return units.quantity(float(value), "Hz")

    def _compressions(self, length: QuantityLike, name: str) -> Any:
        """Compression at a length or an array of lengths, refused below solid [m]."""
        values = self._values
        if isinstance(length, units.Quantity) and np.ndim(length.magnitude):
            lengths = np.asarray(length.m_as("m"), dtype=float)
        else:
            lengths = np.asarray(units.si(length, "length", name))
        low = float(np.min(lengths)) if np.all(np.isfinite(lengths)) and lengths.size else float("nan")
        if not low >= values.solid_length * (1 - 1e-9):
            solid = f"at least {units.show(values.solid_length, 'length')}"
            raise units.UnitError(
                fault(name, units.show(low, "length"), solid, f"there {self.name} is solid")
            )
        shorter = np.maximum(values.free_length - lengths, 0.0)
        return shorter if shorter.ndim else float(shorter)

    def force(self, length: QuantityLike) -> Quantity:
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
        return units.quantity(self._values.rate * self._compressions(length, "length"), "N")

    def energy(self, from_length: QuantityLike, to_length: QuantityLike) -> Quantity:
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
        start = self._compressions(from_length, "from_length")
        stop = self._compressions(to_length, "to_length")
        return units.quantity(0.5 * self._values.rate * (stop**2 - start**2), "J")

    def shear_stress(self, length: QuantityLike, corrected: bool = True) -> Quantity:
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
        force = self._values.rate * self._compressions(length, "length")
        factor = coil.bergstraesser(self.index) if corrected else 1.0
        return units.quantity(factor * coil.shear_stress(force, self.si_wire, self.si_mean_diameter), "Pa")

    def cut(
        self, to_length: QuantityLike | None = None, coils: float | None = None, end: str = "open"
    ) -> Spring:
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
            raise units.UnitError("cut: must have either to_length or coils")
        refuse(choice_faults(end, "cut.end", coil.END_KINDS))
        kept, lost = coil.end_pair(self.ends)
        ends = coil.end_text(f"{kept} / {end}")
        pitch, d = self.pitch.magnitude, self.si_wire
        if coils is None:
            free = units.si(to_length, "length", "cut.to_length")  # type: ignore[arg-type]
            active = coil.active_from_pitch(free, pitch, d, ends)
        else:
            off = units.si_in(coils, "number", "cut.coils", 0.0, self.total_coils, "coils cut off the end")
            active = coil.active_coils(self.total_coils - off, ends)
            free = coil.free_length(pitch, active, d, ends)
        if free >= self._values.free_length or active <= 0 or active > self.active_coils * (1 + 1e-9):
            first = f"the {lost} end's own coil comes off first" if active > self.active_coils else ""
            uncut = units.show(self._values.free_length, "length")
            whole = f"{uncut} with {self.active_coils:.4g} active coils"
            got = f"{units.show(free, 'length')} free length with {active:.4g} active coils"
            raise units.UnitError(fault("cut", got, f"a part of the spring of {whole}", first))
        left = self._values.preload - self._values.gap - (self._values.free_length - free)
        fresh: dict[str, Any] = {
            "free_length": units.quantity(round(1e3 * free, 9), "mm"),  # as one would type it
            "active_coils": active,
            "ends": ends,
            **seated(left),
        }
        if self.measured_rate is not None:
            fresh["measured_rate"] = self.measured_rate * (self.active_coils / active)
        if self.measured_mass is not None:
            total = coil.total_coils(active, ends)
            fresh["measured_mass"] = self.measured_mass * (total / self.total_coils)
        return dataclasses.replace(self, **fresh)
