"""The shot's equations: SI floats only, one source with and without numba.

What it is for: two open gas volumes joined by a port, a spring-driven plunger on one side, a dart on the
other.  What it leaves out: the integration in time (``stepper``), units, defaults and judgement (``shot``),
waves in the gas (``waves``).

State (SI)::

    s, u     plunger travel from the catch and its speed      m1, e1   chamber gas mass and internal energy
    y, w     dart travel and its speed                        m2, e2   barrel gas mass and internal energy
    running integrals: seal friction work, dart friction work, enthalpy lost through leaks, heat to the
    walls, kinetic energy that the air ahead carries out of the muzzle

Equations::

    V1 = Ap (S - s) + Vd1      V2 = Vd2 + Ab y      p = (g - 1) e / V      T = e / (m cv)
    M du/dt = F_spring(s) - (p1 - pa) Ap - F_seal
    (m + m2/3 + rho_a Ab (L - y)) dw/dt = (p2 - pa) Ab - F_dart - (1/6) (dm2/dt) w
    dm1/dt = -q - leak          de1/dt = -q h - leak h - heat1 + p1 Ap u
    dm2/dt = +q - blowby        de2/dt = +q h - blowby h - heat2 - p2 Ab w        h = cp T upstream

M is the plunger with a share of the spring.  m2/3 is Lagrange's linear velocity profile of the gas behind
the dart, whose kinetic energy is m2 w^2/6; the term in dm2/dt is the energy that brings new gas up to that
profile, so that energy is conserved to the last digit.  The mean pressure p2 stands in the equation of
motion once, with m2/3 on the left; the pressure at the dart's base is p2 - (m2/3) (dw/dt) / Ab.

References
----------
A. J. C. B. de Saint-Venant and L. Wantzel, *J. École Polytech.* 16, 85 (1839): the orifice law.
J. Corner, *Theory of the Interior Ballistics of Guns*, Wiley 1950: Lagrange's correction.
H. S. Carslaw and J. C. Jaeger, *Conduction of Heat in Solids*, 2nd ed., 1959, sec. 2.5: the wall heat.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from blasterlab.compiled import compiled, compiled_inline

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]
GAMMA = 1.4  # ratio of specific heats of air (diatomic ideal gas)
CRITICAL = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))  # 0.528282, choking pressure ratio
CHOKED = math.sqrt(GAMMA) * (2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)))  # 0.684731
INVERSE = 1.0 / (GAMMA - 1.0)  # products cost a quarter of what divisions do
THIRD, SIXTH = 1.0 / 3.0, 1.0 / 6.0
FLOOR = 1e-6  # of the ambient force at least hold plunger and dart at rest, or rounding would start them
CONDUCTIVITY = 0.0257  # W/(m K), air at 20 degC (CRC Handbook of Chemistry and Physics)


class Parameters(NamedTuple):
    """Everything that a shot depends on, SI floats; one row of the batch's array, in this order."""

    rate1: float  # up to three springs in parallel: rate, and compression at the catch
    catch_compression1: float
    rate2: float
    catch_compression2: float
    rate3: float
    catch_compression3: float
    plunger_mass: float  # with the moving share of the springs
    plunger_area: float
    stroke: float
    chamber_dead: float
    port_area: float  # discharge coefficient times area
    barrel_area: float
    length: float
    barrel_dead: float
    dart_mass: float
    dart_length: float
    seal_friction: float
    seal_breakaway: float
    seal_friction_per_pressure: float  # friction per pressure above ambient
    seal_leak_area: float  # effective area
    dart_friction: float
    dart_breakaway: float
    dart_friction_per_pressure: float
    blowby_area: float  # effective area
    gas_inertia: float  # 1 on, 0 off
    air_ahead: float
    wall_heat: float  # 0 off, 1 conduction, more for the limit of strong heat exchange
    stop_restitution: float
    ambient_pressure: float
    ambient_temperature: float
    gas_constant: float
    charge: float  # absolute pressure of a charged chamber with the plunger held at its stop; 0: spring shot


PLUNGER, DART, CLAMPED, NOSE, FREE2, FREE3 = range(6)  # mode: -1, 0 (held), 1 for the first two; else 0 or 1
DYNAMIC, STATES = 8, 13  # the states that drive the motion come first
EXITED, NO_BREAKAWAY, STALLED, NO_RELEASE, TIME_OUT, FAILED = range(6)  # how a shot can end
TIME_LIMIT = 0.5  # s
QUIET = 0.02  # s of a held dart, counted from where the plunger has done its best, that end a shot
S, U, M1, E1, Y, W, M2, E2, SEAL_WORK, DART_WORK, LEAKED, HEAT, JET = range(13)


