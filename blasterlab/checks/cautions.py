"""The cautions of the kit, in one place, and a dart's energy beside published figures on eyes and toys.

What it is for: what is said beside the number that calls for it.  What it leaves out: permission; none of the
figures says that a shot is safe.

References
----------
ASTM F963-17, *Standard Consumer Safety Specification for Toy Safety*: above 0.08 J at most 2 500 J/m^2 (as
two test laboratories' notices give it).
S. M. Duma et al., *J. Trauma* 59, 960 (2005): normalised energies with a risk of 50 %.
"""

from __future__ import annotations

import math

from blasterlab import units
from blasterlab.checks.finding import Finding
from blasterlab.units import Quantity, QuantityLike

EYES = "Eye protection for everybody in range, always; never at faces, nor at people who have not agreed."
LAW = "Event rules and local law decide what may be shot, not this kit."
SPRING = "A compressed spring is loaded: keep fingers out of its way, and never open a primed blaster."
WORKSHOP = (
    "Cutters throw wire ends, saws and solvents call for gloves, glasses and fresh air; a brittle tube under "
    "pressure breaks in shards, a printed one splits between its "
    "layers. Nothing here is approval by an engineer."
)
#: Share of a dart's cross section that touches first, by the kind of its tip: the kit's own choice.
TIPS = {"flat": 1.0, "rounded": 0.5, "hard or pointed": 0.1}
TOY_ENERGY, TOY_LIMIT = 0.08, 2500.0  # J; J/m^2 above it: ASTM F963-17
#: J/m^2 with a risk of 50 %: Duma et al. (2005).
EYE_RISKS = {
    "corneal abrasion": 1503.0, "lens dislocation": 19194.0, "hyphema": 20188.0, "globe rupture": 23771.0,
    "retinal damage": 30351.0,
}  # fmt: skip
_SOURCE = "ASTM F963-17 (toys); Duma et al., J. Trauma 59, 960 (2005); contact area: the kit's own choice"


def contact_energy(energy: QuantityLike, diameter: QuantityLike, tip: str = "flat") -> Quantity:
    """A dart's energy over the area that touches first: E / (share of pi d^2/4).

    Parameters
    ----------
    energy : Quantity or str [energy]
        At the muzzle or down range.
    diameter : Quantity or str [length]
        Of the dart.
    tip : str [-]
        One of `TIPS`.

    Returns
    -------
    Quantity
        Energy per area [J/m²].

    Raises
    ------
    UnitError
        An unknown tip, or values out of range.

    Examples
    --------
    >>> round(contact_energy("0.8 J", "12.7 mm").m_as("J/m^2"))
    6315
    """
    if tip not in TIPS:
        raise units.UnitError(f"tip: got {units.shown(tip)}; must be {', '.join(TIPS)}")
    joules = units.si_in(energy, "energy", "energy", 0.0, 1e4)
    across = units.si_in(diameter, "length", "diameter", 1e-3, 0.2)
    return units.quantity(joules / (TIPS[tip] * 0.25 * math.pi * across**2), "J/m^2")


def in_an_eye(energy: QuantityLike, diameter: QuantityLike, tip: str = "flat") -> str:
    """What a dart carries on the area that touches first, and what that is in an eye: a clause.

    Parameters and errors as for `contact_energy`; units of energy as chosen, the rest in J/m².
    """
    per_area = contact_energy(energy, diameter, tip).m_as("J/m^2")
    passed = [name for name, limit in EYE_RISKS.items() if per_area >= limit]
    name, side = (passed[-1], "past") if passed else ("corneal abrasion", "below")
    return (
        f"{units.show(units.si(energy, 'energy'), 'energy', 3)} on a {tip} tip is "
        f"{float(f'{per_area:.3g}'):.0f} J/m²; in an eye it is {side} the 50 % risk of {name} "
        f"({EYE_RISKS[name]:.0f} J/m²)"
    )


def impact_findings(energy: QuantityLike, diameter: QuantityLike, tip: str = "flat") -> list[Finding]:
    """A dart's energy beside published figures, and the caution that belongs to it whatever they say.

    Parameters
    ----------
    energy : Quantity or str [energy]
        At the muzzle or down range.
    diameter : Quantity or str [length]
        Of the dart.
    tip : str [-]
        One of `TIPS`.

    Returns
    -------
    list of Finding
        One on the energy, one on eyes and law.

    Raises
    ------
    UnitError
        As `contact_energy`.
    """
    found, joules = contact_energy(energy, diameter, tip), units.si(energy, "energy")
    toy = (
        f"toys above {units.show(TOY_ENERGY, 'energy')} may carry at most {TOY_LIMIT:.0f} J/m²"
        if joules > TOY_ENERGY
        else f"toys below {units.show(TOY_ENERGY, 'energy')} have no such limit"
    )
    text = f"{in_an_eye(energy, diameter, tip)}; {toy}. Information, not permission."
    limit = units.quantity(TOY_LIMIT if joules > TOY_ENERGY else EYE_RISKS["corneal abrasion"], "J/m^2")
    return [
        Finding("caution", "dart", text, found, limit, _SOURCE),
        Finding("caution", "dart", f"{EYES} {LAW}", None, None, "common practice, no source"),
    ]
