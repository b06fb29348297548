# mypy: allow-untyped-defs
"""Waves of a perfect gas in one dimension: the Riemann problem, its flux, walls and the lossy port.

What it is for: the pieces from which the wave-resolving shot of ``waves`` is built, and the exact solution
that judges them.  SI floats only.  What it leaves out: meshes and time (``gas_column``), bodies (``waves``),
real-gas effects.

Throughout, a state is density, velocity and pressure; ``g`` is the ratio of specific heats; ``cda`` is a
discharge coefficient times an area.

References: E. F. Toro, *Riemann Solvers and Numerical Methods for Fluid Dynamics*, 3rd ed., 2009, ch. 4
(exact solution), ch. 10 (HLLC), section 9.5 (pressure estimate for wave speeds); H. W. Liepmann and A.
Roshko, *Elements of Gasdynamics*, 1957, ch. 3 (piston waves); A. J. C. Barré de Saint-Venant and L.
Wantzel, *Journal de l'École Polytechnique* 27, 85 (1839) (flow through an orifice).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from blasterlab.compiled import compiled


class StarState(NamedTuple):
    """Between the two outer waves of a Riemann problem."""

    p: float
    u: float
    rho_left: float
    rho_right: float


@compiled
def wave_pressure(rho, u_change, p, g):
    """Pressure, density and slope dp/du behind the wave that changes a gas's speed by ``u_change``.

    Positive: the face is run into (a shock, Rankine and Hugoniot); negative: it runs away (a rarefaction,
    Riemann).
    """
    if u_change > 0.0:
        a = 2.0 / ((g + 1.0) * rho)
        beta = (g - 1.0) / (g + 1.0)
        # rise² a − rise du² − du² (p + b) = 0 with p + b = p (1 + beta)
        root = math.sqrt(u_change * u_change + 4.0 * a * p * (1.0 + beta))
        rise = 0.5 / a * u_change * (u_change + root)
        ratio = 1.0 + rise / p
        slope = 2.0 * (rise + p * (1.0 + beta)) / root
        return p + rise, rho * (ratio + beta) / (beta * ratio + 1.0), slope
    c = math.sqrt(g * p / rho)
    z = max(1.0 + 0.5 * (g - 1.0) * u_change / c, 1e-6)
    power = z ** (2.0 / (g - 1.0))
    return p * power * z * z, rho * power, rho * c * power * z


@compiled
def _speed_change(pressure, rho, p, g):
    """Toro's f_K(p) (eqs 4.6 and 4.7) and its slope."""
    if pressure > p:
        a = 2.0 / ((g + 1.0) * rho)
        b = (g - 1.0) / (g + 1.0) * p
        root = math.sqrt(a / (pressure + b))
        return (pressure - p) * root, root * (1.0 - 0.5 * (pressure - p) / (pressure + b))
    c = math.sqrt(g * p / rho)
    ratio = pressure / p
    return (
        2.0 * c / (g - 1.0) * (ratio ** (0.5 * (g - 1.0) / g) - 1.0),
        ratio ** (-0.5 * (g + 1.0) / g) / (rho * c),
    )


@compiled
def _star(rl, ul, pl, rr, ur, pr, g):
    cl, cr = math.sqrt(g * pl / rl), math.sqrt(g * pr / rr)
    power = 0.5 * (g - 1.0) / g
    # Two rarefactions: exact when both are, and a positive start otherwise (Toro eq. 4.46).
    top = max(cl + cr - 0.5 * (g - 1.0) * (ur - ul), 1e-12)
    p = (top / (cl / pl**power + cr / pr**power)) ** (1.0 / power)
    for _ in range(60):
        fl, dl = _speed_change(p, rl, pl, g)
        fr, dr = _speed_change(p, rr, pr, g)
        step = (fl + fr + ur - ul) / (dl + dr)
        new = max(p - step, 1e-3 * p)
        done = abs(new - p) <= 1e-14 * (new + p)
        p = new
        if done:
            break
    fl, _ = _speed_change(p, rl, pl, g)
    fr, _ = _speed_change(p, rr, pr, g)
    return p, 0.5 * (ul + ur) + 0.5 * (fr - fl)