def flow_law(ratio: Floats) -> Floats:
    """Saint-Venant and Wantzel's flow function above the critical pressure ratio, as it is written."""
    root = ratio ** (1.0 / GAMMA)
    return np.sqrt(2.0 * GAMMA / (GAMMA - 1.0) * (root * root - ratio * root))


def _series() -> tuple[Floats, Floats]:
    """psi / sqrt(x) as a polynomial in x = 1 - r, and one for the slope: within 1e-10, and no power."""
    x = 0.5 * (1.0 - CRITICAL) * (1.0 - np.cos(np.pi * (np.arange(400) + 0.5) / 400))
    fit = np.polynomial.Chebyshev.fit(x, flow_law(1.0 - x) / np.sqrt(x), 11, domain=[0.0, 1.0 - CRITICAL])
    coefficients = np.asarray(fit.convert(kind=np.polynomial.Polynomial).coef, dtype=np.float64)
    return coefficients, (0.5 + np.arange(12)) * coefficients


_VALUE, _SLOPE = _series()


class Patch(NamedTuple):
    """Above a pressure ratio an odd cubic through zero takes over: it meets the law with value and slope."""

    start: float  # pressure ratio
    steep: float  # slope at zero
    bend: float


def patch_from(start: float) -> Patch:
    """The cubic that takes over at a pressure ratio."""
    edge = 1.0 - start
    value = math.sqrt(edge) * float(np.polynomial.polynomial.polyval(edge, _VALUE))
    slope = float(np.polynomial.polynomial.polyval(edge, _SLOPE)) / math.sqrt(edge)
    bend = (edge * slope - value) / (2.0 * edge**3)
    return Patch(start, value / edge - bend * edge**2, bend)


PATCH = patch_from(0.999)
LEAK_PATCH = patch_from(0.99)  # for the small leaks, which stay explicit


@compiled_inline
def _polynomial(c: Floats, x: float) -> float:
    """A polynomial of degree 11 by Estrin's scheme."""
    x2 = x * x
    x4 = x2 * x2
    low = (c[0] + c[1] * x) + (c[2] + c[3] * x) * x2
    middle = (c[4] + c[5] * x) + (c[6] + c[7] * x) * x2
    high = (c[8] + c[9] * x) + (c[10] + c[11] * x) * x2
    return low + (x4 * middle + (x4 * x4) * high)


@compiled_inline
def flow_parts(ratio: float, patch: Patch) -> tuple[float, float, float]:
    """The flow function as (a, b, s): its value is a sqrt(s), its slope -b / sqrt(s); no root is taken."""
    if ratio <= CRITICAL:
        return CHOKED, 0.0, 1.0
    gap = 1.0 - ratio
    if ratio > patch.start:
        bend = patch.bend * gap * gap
        return gap * (patch.steep + bend), patch.steep + 3.0 * bend, 1.0
    return _polynomial(_VALUE, gap), _polynomial(_SLOPE, gap), gap


@compiled
def flow_function(ratio: float, patch: Patch) -> tuple[float, float]:
    """The flow function and its slope at a downstream over upstream pressure ratio; see `flow_law`."""
    value, fall, square = flow_parts(ratio, patch)
    root = math.sqrt(square)
    return root * value, -fall / root


@compiled
def orifice(
    area: float, p_from: float, t_from: float, p_to: float, t_to: float, gas_constant: float, patch: Patch
) -> tuple[float, float]:
    """Mass flow from one side to the other (negative the other way) and the enthalpy flow with it."""
    cp = gas_constant * GAMMA / (GAMMA - 1.0)
    if p_from >= p_to:
        flow = area * p_from / math.sqrt(gas_constant * t_from) * flow_function(p_to / p_from, patch)[0]
        return flow, flow * cp * t_from
    flow = -area * p_to / math.sqrt(gas_constant * t_to) * flow_function(p_from / p_to, patch)[0]
    return flow, flow * cp * t_to


@compiled_inline
def leak(area: float, c: float, e: float, m: float, outside: float, e_outside: float) -> tuple[float, float]:
    """As `orifice`, from a volume of mass m and pressure c e to the outside, of specific energy e_outside."""
    pressure = c * e
    if pressure >= outside:
        ratio = outside / pressure
        specific = e / m
        scale = area * c * m
    else:
        ratio = pressure / outside
        specific = e_outside
        scale = -area * outside / e_outside
    value, _fall, square = flow_parts(ratio, LEAK_PATCH)
    flow = math.sqrt(INVERSE * specific * square) * (scale * value)
    return flow, flow * GAMMA * specific


