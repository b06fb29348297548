"""A spring in a plunger's stroke, with everything that the kit can say about it alone.

What it is for: one result of spring, force line, limits, pull and findings, for a panel or for printing.
What it leaves out: the shot.
"""

from __future__ import annotations

from dataclasses import dataclass

from blasterlab import units
from blasterlab.checks.finding import Finding
from blasterlab.checks.prime import prime_findings
from blasterlab.checks.spring_findings import spring_findings
from blasterlab.checks.spring_limits import ForceLine, SpringLimits, force_line, limits
from blasterlab.doors import Spoken
from blasterlab.parts.prime import Prime, prime
from blasterlab.parts.spring import Spring
from blasterlab.units import QuantityLike


@dataclass(frozen=True)
class SpringUse(Spoken):
    """A spring between front stop and catch: its line, its limits at the catch, its pull, its findings."""

    spring: Spring
    line: ForceLine
    limits: SpringLimits
    pull: Prime
    findings: tuple[Finding, ...]


def spring_use(
    spring: Spring, stroke: QuantityLike, seal_friction: QuantityLike = "0 N", ratio: float = 1.0
) -> SpringUse:
    """What follows from a spring and a stroke.

    Parameters
    ----------
    spring : Spring [-]
        The spring.
    stroke : Quantity or str [length]
        Plunger travel from front stop to catch.
    seal_friction : Quantity or str [force]
        Running friction of the seal.
    ratio : float [-]
        Hand travel over plunger travel.

    Returns
    -------
    SpringUse
        Line, limits, pull and findings [-].

    Raises
    ------
    UnitError
        A value out of range, or a spring that is solid before the catch.
    """
    pull, line = prime(spring, stroke, seal_friction, ratio), force_line(spring, stroke)
    catch = units.quantity(line.catch, "m")
    found = (*spring_findings(spring, catch), *prime_findings(pull))
    return SpringUse(spring, line, limits(spring, catch), pull, found)
