"""A seal's friction, estimated from its squeeze, and its leak, measured by how long a plunger takes to sink.

What it is for: start values for the losses before anything is measured.  What it leaves out: wear, speed and
temperature; a pull with a kitchen scale is worth more than the estimate.

References
----------
P. B. Lindley, *J. Inst. Rubber Industry* 1, 209 (1967): load of a squeezed ring; A. N. Gent, *Rubber Chem.
Technol.* 31, 896 (1958): Young's modulus from the hardness (both formulas from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from blasterlab import units
from blasterlab.build import Build
from blasterlab.checks.seal import SealFit
from blasterlab.closed_forms.hole_flow import orifice_flow
from blasterlab.closed_forms.readers import DRY_AIR
from blasterlab.doors import Spoken
from blasterlab.parts.rings import thinned
from blasterlab.shot.simulate import simulate
from blasterlab.units import Quantity, QuantityLike

#: Rubber on a smooth bore, greased, usual and dry: common practice, no source.
RUBBING = (0.1, 0.2, 0.5)
BREAKAWAY = 3.0  # times the running friction, at most: common practice, no source
_PA, _WARM = 101325.0, 293.15  # Pa and K of the room


@dataclass(frozen=True)
class SealFriction:
    """What a squeezed ring's friction may be: an estimate with a wide range.

    Attributes
    ----------
    running : tuple of Quantity [N]
        Least, usual and greatest running force, greased to dry.
    breakaway : Quantity [N]
        The greatest force to start it.
    load : Quantity [N]
        The ring's load on the bore.
    """

    running: tuple[Quantity, Quantity, Quantity]
    breakaway: Quantity
    load: Quantity


def ring_load(squeeze: float, hardness: float = 70.0) -> float:
    """Load of a squeezed ring per length and section: E (1.25 C^1.5 + 50 C^6).

    Parameters
    ----------
    squeeze : float [-]
        Share of the section, 0 to 0.4.
    hardness : float [-]
        Shore A, 40 to 95.

    Returns
    -------
    float
        Force per length and per section [N/m^2].

    Raises
    ------
    UnitError
        Values outside their range.

    References
    ----------
    P. B. Lindley (1967) and A. N. Gent (1958), formulas from memory: E = 0.0981 (56 + 7.62336 S) /
    (0.137505 (254 - 2.54 S)) MPa.

    Examples
    --------
    >>> round(ring_load(0.15, 70) / ring_load(0.10, 70), 4)
    1.8492
    """
    c = units.si_in(squeeze, "number", "squeeze", 0.0, 0.4)
    s = units.si_in(hardness, "number", "hardness", 40.0, 95.0, "Shore A")
    modulus = 1e6 * 0.0981 * (56.0 + 7.62336 * s) / (0.137505 * (254.0 - 2.54 * s))
    return modulus * (1.25 * c**1.5 + 50.0 * c**6)


def seal_friction(fit: SealFit, bore: QuantityLike, hardness: float = 70.0) -> SealFriction:
    """Running and breakaway friction of a squeezed ring, a start value for the losses.

    Formula: pi bore d load(squeeze) times a friction coefficient of 0.1 (greased) to 0.5 (dry), 0.2 usual.

    Parameters
    ----------
    fit : SealFit [-]
        From `seal_fit`.
    bore : Quantity or str [length]
        The bore it slides in.
    hardness : float [-]
        Shore A.

    Returns
    -------
    SealFriction
        Forces [N].

    Raises
    ------
    UnitError
        Values outside their range.

    Notes
    -----
    A pull with a kitchen scale is worth more than this estimate.  The coefficients and the factor of three
    for breaking away are common practice, no source.
    """
    d = units.si(fit.ring.section, "length") * thinned(fit.stretch.value)
    around = math.pi * units.si_in(bore, "length", "bore", 2e-3, 0.5)
    load = around * d * ring_load(min(max(fit.squeeze.value, 0.0), 0.4), hardness)
    low, usual, high = (units.quantity(share * load, "N") for share in RUBBING)
    return SealFriction((low, usual, high), BREAKAWAY * high, units.quantity(load, "N"))


def leak_from_leak_down(
    bore: QuantityLike, travel: QuantityLike, time: QuantityLike, force: QuantityLike
) -> Quantity:
    """The leak area from how long a plunger takes to sink against a closed barrel.

    Formula: A = (mass of the air swept) / (t x mass flow per area at the plunger's pressure).

    Parameters
    ----------
    bore, travel : Quantity or str [length]
        Plunger tube's bore, and how far the plunger sank.
    time : Quantity or str [time]
        In which time, 0.05 s to a day.
    force : Quantity or str [force]
        With which steady force it was pressed, friction taken off; measure the time once the air is squeezed.

    Returns
    -------
    Quantity
        Effective area, discharge coefficient included [mm²].

    Raises
    ------
    UnitError
        Values outside their range.

    Notes
    -----
    Slow enough to stay at 20 degC; air at 101.325 kPa outside.

    References
    ----------
    The law of the outflow: see `blasterlab.closed_forms.limits.orifice_flow`.

    Examples
    --------
    >>> round(leak_from_leak_down("35 mm", "20 mm", "10 s", "20 N").m_as("mm^2"), 4)
    0.0126
    """
    area = 0.25 * math.pi * units.si_in(bore, "length", "bore", 3e-3, 0.2) ** 2
    way = units.si_in(travel, "length", "travel", 1e-3, 1.0)
    t = units.si_in(time, "time", "time", 0.05, 86400.0)
    inside = _PA + units.si_in(force, "force", "force", 0.1, 2000.0) / area
    pressures = (units.quantity(inside, "Pa"), units.quantity(_PA, "Pa"), units.quantity(_WARM, "K"))
    flow = orifice_flow("1 mm^2", *pressures).m_as("kg/s")
    swept = area * way * inside / (DRY_AIR * _WARM)
    return units.quantity(swept / (t * flow), "mm^2")


@dataclass(frozen=True)
class LeakCost(Spoken):
    """What a leak past the plunger's seal costs a build.

    Attributes
    ----------
    area : Quantity [mm²]
        The leak.
    tight, leaking : Quantity [m/s]
        Muzzle velocity without it and with it.
    """

    area: Quantity
    tight: Quantity
    leaking: Quantity


def leak_cost(build: Build, area: QuantityLike) -> LeakCost:
    """The muzzle velocity with a leak of this area past the seal, beside that without any.

    Parameters
    ----------
    build : Build [-]
        The build; its own ``losses.seal_leak_area`` does not count.
    area : Quantity or str [area]
        Effective, such as `leak_from_leak_down` gives.

    Returns
    -------
    LeakCost
        Both speeds [m/s].

    Raises
    ------
    BuildError
        An area out of its range.
    """
    both = (build.replace({"losses.seal_leak_area": leak}) for leak in ("0 mm^2", area))
    speeds = [simulate(one).muzzle_velocity for one in both]
    return LeakCost(units.parse(area, "area", "area"), *speeds)