def star_state(
    left: tuple[float, float, float], right: tuple[float, float, float], gamma: float = 1.4
) -> StarState:
    """The state between the waves of a Riemann problem, exactly.

    f_L(p*) + f_R(p*) + u_R − u_L = 0

    Parameters
    ----------
    left : tuple of float [kg/m³, m/s, Pa]
        Density, velocity and pressure on the left.
    right : tuple of float [kg/m³, m/s, Pa]
        The same on the right.
    gamma : float [-]
        Ratio of specific heats.

    Returns
    -------
    StarState
        Pressure [Pa], velocity [m/s] and the densities [kg/m³] on either side of the contact.

    Raises
    ------
    ValueError
        For a density or pressure that is not positive, or two gases that part so fast that a vacuum opens.

    References
    ----------
    Toro, *Riemann Solvers and Numerical Methods for Fluid Dynamics*, 3rd ed., 2009, section 4.2.

    Examples
    --------
    >>> star = star_state((1.0, 0.0, 1.0), (0.125, 0.0, 0.1))
    >>> round(star.p, 5), round(star.u, 5)
    (0.30313, 0.92745)
    """
    if min(left[0], right[0], left[2], right[2]) <= 0.0:
        raise ValueError(f"left and right need positive density and pressure, got {left} and {right}")
    c = [math.sqrt(gamma * p / rho) for rho, _, p in (left, right)]
    if right[1] - left[1] >= 2.0 * (c[0] + c[1]) / (gamma - 1.0):
        raise ValueError(
            f"the gases part at {right[1] - left[1]:g} m/s, a vacuum opens; the likely cause is a sign"
        )
    p, u = _star(*left, *right, gamma)
    _, rho_left, _ = wave_pressure(left[0], left[1] - u, left[2], gamma)
    _, rho_right, _ = wave_pressure(right[0], u - right[1], right[2], gamma)
    return StarState(float(p), float(u), float(rho_left), float(rho_right))


def riemann_profile(
    left: tuple[float, float, float],
    right: tuple[float, float, float],
    speeds: np.ndarray,
    gamma: float = 1.4,
) -> np.ndarray:
    """The exact self-similar solution of a Riemann problem.

    (rho, u, p)(x/t)

    Parameters
    ----------
    left : tuple of float [kg/m³, m/s, Pa]
        Density, velocity and pressure on the left.
    right : tuple of float [kg/m³, m/s, Pa]
        The same on the right.
    speeds : ndarray [m/s]
        Values of x/t, shape (n,).
    gamma : float [-]
        Ratio of specific heats.

    Returns
    -------
    ndarray
        Density [kg/m³], velocity [m/s] and pressure [Pa], shape (3, n).

    Raises
    ------
    ValueError
        As `star_state`.

    References
    ----------
    Toro, *Riemann Solvers and Numerical Methods for Fluid Dynamics*, 3rd ed., 2009, section 4.5.

    Examples
    --------
    >>> riemann_profile((1.0, 0.0, 1.0), (0.125, 0.0, 0.1), np.array([0.5])).round(5).ravel().tolist()
    [0.42632, 0.92745, 0.30313]
    """
    star = star_state(left, right, gamma)
    out = np.empty((3, len(speeds)))
    for i, speed in enumerate(np.asarray(speeds, dtype=float)):
        # The right half is the left one seen in a mirror.
        side, sign = (1.0, left) if speed <= star.u else (-1.0, right)
        rho_star = star.rho_left if speed <= star.u else star.rho_right
        rho, u, p = sign[0], side * sign[1], sign[2]
        x, u_star = side * speed, side * star.u
        c = math.sqrt(gamma * p / rho)
        if star.p > p:
            ratio = star.p / p
            shock = u - c * math.sqrt(0.5 * (gamma + 1.0) / gamma * ratio + 0.5 * (gamma - 1.0) / gamma)
            state = (rho, u, p) if x < shock else (rho_star, u_star, star.p)
        elif x < u - c:
            state = (rho, u, p)
        elif x > u_star - math.sqrt(gamma * star.p / rho_star):
            state = (rho_star, u_star, star.p)
        else:
            z = 2.0 / (gamma + 1.0) + (gamma - 1.0) / (gamma + 1.0) / c * (u - x)
            fan_u = 2.0 / (gamma + 1.0) * (c + 0.5 * (gamma - 1.0) * u + x)
            state = (rho * z ** (2.0 / (gamma - 1.0)), fan_u, p * z ** (2.0 * gamma / (gamma - 1.0)))
        out[:, i] = state[0], side * state[1], state[2]
    return out


