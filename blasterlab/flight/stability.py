"""Whether a dart flies nose first: centre of mass, centre of pressure, and what tumbling costs.

What it is for: a dart's make-up (tip and foam, lengths and masses) becomes a static margin at every angle
to the air.  What it leaves out: the motion itself (pitch damping, spin), the soft foam's bending, and the
wake of the nose; for a plain dart the result says which way it leans, not how quickly it swings.

A body without fins has its lift at the nose when it flies nearly straight, ahead of any centre of mass: it is
unstable there.  With growing angle the flow across the body pushes at the middle of its side.  A dart with
its mass far forward therefore is turned no further than to the angle at which the two balance; one with its
mass in the middle turns over.  The theory is for slender bodies with a clean wake: for a dart of three
diameters it ranks make-ups, and the angle itself is rough.  A soft tail and skin friction steady a dart
further than this says.

References
----------
L. H. Jorgensen, *Prediction of Static Aerodynamic Characteristics for Slender Bodies Alone and with Lifting
Surfaces to Very High Angles of Attack*, NASA TR R-474, 1977 (normal force and moment; crossflow drag 1.2
below the critical Reynolds number).  H. J. Allen, E. W. Perkins, *A Study of Effects of Viscosity on Flow
over Slender Inclined Bodies of Revolution*, NACA Report 1048, 1951.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.optimize import brentq

from blasterlab import units
from blasterlab.doors import Spoken
from blasterlab.fields import Field, choice_faults, floats, read_fields
from blasterlab.flight.projectile import Projectile
from blasterlab.units import Quantity, QuantityLike

#: Crossflow drag coefficient of a long cylinder below the critical Reynolds number (NASA TR R-474).
CROSSFLOW_DRAG = 1.2
#: A short cylinder's crossflow drag over a long one's, at a length of three to six diameters: from memory.
SHORT_BODY = 0.6


class Nose(NamedTuple):
    """The geometry of a tip, over that of a cylinder of the same length."""

    volume: float
    centre: float  # of the volume, behind the nose, over the length
    side: float  # its area seen from the side
    side_centre: float  # behind the nose, over the length


NOSES = {
    "flat": Nose(1.0, 0.5, 1.0, 0.5),
    "round": Nose(2.0 / 3.0, 0.625, math.pi / 4.0, 1.0 - 4.0 / (3.0 * math.pi)),
    "cone": Nose(1.0 / 3.0, 0.75, 0.5, 2.0 / 3.0),
}
FIELDS = {
    "diameter": Field("length", 3e-3, 0.1),
    "tip_length": Field("length", 0.0, 0.3),
    "tip_mass": Field("mass", 0.0, 0.1),
    "foam_length": Field("length", 3e-3, 0.5),
    "foam_mass": Field("mass", 1e-5, 0.1),
    "drag_coefficient": Field("number", 0.05, 3.0),
    "short_body": Field("number", 0.3, 1.0),
}
_LARGEST = math.pi / 2.0


@dataclass(frozen=True)
class MakeUp(Spoken):
    """What a dart is made of, from the nose back: a tip, then a foam body of the same diameter.

    Parameters
    ----------
    diameter : Quantity or str [m]
        Of both, 3 to 100 mm.
    tip_length, tip_mass : Quantity or str [m, kg]
        The tip; length 0 for a weight inside the front of the foam.
    foam_length, foam_mass : Quantity or str [m, kg]
        The rest; a hole through it changes the mass alone.
    nose : str [-]
        Shape of the tip: ``"flat"``, ``"round"`` (half an ellipsoid) or ``"cone"``.
    drag_coefficient : float [-]
        Nose first, on the frontal area.
    short_body : float [-]
        Crossflow drag over that of a long cylinder, 0.3 to 1; the default is from memory.

    Raises
    ------
    UnitError
        A value without unit, out of range, or an unknown nose.

    Examples
    --------
    >>> dart = MakeUp("12.7 mm", "8 mm", "0.6 g", "28 mm", "0.4 g", nose="round")
    >>> round(dart.centre_of_mass.m_as("mm"), 2)
    11.8
    """

    diameter: QuantityLike
    tip_length: QuantityLike
    tip_mass: QuantityLike
    foam_length: QuantityLike
    foam_mass: QuantityLike
    nose: str = "flat"
    drag_coefficient: float = 0.7
    short_body: float = SHORT_BODY

    def __post_init__(self) -> None:
        read_fields(self, "make_up", FIELDS, choice_faults(self.nose, "make_up.nose", NOSES))

    @property
    def length(self) -> Quantity:
        """Nose to tail [m]."""
        return units.quantity(sum(floats(self)[f"{part}_length"] for part in ("tip", "foam")), "m")

    @property
    def mass(self) -> Quantity:
        """Of the whole dart [kg]."""
        return units.quantity(sum(floats(self)[f"{part}_mass"] for part in ("tip", "foam")), "kg")

    @property
    def centre_of_mass(self) -> Quantity:
        """Behind the nose [m]; the tip's own centre is that of its shape, filled evenly."""
        v = floats(self)
        tip = v["tip_mass"] * NOSES[self.nose].centre * v["tip_length"]
        foam = v["foam_mass"] * (v["tip_length"] + 0.5 * v["foam_length"])
        return units.quantity((tip + foam) / (v["tip_mass"] + v["foam_mass"]), "m")

    def _flow(self) -> tuple[float, float, float]:
        """Potential lift's place, planform over frontal area, planform centroid [m, -, m]."""
        v, nose = floats(self), NOSES[self.nose]
        tip, foam = v["tip_length"], v["foam_length"]
        front = tip * (1.0 - nose.volume)  # l − V/A of Jorgensen's moment, with A the base area
        side = nose.side * tip
        centroid = (side * nose.side_centre * tip + foam * (tip + 0.5 * foam)) / (side + foam)
        return front, 4.0 * (side + foam) / (math.pi * v["diameter"]), centroid

    def centre_of_pressure(self, angle: QuantityLike = "0 deg") -> Quantity:
        """Where the side force acts, behind the nose.

        x = [x_p sin 2α cos(α/2) + x_c η C_dc (A_p/A) sin²α] / [sin 2α cos(α/2) + η C_dc (A_p/A) sin²α]

        Parameters
        ----------
        angle : Quantity or str [rad]
            Between the dart and the air, 0 to 90°.

        Returns
        -------
        Quantity
            Distance from the nose [m].

        Raises
        ------
        UnitError
            Outside 0 to 90°.

        References
        ----------
        Jorgensen 1977, equations for the normal force and the moment of a body alone.

        Examples
        --------
        >>> dart = MakeUp("12.7 mm", "0 mm", "0.6 g", "36 mm", "0.4 g")
        >>> [round(dart.centre_of_pressure(angle).m_as("mm"), 2) for angle in ("0 deg", "20 deg", "90 deg")]
        [0.0, 5.84, 18.0]
        """
        alpha = units.si_in(angle, "angle", "angle", 0.0, _LARGEST)
        return units.quantity(self._pressure(alpha), "m")

    def _forces(self, alpha: float) -> tuple[float, float]:
        """Potential and viscous normal force coefficients on the frontal area."""
        potential = math.sin(2.0 * alpha) * math.cos(0.5 * alpha)
        return max(potential, 0.0), self.short_body * CROSSFLOW_DRAG * self._flow()[1] * math.sin(alpha) ** 2

    def _pressure(self, alpha: float) -> float:
        front, _, centroid = self._flow()
        if alpha < 1e-9:
            return front
        potential, viscous = self._forces(alpha)
        return (front * potential + centroid * viscous) / (potential + viscous)

    def static_margin(self, angle: QuantityLike = "0 deg") -> float:
        """How far the centre of pressure lies behind the centre of mass, in diameters: positive is stable.

        Parameters
        ----------
        angle : Quantity or str [rad]
            As in `centre_of_pressure`.

        Returns
        -------
        float
            Diameters [-].

        Raises
        ------
        UnitError
            As `centre_of_pressure`.

        Examples
        --------
        >>> round(MakeUp("12.7 mm", "0 mm", "0.6 g", "36 mm", "0.4 g").static_margin("30 deg"), 2)
        0.05
        """
        return float((self.centre_of_pressure(angle) - self.centre_of_mass) / self.diameter)

    @property
    def wobble_angle(self) -> Quantity | None:
        """The angle that the dart settles at [rad], where the margin turns positive; None: it turns over."""
        centre = self.centre_of_mass.m
        if self._pressure(_LARGEST) <= centre:
            return None
        settled = 0.0
        if self._pressure(0.0) < centre:
            settled = brentq(lambda alpha: self._pressure(alpha) - centre, 0.0, _LARGEST, xtol=1e-15)
        return units.quantity(settled, "rad")

    def drag_at(self, angle: QuantityLike) -> float:
        """Drag coefficient at an angle to the air, on the frontal area.

        C_D = C_d cos³α + C_N sin α

        Parameters
        ----------
        angle : Quantity or str [rad]
            0 to 90°.

        Returns
        -------
        float
            Coefficient [-].

        Raises
        ------
        UnitError
            Outside 0 to 90°.

        References
        ----------
        Jorgensen 1977 (axial force taken as its value at zero angle times cos²α).
        """
        alpha = units.si_in(angle, "angle", "angle", 0.0, _LARGEST)
        return self.drag_coefficient * math.cos(alpha) ** 3 + sum(self._forces(alpha)) * math.sin(alpha)

    @property
    def tumbling_drag(self) -> float:
        """Mean drag coefficient of a dart that turns over and over in one plane, on the frontal area [-]."""
        angles = (np.arange(180) + 0.5) * _LARGEST / 180.0
        return float(np.mean([self.drag_at(units.quantity(float(alpha), "rad")) for alpha in angles]))

    def projectile(self, tumbling: bool = False) -> Projectile:
        """The dart as `fly` takes it.

        Parameters
        ----------
        tumbling : bool [-]
            With the mean drag of a tumbling dart instead of nose first.

        Returns
        -------
        Projectile
            Mass, diameter, drag coefficient, length [kg, m, -].
        """
        drag = self.tumbling_drag if tumbling else self.drag_coefficient
        return Projectile(self.mass, self.diameter, drag, self.length)
