"""Closed forms of the flight: what a hand calculation gives, and what the integrator must reproduce.

What it is for: checks, and understanding.  SI floats in and out; k = ρ C_d A/(2 m) [1/m].  What it leaves
out: wind that is not across, drag that depends on speed, steep angles.

References
----------
R. L. McCoy, *Modern Exterior Ballistics*, 1999, ch. 5 (flat fire; Didion's rule for a crosswind).
"""

from __future__ import annotations

import math

from blasterlab.air import GRAVITY


def flat_fire(k: float, speed: float, x: float) -> tuple[float, float, float]:
    """Remaining speed, time and drop of flat fire.

    v = v₀ exp(−k x),  t = (exp(k x) − 1)/(k v₀),  drop = g (exp(2 k x) − 2 k x − 1)/(4 k² v₀²)

    Parameters
    ----------
    k : float [1/m]
        Zero (no air) or more.
    speed : float [m/s]
        At the muzzle, above zero.
    x : float [m]
        Distance.

    Returns
    -------
    tuple of float
        Speed [m/s], time [s], drop [m].

    Notes
    -----
    Flat fire takes the path as nearly straight: at 15 m and 40 m/s it misses the full solution by 0.1 %.

    References
    ----------
    McCoy 1999, ch. 5, with the drag coefficient constant.

    Examples
    --------
    >>> [round(one, 6) for one in flat_fire(0.0, 40.0, 10.0)]
    [40.0, 0.25, 0.306458]
    """
    u = k * x
    time = x / speed if k == 0.0 else math.expm1(u) / (k * speed)
    # (exp(2u) − 2u − 1)/(4 k²) = x² (…)/(2 (2u)²/2); the series keeps digits for small u.
    if abs(u) < 1e-3:
        growth = 0.5 + u / 3.0 + u * u / 6.0 + u**3 / 15.0
    else:
        growth = (math.expm1(2.0 * u) - 2.0 * u) / (4.0 * u * u)
    return speed * math.exp(-u), time, GRAVITY * growth * (x / speed) ** 2


def didion_drift(k: float, speed: float, x: float, crosswind: float) -> float:
    """Drift in a steady crosswind: the wind times the delay that the air causes.

    z = W (t − x/v₀)

    Parameters
    ----------
    k : float [1/m]
        Zero or more.
    speed : float [m/s]
        At the muzzle.
    x : float [m]
        Distance.
    crosswind : float [m/s]
        To the right.

    Returns
    -------
    float
        Drift to the right [m].

    References
    ----------
    McCoy 1999, ch. 7 (Didion's classical crosswind rule).

    Examples
    --------
    >>> didion_drift(0.0, 40.0, 10.0, 2.0)
    0.0
    """
    return crosswind * (flat_fire(k, speed, x)[1] - x / speed)


def vertical(k: float, speed: float) -> tuple[float, float, float, float]:
    """A shot straight up: height, time up, time down, and speed on coming back.

    h = ln(1 + k v₀²/g)/(2k),  t_up = arctan(v₀ √(k/g))/√(k g),
    t_down = artanh(v/v_t)/√(k g),  v = v₀/√(1 + k v₀²/g),  v_t = √(g/k)

    Parameters
    ----------
    k : float [1/m]
        Above zero.
    speed : float [m/s]
        At the muzzle.

    Returns
    -------
    tuple of float
        Height [m], time up [s], time down [s], speed on return [m/s].

    References
    ----------
    P. Timmerman, J. P. van der Weele, *On the rise and fall of a ball with linear or quadratic drag*,
    Am. J. Phys. 67, 538, 1999.

    Examples
    --------
    >>> [round(one, 3) for one in vertical(0.05, 40.0)]
    [22.146, 1.762, 2.531, 13.218]
    """
    ratio = k * speed**2 / GRAVITY
    root = math.sqrt(k * GRAVITY)
    back = speed / math.sqrt(1.0 + ratio)
    up = math.atan(math.sqrt(ratio)) / root
    return math.log1p(ratio) / (2.0 * k), up, math.atanh(back * math.sqrt(k / GRAVITY)) / root, back


def terminal_speed(k: float) -> float:
    """The steady speed of a fall: v_t = √(g/k).

    Parameters
    ----------
    k : float [1/m]
        Above zero.

    Returns
    -------
    float
        Speed [m/s].

    References
    ----------
    C. Cohen, B. Darbois Texier, D. Quéré, C. Clanet, *The physics of badminton*, New J. Phys. 17,
    063001, 2015.

    Examples
    --------
    >>> round(terminal_speed(1 / 4.960), 3)
    6.974
    """
    return math.sqrt(GRAVITY / k)


def vacuum(speed: float, angle: float, x: float) -> tuple[float, float]:
    """The parabola without air: time and height at a distance.

    Parameters
    ----------
    speed : float [m/s]
        At the muzzle.
    angle : float [rad]
        Above the horizontal, below π/2.
    x : float [m]
        Distance.

    Returns
    -------
    tuple of float
        Time [s], height [m].

    References
    ----------
    McCoy 1999, ch. 3 (vacuum trajectory).

    Examples
    --------
    >>> vacuum(10.0, 0.0, 10.0)
    (1.0, -4.903325)
    """
    time = x / (speed * math.cos(angle))
    return time, x * math.tan(angle) - 0.5 * GRAVITY * time**2