@compiled
def hllc(rl, ul, pl, rr, ur, pr, face, g):
    """Flux of mass, momentum and energy through a face that moves at ``face`` (HLLC, Toro ch. 10)."""
    ul = ul - face
    ur = ur - face
    cl, cr = math.sqrt(g * pl / rl), math.sqrt(g * pr / rr)
    guess = max(0.5 * (pl + pr) - 0.125 * (ur - ul) * (rl + rr) * (cl + cr), 0.0)
    ql = math.sqrt(1.0 + 0.5 * (g + 1.0) / g * (guess / pl - 1.0)) if guess > pl else 1.0
    qr = math.sqrt(1.0 + 0.5 * (g + 1.0) / g * (guess / pr - 1.0)) if guess > pr else 1.0
    sl, sr = ul - cl * ql, ur + cr * qr
    middle = (pr - pl + rl * ul * (sl - ul) - rr * ur * (sr - ur)) / (rl * (sl - ul) - rr * (sr - ur))
    if middle >= 0.0:
        r, u, p, s = rl, ul, pl, sl
        outside = sl >= 0.0
    else:
        r, u, p, s = rr, ur, pr, sr
        outside = sr <= 0.0
    energy = p / (g - 1.0) + 0.5 * r * u * u
    mass, momentum, power = r * u, r * u * u + p, u * (energy + p)
    if not outside:
        k = r * (s - u) / (s - middle)
        mass += s * (k - r)
        momentum += s * (k * middle - r * u)
        power += s * (k * (energy / r + (middle - u) * (middle + p / (r * (s - u)))) - energy)
    # Back from the frame of the face.
    return mass, momentum + face * mass, power + face * momentum + 0.5 * face * face * mass


@compiled
def orifice_rate(p0, h0, p_back, cda, g):
    """Mass rate through an orifice from total pressure and total enthalpy (Saint-Venant and Wantzel)."""
    r = p_back / p0
    if r >= 1.0 or cda <= 0.0:
        return 0.0
    r = max(r, (2.0 / (g + 1.0)) ** (g / (g - 1.0)))
    z = r ** ((g - 1.0) / g)
    speed = math.sqrt(2.0 * h0 * (1.0 - z))
    return cda * p0 * g / ((g - 1.0) * h0) * r / z * speed


@compiled
def _inflow(rate, h0, rho, v, p, area, g):
    """Speed and pressure at a face that lets ``rate`` with total enthalpy ``h0`` into a tube.

    ``v`` is the speed of the gas in the tube, away from the face.  An area of zero stands for the open air.
    Newton's method: the rate rises with the speed and is convex, so that it cannot stray.
    """
    if area <= 0.0:
        return 0.0, p
    sonic = math.sqrt(2.0 * (g - 1.0) / (g + 1.0) * h0)
    scale = g / (g - 1.0) * area
    speed = min(rate * h0 / (scale * p), sonic)
    for _ in range(40):
        p_face, _, slope = wave_pressure(rho, speed - v, p, g)
        h = h0 - 0.5 * speed * speed
        f = scale * p_face * speed / h - rate
        df = scale * (p_face / h + slope * speed / h + p_face * speed * speed / (h * h))
        new = min(max(speed - f / df, 0.0), sonic)
        done = abs(new - speed) <= 1e-13 * sonic
        speed = new
        if done:
            break
    h = h0 - 0.5 * speed * speed
    if speed == sonic:  # the tube cannot follow: the stream enters at the speed of sound
        return speed, rate * h / (scale * speed)
    return speed, wave_pressure(rho, speed - v, p, g)[0]