@compiled_inline
def spring_force(p: Parameters, s: float) -> float:
    """Force of up to three springs at plunger travel s; a spring that has come free pushes no more."""
    force = p.rate1 * max(p.catch_compression1 - s, 0.0)
    if p.rate2 > 0.0:
        force += p.rate2 * max(p.catch_compression2 - s, 0.0)
        force += p.rate3 * max(p.catch_compression3 - s, 0.0)
    return force


@compiled
def spring_work(p: Parameters, s: float) -> float:
    """Work that the springs have given from the catch to plunger travel s."""
    work = p.rate1 * (p.catch_compression1**2 - max(p.catch_compression1 - s, 0.0) ** 2)
    work += p.rate2 * (p.catch_compression2**2 - max(p.catch_compression2 - s, 0.0) ** 2)
    work += p.rate3 * (p.catch_compression3**2 - max(p.catch_compression3 - s, 0.0) ** 2)
    return 0.5 * work


@compiled_inline
def wall_flux(p: Parameters, t: float, pressure: float, temperature: float, wall_temperature: float) -> float:
    """Conduction into a cold wall, W/m^2: k dT / sqrt(pi a t), the gas being a half space since t = 0."""
    diffusivity = (
        CONDUCTIVITY * p.gas_constant * temperature / pressure / (p.gas_constant * GAMMA / (GAMMA - 1.0))
    )
    excess = temperature - wall_temperature
    return p.wall_heat * CONDUCTIVITY * excess / math.sqrt(math.pi * diffusivity * max(t, 1e-6))


@compiled
def plunger_net(p: Parameters, x: Floats) -> tuple[float, float]:
    """Force on the held plunger without seal friction, and the force that holds it, N."""
    p1 = (GAMMA - 1.0) * x[E1] / (p.plunger_area * (p.stroke - x[S]) + p.chamber_dead)
    excess = p1 - p.ambient_pressure
    hold = p.seal_breakaway + p.seal_friction_per_pressure * max(excess, 0.0)
    hold = max(hold, FLOOR * p.ambient_pressure * p.plunger_area)
    return spring_force(p, x[S]) - excess * p.plunger_area, hold


@compiled
def dart_net(p: Parameters, x: Floats) -> tuple[float, float]:
    """Force of the gas on the held dart without friction, and the force that holds it, N."""
    p2 = (GAMMA - 1.0) * x[E2] / (p.barrel_dead + p.barrel_area * x[Y])
    excess = p2 - p.ambient_pressure
    hold = p.dart_breakaway + p.dart_friction_per_pressure * max(excess, 0.0)
    hold = max(hold, FLOOR * p.ambient_pressure * p.barrel_area)
    return excess * p.barrel_area, hold


