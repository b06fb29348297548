"""A spring and a mass in closed form: the share of the spring that moves.

What it is for: what the shot model must give back without air.  What it leaves out: waves in the spring.
"""

from __future__ import annotations

import math

from scipy.optimize import brentq

from blasterlab import units


def moving_fraction(mass_ratio: float) -> float:
    """Share of a spring's mass that gives the exact frequency of spring and mass.

    Formula: y tan y = m_s/M, f = 1/y^2 - M/m_s.

    Parameters
    ----------
    mass_ratio : float [-]
        Spring over moving mass, 1e-3 to 1e6.

    Returns
    -------
    float
        The share: a third for a light spring, 4/pi^2 for a heavy one [-].

    Raises
    ------
    UnitError
        A ratio outside its range.

    References
    ----------
    Lord Rayleigh, *The Theory of Sound*, 2nd ed., 1894, sec. 156.

    Examples
    --------
    >>> round(moving_fraction(1.0), 6)
    0.351034
    """
    if not 1e-3 <= mass_ratio <= 1e6:
        raise units.UnitError(f"mass_ratio: got {mass_ratio}; must be 0.001 to 1e6")
    y = brentq(
        lambda y: y * math.sin(y) - mass_ratio * math.cos(y), 1e-9, math.pi / 2, xtol=1e-15, rtol=1e-14
    )
    return 1.0 / y**2 - 1.0 / mass_ratio