@compiled
def _approach(rate, rho, v, p, area, g):
    """Speed, static pressure, total enthalpy and total pressure at a face that lets ``rate`` out of a tube.

    ``v`` is the speed of the gas in the tube, towards the face.  Newton's method from below, at most to
    sonic speed.
    """
    if area <= 0.0:
        return 0.0, p, g / (g - 1.0) * p / rho, p
    p_face, rho_face, slope = wave_pressure(rho, v, p, g)
    speed = 0.0
    if rate > 0.0:
        sonic = 2.0 / (g + 1.0) * (math.sqrt(g * p / rho) + 0.5 * (g - 1.0) * v)
        for _ in range(40):
            df = (rho_face - slope * speed * rho_face / (g * p_face)) * area
            new = min(speed + (rate - rho_face * speed * area) / df, sonic)
            done = abs(new - speed) <= 1e-13 * sonic
            speed = new
            p_face, rho_face, slope = wave_pressure(rho, v - speed, p, g)
            if done or speed == sonic:
                break
    h = g / (g - 1.0) * p_face / rho_face
    h0 = h + 0.5 * speed * speed
    return speed, p_face, h0, p_face * (h0 / h) ** (g / (g - 1.0))


@compiled
def discharge(rho_up, v_up, p_up, area_up, rho_down, v_down, p_down, area_down, cda, g):
    """Flow through a hole between two tubes: rate, total enthalpy, p_up, speed_up, p_down, speed_down.

    The gas in the upstream tube moves towards the hole at ``v_up``, that in the downstream tube away from
    it at ``v_down``, both against the wall with the hole.  The rate is the orifice law from the total
    conditions at the upstream face to the static pressure at the downstream face; the jet's energy is kept
    as heat and as the motion of the mixed stream.  An area of zero stands for still air of that pressure.
    No flow: a rate of zero.
    """
    _, p_wall, h0, p0 = _approach(0.0, rho_up, v_up, p_up, area_up, g)
    if area_down > 0.0:
        p_still, _, _ = wave_pressure(rho_down, -v_down, p_down, g)
    else:
        p_still = p_down
    if cda <= 0.0 or p0 <= p_still:
        return 0.0, h0, p_wall, 0.0, p_still, 0.0
    # The rate is sought between none and that of the orifice from a wall at rest.
    low, high = 0.0, orifice_rate(p0, h0, p_still, cda, g)
    f_low, f_high = high, 0.0
    rate, last = high, 0
    speed, p_face, h_total, q, p_mixed = 0.0, p_wall, h0, 0.0, p_still
    for turn in range(60):
        speed, p_face, h_total, p0 = _approach(rate, rho_up, v_up, p_up, area_up, g)
        q, p_mixed = _inflow(rate, h_total, rho_down, v_down, p_down, area_down, g)
        f = orifice_rate(p0, h_total, p_mixed, cda, g) - rate
        if turn == 0:
            f_high = f
            if f >= 0.0:
                break
        elif f > 0.0:
            low, f_low = rate, f
            f_high *= 0.5 if last == -1 else 1.0
            last = -1
        else:
            high, f_high = rate, f
            f_low *= 0.5 if last == 1 else 1.0
            last = 1
        if abs(f) <= 1e-11 * rate or high - low <= 1e-13 * high:
            break
        rate = (low * f_high - high * f_low) / (f_high - f_low)
    return rate, h_total, p_face, speed, p_mixed, q
