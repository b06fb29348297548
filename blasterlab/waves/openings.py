"""Gas through openings: a lossy hole between two tubes, and the open mouth of one.

What it is for: port and leaks of the shot with gas waves, with the waves that they send into the tubes on
both sides; and the muzzle; SI floats.  What it leaves out: a hole's own inertia, the air outside a mouth.
The orifice law is that of the shot model (``shot.orifice``), here from total pressure and enthalpy, and
without its patch at equal pressures, since it must join two tubes without a seam.

References: A. J. C. Barré de Saint-Venant and L. Wantzel, *Journal de l'École Polytechnique* 27, 85 (1839).
"""

from __future__ import annotations

import math

from blasterlab.compiled import compiled
from blasterlab.shot.orifice import CRITICAL, creep
from blasterlab.shot.parameters import GAMMA
from blasterlab.waves.riemann import State, wave_pressure

CP_OVER_R = GAMMA / (GAMMA - 1.0)


@compiled
def orifice_rate(p0: float, h0: float, p_back: float, area: float, laminar: float = 0.0) -> float:
    """Mass rate through an orifice of some effective area from total pressure and total enthalpy.

    Through a long gap, whose `laminar` is that of ``shot.orifice.leak``, flows no more than it lets creep.
    """
    r = p_back / p0
    if r >= 1.0 or area <= 0.0:
        return 0.0
    r = max(r, CRITICAL)
    z = r ** (1.0 / CP_OVER_R)
    rate = area * p0 * CP_OVER_R / h0 * r / z * math.sqrt(2.0 * h0 * (1.0 - z))
    return min(rate, creep(laminar, p0, p_back)) if laminar > 0.0 else rate


@compiled
def _inflow(rate: float, h0: float, tube: State, area: float) -> tuple[float, float]:
    """Speed and pressure at a face that lets a rate of total enthalpy h0 into a tube.

    The tube's gas moves away from the face.  An area of zero stands for the open air.  Newton's method: the
    rate rises with the speed and is convex, so that it cannot stray.
    """
    rho, v, p = tube
    if area <= 0.0:
        return 0.0, p
    sonic = math.sqrt(2.0 * (GAMMA - 1.0) / (GAMMA + 1.0) * h0)
    scale = CP_OVER_R * area
    speed = min(rate * h0 / (scale * p), sonic)
    for _ in range(40):
        p_face, _, slope = wave_pressure(rho, speed - v, p)
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
    return speed, wave_pressure(rho, speed - v, p)[0]


@compiled
def _outflow(rate: float, tube: State, area: float) -> tuple[float, float, float, float]:
    """Speed, static pressure, total enthalpy and total pressure at a face that lets a rate out of a tube.

    The tube's gas moves towards the face.  Newton's method from below, at most to sonic speed.
    """
    rho, v, p = tube
    if area <= 0.0:
        return 0.0, p, CP_OVER_R * p / rho, p
    p_face, rho_face, slope = wave_pressure(rho, v, p)
    speed = 0.0
    if rate > 0.0:
        sonic = 2.0 / (GAMMA + 1.0) * (math.sqrt(GAMMA * p / rho) + 0.5 * (GAMMA - 1.0) * v)
        for _ in range(40):
            df = (rho_face - slope * speed * rho_face / (GAMMA * p_face)) * area
            new = min(speed + (rate - rho_face * speed * area) / df, sonic)
            done = abs(new - speed) <= 1e-13 * sonic
            speed = new
            p_face, rho_face, slope = wave_pressure(rho, v - speed, p)
            if done or speed == sonic:
                break
    h = CP_OVER_R * p_face / rho_face
    h0 = h + 0.5 * speed * speed
    return speed, p_face, h0, p_face * (h0 / h) ** CP_OVER_R