@compiled_inline
def rates(t: float, x: Floats, p: Parameters, mode: Integers, q: float, out: Floats) -> None:
    """The explicit part of the time derivatives into out; q is the port flow.

    The port's own exchange of mass and enthalpy is not in it (see `exchange`); q only enters the small
    force that brings new gas up to Lagrange's velocity profile.
    """
    pa = p.ambient_pressure
    v1 = p.plunger_area * (p.stroke - x[S]) + p.chamber_dead
    v2 = p.barrel_dead + p.barrel_area * x[Y]
    c1 = (GAMMA - 1.0) / v1
    c2 = (GAMMA - 1.0) / v2
    p1 = c1 * x[E1]
    p2 = c2 * x[E2]
    cv = INVERSE * p.gas_constant
    u = x[U]
    w = x[W]
    dm1 = 0.0
    de1 = p1 * p.plunger_area * u
    dm2 = 0.0
    de2 = -p2 * p.barrel_area * w
    leaked = 0.0
    heat = 0.0
    if p.seal_leak_area > 0.0:
        mass, energy = leak(p.seal_leak_area, c1, x[E1], x[M1], pa, cv * p.ambient_temperature)
        dm1 -= mass
        de1 -= energy
        leaked += energy
    if p.blowby_area > 0.0:
        mass, energy = leak(p.blowby_area, c2, x[E2], x[M2], pa, cv * p.ambient_temperature)
        dm2 -= mass
        de2 -= energy
        leaked += energy
    if p.wall_heat > 0.0:
        wall1 = 2.0 * p.plunger_area + 4.0 * v1 / math.sqrt(4.0 * p.plunger_area / math.pi)
        wall2 = 2.0 * p.barrel_area + 4.0 * v2 / math.sqrt(4.0 * p.barrel_area / math.pi)
        heat1 = wall1 * wall_flux(p, t, p1, x[E1] / (x[M1] * cv), p.ambient_temperature)
        heat2 = wall2 * wall_flux(p, t, p2, x[E2] / (x[M2] * cv), p.ambient_temperature)
        de1 -= heat1
        de2 -= heat2
        heat = heat1 + heat2
    out[S] = u
    out[M1] = dm1
    out[E1] = de1
    out[Y] = w
    out[M2] = dm2
    out[E2] = de2
    out[LEAKED] = leaked
    out[HEAT] = heat
    plunger = mode[PLUNGER]
    if plunger != 0:
        friction = p.seal_friction + p.seal_friction_per_pressure * max(p1 - pa, 0.0)
        force = spring_force(p, x[S]) - (p1 - pa) * p.plunger_area - plunger * friction
        out[U] = force * (1.0 / p.plunger_mass)
        out[SEAL_WORK] = friction * plunger * u
    else:
        out[U] = 0.0
        out[SEAL_WORK] = 0.0
    dart = mode[DART]
    if dart != 0:
        friction = p.dart_friction + p.dart_friction_per_pressure * max(p2 - pa, 0.0)
        if mode[NOSE] == 1:  # the nose is out: the gripped length shrinks
            friction *= (p.length - x[Y]) / p.dart_length
        density = p.air_ahead * pa / (p.gas_constant * p.ambient_temperature)
        mass = p.dart_mass + p.gas_inertia * x[M2] * THIRD + density * p.barrel_area * (p.length - x[Y])
        force = (p2 - pa) * p.barrel_area - dart * friction - p.gas_inertia * (q + dm2) * w * SIXTH
        out[W] = force * (1.0 / mass)
        out[DART_WORK] = friction * dart * w
        out[JET] = 0.5 * density * p.barrel_area * w * w * w
    else:
        out[W] = 0.0
        out[DART_WORK] = 0.0
        out[JET] = 0.0


@compiled
def energy(p: Parameters, x: Floats) -> float:
    """All the energy that the equations conserve, J: motion, gas and losses, less the springs' work."""
    density = p.air_ahead * p.ambient_pressure / (p.gas_constant * p.ambient_temperature)
    mass = p.dart_mass + p.gas_inertia * x[M2] * THIRD + density * p.barrel_area * (p.length - x[Y])
    moving = 0.5 * mass * x[W] * x[W] + 0.5 * p.plunger_mass * x[U] * x[U]
    lost = x[SEAL_WORK] + x[DART_WORK] + x[LEAKED] + x[HEAT] + x[JET]
    pushed = p.ambient_pressure * (p.barrel_area * x[Y] - p.plunger_area * x[S])
    return moving + x[E1] + x[E2] + lost + pushed - spring_work(p, x[S])


@compiled_inline
def discharge(
    area: float, specific: float, m_up: float, c_up: float, c_down: float, ratio: float
) -> tuple[float, float, float]:
    """Port flow out of the volume of higher pressure, kg/s, and its slope in the mass exchanged, 1/s.

    c is (g - 1) / V, so that a pressure is c e; specific is e / m upstream, ratio the pressures', downstream
    over upstream.  Returns (flow, a, s): the slope is -a / s.
    """
    value, fall, square = flow_parts(ratio, PATCH)
    root = math.sqrt(INVERSE * specific * square)
    steep = (GAMMA * area) * (fall * (c_down + ratio * c_up) + value * square * c_up)
    return root * ((area * c_up) * m_up * value), root * steep, square


@compiled
def port(p: Parameters, x: Floats) -> tuple[float, float, float]:
    """Port flow from chamber to barrel, kg/s, its enthalpy flow, W, and its slope in the mass exchanged."""
    c1 = (GAMMA - 1.0) / (p.plunger_area * (p.stroke - x[S]) + p.chamber_dead)
    c2 = (GAMMA - 1.0) / (p.barrel_dead + p.barrel_area * x[Y])
    p1 = c1 * x[E1]
    p2 = c2 * x[E2]
    if p1 >= p2:
        sign, c_up, c_down, m_up, e_up, ratio = 1.0, c1, c2, x[M1], x[E1], p2 / p1
    else:
        sign, c_up, c_down, m_up, e_up, ratio = -1.0, c2, c1, x[M2], x[E2], p1 / p2
    specific = e_up / m_up
    flow, steep, square = discharge(p.port_area, specific, m_up, c_up, c_down, ratio)
    flow *= sign
    return flow, flow * GAMMA * specific, -steep / square