@compiled
def _downhill(
    up: State, up_area: float, down: State, down_area: float, area: float, laminar: float, p_still: float
) -> tuple[float, float, float, float, float, float]:
    """`hole` from the side of the higher pressure, the wall at rest; p_still is the pressure downstream of a
    closed hole.  The rate is the orifice law from the total conditions at the upstream face to the static
    pressure at the downstream face; the jet's energy is kept as heat and as motion of the mixed stream."""
    speed, p_up, h0, p0 = _outflow(0.0, up, up_area)
    # The rate is sought between none and that of the orifice from a wall at rest (Illinois).
    rate = high = f_low = orifice_rate(p0, h0, p_still, area, laminar)
    low, f_high = 0.0, 0.0
    q, p_down = 0.0, p_still
    for turn in range(60):
        if turn > 0:
            rate = (low * f_high - high * f_low) / (f_high - f_low)
        speed, p_up, h0, p0 = _outflow(rate, up, up_area)
        q, p_down = _inflow(rate, h0, down, down_area)
        f = orifice_rate(p0, h0, p_down, area, laminar) - rate
        if turn > 0:
            low, f_low = (high, f_high) if f * f_high < 0.0 else (low, 0.5 * f_low)
        elif f >= 0.0:
            break
        high, f_high = rate, f
        if abs(f) <= 1e-11 * rate or abs(high - low) <= 1e-13 * high:
            break
    return rate, h0, p_up, speed, p_down, q


@compiled
def hole(
    left: State, right: State, wall: float, left_area: float, right_area: float, area: float,
    laminar: float = 0.0,
) -> tuple[float, float, float, float, float, float]:  # fmt: skip
    """Flow through a hole in a moving wall: rate, total enthalpy, pressure and speed on either side.

    `left` and `right` are the gas next to it, `left_area` and `right_area` the tubes'; a tube of no area
    stands for still air of that pressure, `area` is the hole's with its discharge coefficient, `laminar` is
    as in `orifice_rate`.  The rate and the speeds (against the wall) are positive to the right.
    """
    (rho_left, u_left, p_left), (rho_right, u_right, p_right) = left, right
    v_left, v_right = u_left - wall, u_right - wall
    at_left = wave_pressure(rho_left, v_left, p_left)[0] if left_area > 0.0 else p_left
    at_right = wave_pressure(rho_right, -v_right, p_right)[0] if right_area > 0.0 else p_right
    if area <= 0.0 or at_left == at_right:
        return 0.0, 0.0, at_left, 0.0, at_right, 0.0
    if at_left > at_right:
        return _downhill(
            (rho_left, v_left, p_left), left_area, (rho_right, v_right, p_right), right_area, area, laminar,
            at_right,
        )  # fmt: skip
    rate, h0, p_up, q_up, p_down, q_down = _downhill(
        (rho_right, -v_right, p_right), right_area, (rho_left, -v_left, p_left), left_area, area, laminar,
        at_left,
    )  # fmt: skip
    return -rate, h0, p_down, -q_down, p_up, -q_up


@compiled
def mouth(gas: State, rho_air: float, p_air: float) -> tuple[float, float, float, float]:
    """Rate, total enthalpy, pressure and speed of the gas in a mouth at rest, positive out of the tube.

    Outflow leaves at the pressure of the air (or at sonic speed); inflow is drawn without loss from air at
    rest.
    """
    rho, v, p = gas
    c = math.sqrt(GAMMA * p / rho)
    half = 0.5 * (GAMMA - 1.0)
    if p_air < p:
        speed = v + c / half * (1.0 - (p_air / p) ** (half / GAMMA))
    else:
        below = p_air + (GAMMA - 1.0) / (GAMMA + 1.0) * p
        speed = v - (p_air - p) * math.sqrt(2.0 / ((GAMMA + 1.0) * rho) / below)
    if speed >= 0.0:
        sonic = (c + half * v) / (1.0 + half)
        speed = min(speed, max(sonic, v))
        pressure, density, _ = wave_pressure(rho, v - speed, p)
        return density * speed, CP_OVER_R * pressure / density + 0.5 * speed * speed, pressure, speed
    # Inflow at speed q > 0: isentropic from air at rest, matched to the wave in the tube (Newton).
    h_air = CP_OVER_R * p_air / rho_air
    q = -speed
    for _ in range(30):
        pressure, _, slope = wave_pressure(rho, v + q, p)
        z = max(1.0 - 0.5 * q * q / h_air, 0.1)
        outside = p_air * z**CP_OVER_R
        step = (outside - pressure) / (slope + CP_OVER_R * outside * q / (h_air * z))
        new = max(q + step, 0.0)
        done = abs(new - q) <= 1e-13 * c
        q = new
        if done:
            break
    z = 1.0 - 0.5 * q * q / h_air
    return -rho_air * z ** (1.0 / (GAMMA - 1.0)) * q, h_air, p_air * z**CP_OVER_R, -q
