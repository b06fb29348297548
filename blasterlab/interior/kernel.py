"""The shot's equations and their integrator: SI floats only, one source with and without numba.

What it is for: two open gas volumes joined by a port, a spring-driven plunger on one side, a dart on the
other, integrated from the release at the catch until the dart's tail leaves the muzzle or nothing moves any
more.  What it leaves out: units, defaults, judgement (``shot.py``), waves in the gas (``waves.py``).

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

Integrator: the port makes the system stiff (pressures equalise across it in microseconds) but in a single
direction, the exchange q.  An additive Runge-Kutta pair of order 4(3) treats q implicitly, by a scalar
Newton iteration in each stage, and all else explicitly.  Events are located by shortening the last step.

References
----------
A. J. C. B. de Saint-Venant and L. Wantzel, *J. École Polytech.* 16, 85 (1839): the orifice law.
J. Corner, *Theory of the Interior Ballistics of Guns*, Wiley 1950: Lagrange's correction.
C. A. Kennedy and M. H. Carpenter, *Appl. Numer. Math.* 44, 139 (2003), ARK4(3)6L[2]SA: the tableaus.
H. S. Carslaw and J. C. Jaeger, *Conduction of Heat in Solids*, 2nd ed., 1959, sec. 2.5: the wall heat.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from blasterlab.compiled import compiled

GAMMA = 1.4  # ratio of specific heats of air (diatomic ideal gas)
CRITICAL = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))  # 0.528282, choking pressure ratio
CHOKED = math.sqrt(GAMMA) * (2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)))  # 0.684731
PATCH = 0.999  # the flow function is a straight line through zero from here to a pressure ratio of 1
LEAK_PATCH = 0.99  # the same for the small leaks, which stay explicit
CONDUCTIVITY = 0.0257  # W/(m K), air at 20 degC (CRC Handbook of Chemistry and Physics)


class Parameters(NamedTuple):
    """Everything that a shot depends on, SI floats; one row of the batch's array, in this order."""

    rate1: float  # up to three springs in parallel: rate, and compression at the catch
    squeeze1: float
    rate2: float
    squeeze2: float
    rate3: float
    squeeze3: float
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
    seal_slope: float  # friction per pressure above ambient
    seal_leak: float  # effective area
    dart_friction: float
    dart_breakaway: float
    dart_slope: float
    blowby: float  # effective area
    gas_inertia: float  # 1 on, 0 off
    air_ahead: float
    wall_heat: float  # 0 off, 1 conduction, more for the limit of strong heat exchange
    restitution: float
    ambient_pressure: float
    ambient_temperature: float
    gas_constant: float
    charge: float  # absolute pressure of a charged chamber with the plunger held at its stop; 0: spring shot


class Outcome(NamedTuple):
    """What a shot came to, SI floats; times that never came are -1."""

    status: int
    time: float
    stop_energy: float
    impact_speed: float
    breakaway_time: float
    stop_time: float
    chamber_peak: float
    barrel_peak: float
    spring_work: float
    steps: int
    rejected: int
    evaluations: int
    records: int


PLUNGER, DART, CLAMPED, NOSE, FREE2, FREE3 = range(6)  # mode: -1, 0 (held), 1 for the first two; else 0 or 1
(AT_STOP, PLUNGER_TURNS, PLUNGER_STARTS, PLUNGER_BACKS, SPRING2, SPRING3,
 AT_MUZZLE, DART_TURNS, NOSE_OUT, DART_STARTS, DART_BACKS) = range(11)  # fmt: skip
EVENTS = 11
NEAR = 1e-10  # an event function this close to zero has happened
LEFT, NO_BREAKAWAY, STALLED, NO_RELEASE, TIME_OUT, FAILED = 0, 1, 2, 3, 4, 5
DYNAMIC, STATES, COLUMNS = 8, 13, 17  # record columns: time, 13 states, p1, p2, base pressure
S, U, M1, E1, Y, W, M2, E2, SEAL_WORK, DART_WORK, LEAKED, HEAT, JET = range(13)
TIME_LIMIT = 1.0  # s
QUIET = 0.02  # s without motion that end a shot
MAX_STEPS = 200_000

_AE = np.zeros((6, 6))
_AE[1, 0] = 1 / 2
_AE[2, :2] = 13861 / 62500, 6889 / 62500
_AE[3, :3] = -116923316275 / 2393684061468, -2731218467317 / 15368042101831, 9408046702089 / 11113171139209
_AE[4, :4] = (-451086348788 / 2902428689909, -2682348792572 / 7519795681897,
              12662868775082 / 11960479115383, 3355817975965 / 11060851509271)  # fmt: skip
_AE[5, :5] = (647845179188 / 3216320057751, 73281519250 / 8382639484533, 552539513391 / 3454668386233,
              3354512671639 / 8306763924573, 4040 / 17871)  # fmt: skip
_AI = np.zeros((6, 6))
_DIAGONAL = 1 / 4
_AI[1, :2] = 1 / 4, 1 / 4
_AI[2, :3] = 8611 / 62500, -1743 / 31250, 1 / 4
_AI[3, :4] = 5012029 / 34652500, -654441 / 2922500, 174375 / 388108, 1 / 4
_AI[4, :5] = (
    15267082809 / 155376265600,
    -71443401 / 120774400,
    730878875 / 902184768,
    2285395 / 8070912,
    1 / 4,
)
_AI[5, :6] = 82889 / 524892, 0, 15625 / 83664, 69875 / 102672, -2260 / 8211, 1 / 4
_B = _AI[5].copy()
_C = np.array([0, 1 / 2, 83 / 250, 31 / 50, 17 / 20, 1])
_DB = _B - np.array([4586570599 / 29645900160, 0, 178811875 / 945068544, 814220225 / 1159782912,
                     -3700637 / 11593932, 61727 / 225920])  # fmt: skip


@compiled
def flow_function(ratio, patch):
    """Saint-Venant and Wantzel's flow function and its slope at a downstream over upstream pressure ratio."""
    if ratio <= CRITICAL:
        return CHOKED, 0.0
    if ratio > patch:
        # odd cubic through zero that meets the law at the patch with its value and its slope
        a = patch ** (1.0 / GAMMA)
        value = math.sqrt(2.0 * GAMMA / (GAMMA - 1.0) * (a * a - patch * a))
        slope = (2.0 * a * a / patch - (GAMMA + 1.0) * a) / ((GAMMA - 1.0) * value)
        edge = 1.0 - patch
        bend = (-slope * edge - value) / (2.0 * edge**3)
        gap = 1.0 - ratio
        steep = value / edge - bend * edge**2
        return gap * (steep + bend * gap * gap), -(steep + 3.0 * bend * gap * gap)
    a = ratio ** (1.0 / GAMMA)
    psi = math.sqrt(2.0 * GAMMA / (GAMMA - 1.0) * (a * a - ratio * a))
    return psi, (2.0 * a * a / ratio - (GAMMA + 1.0) * a) / ((GAMMA - 1.0) * psi)


@compiled
def orifice(area, p_from, t_from, p_to, t_to, gas_constant, patch):
    """Mass flow from one side to the other (negative the other way) and the enthalpy flow with it."""
    cp = gas_constant * GAMMA / (GAMMA - 1.0)
    if p_from >= p_to:
        flow = area * p_from / math.sqrt(gas_constant * t_from) * flow_function(p_to / p_from, patch)[0]
        return flow, flow * cp * t_from
    flow = -area * p_to / math.sqrt(gas_constant * t_to) * flow_function(p_from / p_to, patch)[0]
    return flow, flow * cp * t_to


@compiled
def spring_force(p, s):
    """Force of up to three springs at plunger travel s; a spring that has come free pushes no more."""
    force = p.rate1 * max(p.squeeze1 - s, 0.0)
    if p.rate2 > 0.0:
        force += p.rate2 * max(p.squeeze2 - s, 0.0)
        force += p.rate3 * max(p.squeeze3 - s, 0.0)
    return force


@compiled
def spring_work(p, s):
    """Work that the springs have given from the catch to plunger travel s."""
    work = p.rate1 * (p.squeeze1**2 - max(p.squeeze1 - s, 0.0) ** 2)
    work += p.rate2 * (p.squeeze2**2 - max(p.squeeze2 - s, 0.0) ** 2)
    work += p.rate3 * (p.squeeze3**2 - max(p.squeeze3 - s, 0.0) ** 2)
    return 0.5 * work


@compiled
def wall_flux(p, t, pressure, temperature, wall_temperature):
    """Conduction into a cold wall, W/m^2: k dT / sqrt(pi a t), the gas being a half space since t = 0."""
    diffusivity = (
        CONDUCTIVITY * p.gas_constant * temperature / pressure / (p.gas_constant * GAMMA / (GAMMA - 1.0))
    )
    excess = temperature - wall_temperature
    return p.wall_heat * CONDUCTIVITY * excess / math.sqrt(math.pi * diffusivity * max(t, 1e-6))


@compiled
def plunger_net(p, x):
    """Force on the plunger without seal friction, N."""
    p1 = (GAMMA - 1.0) * x[E1] / (p.plunger_area * (p.stroke - x[S]) + p.chamber_dead)
    return spring_force(p, x[S]) - (p1 - p.ambient_pressure) * p.plunger_area


@compiled
def dart_net(p, x):
    """Force of the gas on the dart at rest without friction, N."""
    p2 = (GAMMA - 1.0) * x[E2] / (p.barrel_dead + p.barrel_area * x[Y])
    return (p2 - p.ambient_pressure) * p.barrel_area


@compiled
def rates(t, x, p, mode, q, out):
    """The explicit part of the time derivatives into out; q is the port flow.

    The port's own exchange of mass and enthalpy is not in it (see `exchange`); q only enters the small
    force that brings new gas up to Lagrange's velocity profile.
    """
    pa = p.ambient_pressure
    v1 = p.plunger_area * (p.stroke - x[S]) + p.chamber_dead
    v2 = p.barrel_dead + p.barrel_area * x[Y]
    p1 = (GAMMA - 1.0) * x[E1] / v1
    p2 = (GAMMA - 1.0) * x[E2] / v2
    cv = p.gas_constant / (GAMMA - 1.0)
    u = x[U]
    w = x[W]
    dm1 = 0.0
    de1 = p1 * p.plunger_area * u
    dm2 = 0.0
    de2 = -p2 * p.barrel_area * w
    leaked = 0.0
    heat = 0.0
    if p.seal_leak > 0.0:
        mass, energy = orifice(
            p.seal_leak, p1, x[E1] / (x[M1] * cv), pa, p.ambient_temperature, p.gas_constant, LEAK_PATCH
        )
        dm1 -= mass
        de1 -= energy
        leaked += energy
    if p.blowby > 0.0:
        mass, energy = orifice(
            p.blowby, p2, x[E2] / (x[M2] * cv), pa, p.ambient_temperature, p.gas_constant, LEAK_PATCH
        )
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
        friction = p.seal_friction + p.seal_slope * max(p1 - pa, 0.0)
        out[U] = (spring_force(p, x[S]) - (p1 - pa) * p.plunger_area - plunger * friction) / p.plunger_mass
        out[SEAL_WORK] = friction * plunger * u
    else:
        out[U] = 0.0
        out[SEAL_WORK] = 0.0
    dart = mode[DART]
    if dart != 0:
        friction = p.dart_friction + p.dart_slope * max(p2 - pa, 0.0)
        if mode[NOSE] == 1:  # the nose is out: the gripped length shrinks
            friction *= (p.length - x[Y]) / p.dart_length
        density = p.air_ahead * pa / (p.gas_constant * p.ambient_temperature)
        mass = p.dart_mass + p.gas_inertia * x[M2] / 3.0 + density * p.barrel_area * (p.length - x[Y])
        force = (p2 - pa) * p.barrel_area - dart * friction - p.gas_inertia * (q + dm2) * w / 6.0
        out[W] = force / mass
        out[DART_WORK] = friction * dart * w
        out[JET] = 0.5 * density * p.barrel_area * w * w * w
    else:
        out[W] = 0.0
        out[DART_WORK] = 0.0
        out[JET] = 0.0


@compiled
def port(p, v1, v2, m1, e1, m2, e2):
    """Port flow from chamber to barrel, kg/s, its enthalpy per mass, and its slope in the exchanged mass."""
    p1 = (GAMMA - 1.0) * e1 / v1
    p2 = (GAMMA - 1.0) * e2 / v2
    stiffness = GAMMA * (GAMMA - 1.0)
    if p1 >= p2:
        specific = e1 / m1
        factor = p.port_area / math.sqrt((GAMMA - 1.0) * specific)
        ratio = p2 / p1
        psi, slope = flow_function(ratio, PATCH)
        dp = stiffness * specific
        change = factor * (-(psi - ratio * slope) * dp / v1 + slope * dp / v2)
        return factor * p1 * psi, GAMMA * specific, change
    specific = e2 / m2
    factor = p.port_area / math.sqrt((GAMMA - 1.0) * specific)
    ratio = p1 / p2
    psi, slope = flow_function(ratio, PATCH)
    dp = stiffness * specific
    change = factor * (-(psi - ratio * slope) * dp / v2 + slope * dp / v1)
    return -factor * p2 * psi, GAMMA * specific, change


@compiled
def exchange(p, x, g, guess, tolerance):
    """Solve the implicit stage z = x + g N(z) for the port's exchange N, in place.

    The upstream energy after the exchange is known in closed form, so that one scalar equation
    q = Q(z(q)) remains; Q falls as q grows, hence one root, found by Newton with a bracket.
    Returns the flow, the energy moved per time, and the number of evaluations.
    """
    v1 = p.plunger_area * (p.stroke - x[S]) + p.chamber_dead
    v2 = p.barrel_dead + p.barrel_area * x[Y]
    m1 = x[M1]
    e1 = x[E1]
    m2 = x[M2]
    e2 = x[E2]
    forward = e1 / v1 >= e2 / v2
    source = m1 if forward else m2
    low = 0.0
    high = source / g  # all of it
    # first guess: the last flow, or, where the exchange is stiff, the root of D + 2 b sqrt(D) = D0 for the
    # pressure difference D that incompressible flow a sqrt(2 rho D) would leave
    upstream = e1 / v1 if forward else e2 / v2
    drop = (GAMMA - 1.0) * abs(e1 / v1 - e2 / v2)
    swept = p.port_area * math.sqrt(2.0 * upstream * source / (e1 if forward else e2))
    half = (
        0.5
        * g
        * swept
        * GAMMA
        * (GAMMA - 1.0)
        * upstream
        * (v1 if forward else v2)
        / source
        * (1.0 / v1 + 1.0 / v2)
    )
    size = guess if forward else -guess
    if not 0.0 < size < high or half * half > 0.25 * drop:
        size = swept * drop / (half + math.sqrt(half * half + drop))
        if not size < high:
            size = 0.5 * high
    count = 0
    for _ in range(60):
        left = source - g * size
        if forward:
            z1 = e1 / (1.0 + GAMMA * g * size / left)
            z2 = e2 + (e1 - z1)
            flow, _h, change = port(p, v1, v2, left, z1, m2 + g * size, z2)
        else:
            z2 = e2 / (1.0 + GAMMA * g * size / left)
            z1 = e1 + (e2 - z2)
            flow, _h, change = port(p, v1, v2, m1 + g * size, z1, left, z2)
            flow = -flow
        count += 1
        excess = size - flow
        if excess > 0.0:
            high = size
        else:
            low = size
        step = -excess / (1.0 - g * change)
        trial = size + step
        if not low < trial < high:
            trial = 0.5 * (low + high)
        moved = abs(trial - size)
        size = trial
        if moved * g <= tolerance * source:
            break
    left = source - g * size
    if forward:
        z1 = e1 / (1.0 + GAMMA * g * size / left)
        moved_energy = e1 - z1
    else:
        z2 = e2 / (1.0 + GAMMA * g * size / left)
        moved_energy = z2 - e2
        size = -size
    x[M1] = m1 - g * size
    x[E1] = e1 - moved_energy
    x[M2] = m2 + g * size
    x[E2] = e2 + moved_energy
    return size, moved_energy / g, count


@compiled
def advance(t, x, h, p, mode, tolerance, scale, ke, ki, z, out):
    """One step of the additive pair from x into out; returns the error norm, NaN when a stage left the gas empty."""
    v1 = p.plunger_area * (p.stroke - x[S]) + p.chamber_dead
    v2 = p.barrel_dead + p.barrel_area * x[Y]
    q, enthalpy, change = port(p, v1, v2, x[M1], x[E1], x[M2], x[E2])
    ki[0, 0] = q
    ki[0, 1] = q * enthalpy
    rates(t, x, p, mode, q, ke[0])
    evaluations = 1
    for i in range(1, 6):
        for n in range(DYNAMIC):
            total = 0.0
            for j in range(i):
                total += _AE[i, j] * ke[j, n]
            z[n] = x[n] + h * total
        flow = 0.0
        energy = 0.0
        for j in range(i):
            flow += _AI[i, j] * ki[j, 0]
            energy += _AI[i, j] * ki[j, 1]
        z[M1] -= h * flow
        z[E1] -= h * energy
        z[M2] += h * flow
        z[E2] += h * energy
        if not (z[M1] > 0.0 and z[E1] > 0.0 and z[M2] > 0.0 and z[E2] > 0.0):
            return math.nan, evaluations
        if (
            p.plunger_area * (p.stroke - z[S]) + p.chamber_dead <= 0.0
            or p.barrel_dead + p.barrel_area * z[Y] <= 0.0
        ):
            return math.nan, evaluations
        q, energy, count = exchange(p, z, _DIAGONAL * h, q, tolerance)
        evaluations += count
        ki[i, 0] = q
        ki[i, 1] = energy
        rates(t + _C[i] * h, z, p, mode, q, ke[i])
    # the embedded error of the exchange is overstated by the stiffness, which damps it: filtered as in
    # implicit methods (L. F. Shampine, Computational Methods in ODEs, 1994); sums over both volumes are not
    damp = 1.0 / (1.0 - _DIAGONAL * h * change)
    norm = 0.0
    mass_error = 0.0
    energy_error = 0.0
    for n in range(STATES):
        total = 0.0
        error = 0.0
        for j in range(6):
            total += _B[j] * ke[j, n]
            error += _DB[j] * ke[j, n]
        k = -1
        if n == M1 or n == E1:
            k = 0 if n == M1 else 1
            for j in range(6):
                total -= _B[j] * ki[j, k]
                error -= _DB[j] * ki[j, k]
        elif n == M2 or n == E2:
            k = 0 if n == M2 else 1
            for j in range(6):
                total += _B[j] * ki[j, k]
                error += _DB[j] * ki[j, k]
        out[n] = x[n] + h * total
        if k == 0:
            mass_error += h * error
        elif k == 1:
            energy_error += h * error
        if n < DYNAMIC:
            norm = max(norm, abs(h * error) / scale[n] * (1.0 if k < 0 else damp))
    norm = max(norm, abs(mass_error) / scale[M2], abs(energy_error) / scale[E2])
    if not (out[M1] > 0.0 and out[E1] > 0.0 and out[M2] > 0.0 and out[E2] > 0.0):
        return math.nan, evaluations
    return norm, evaluations


@compiled
def watch(p, x, mode, g):
    """The event functions into g, each negative before its event and about 1 in size; -1 where there is none."""
    for n in range(EVENTS):
        g[n] = -1.0
    plunger = mode[PLUNGER]
    dart = mode[DART]
    if plunger > 0:
        g[AT_STOP] = (x[S] - p.stroke) / p.stroke
        g[PLUNGER_TURNS] = -x[U]
    elif plunger < 0:
        g[AT_STOP] = -x[S] / p.stroke
        g[PLUNGER_TURNS] = x[U]
    elif mode[CLAMPED] == 0:
        net = plunger_net(p, x)
        if x[S] < p.stroke:
            g[PLUNGER_STARTS] = (net - p.seal_breakaway) / max(p.seal_breakaway, 1.0)
        if x[S] > 0.0:
            g[PLUNGER_BACKS] = (-net - p.seal_breakaway) / max(p.seal_breakaway, 1.0)
    if p.rate2 > 0.0:
        g[SPRING2] = (1.0 - 2.0 * mode[FREE2]) * (x[S] - p.squeeze2) / p.stroke
        g[SPRING3] = (1.0 - 2.0 * mode[FREE3]) * (x[S] - p.squeeze3) / p.stroke
    if dart > 0:
        g[AT_MUZZLE] = (x[Y] - p.length) / p.length
        g[DART_TURNS] = -x[W]
        if mode[NOSE] == 0:
            g[NOSE_OUT] = (x[Y] - p.length + p.dart_length) / p.length
    elif dart < 0:
        g[AT_MUZZLE] = -x[Y] / p.length
        g[DART_TURNS] = x[W]
    else:
        net = dart_net(p, x)
        g[DART_STARTS] = (net - p.dart_breakaway) / max(p.dart_breakaway, 1.0)
        if x[Y] > 0.0:
            g[DART_BACKS] = (-net - p.dart_breakaway) / max(p.dart_breakaway, 1.0)


@compiled
def shorten(t, x, taken, p, mode, tolerance, scale, ke, ki, z, new, before, after):
    """Shorten a step that ran past events until the first of them has just happened at its end.

    Illinois false position on the largest event function among those that fired.
    Returns the step and the number of flow evaluations; `new` and `after` belong to that step.
    """
    fired = np.empty(EVENTS, np.bool_)
    f_lo = -1e300
    f_hi = 0.0
    for n in range(EVENTS):
        fired[n] = after[n] > 0.0
        if fired[n]:
            f_lo = max(f_lo, before[n])
            f_hi = max(f_hi, after[n])
    if f_lo >= 0.0:
        f_lo = -f_hi
    lo = 0.0
    hi = taken
    last = taken
    side = 0
    evaluations = 0
    for _ in range(60):
        mid = (lo * f_hi - hi * f_lo) / (f_hi - f_lo)
        width = 1e-12 * (t + hi)
        mid = min(max(mid, lo + width), hi - width) if hi - lo > 4.0 * width else 0.5 * (lo + hi)
        _error, count = advance(t, x, mid, p, mode, tolerance, scale, ke, ki, z, new)
        evaluations += count
        last = mid
        watch(p, new, mode, after)
        f_mid = -1e300
        for n in range(EVENTS):
            if fired[n]:
                f_mid = max(f_mid, after[n])
        if f_mid >= 0.0:
            hi = mid
            f_hi = f_mid
            if side == 1:
                f_lo *= 0.5
            side = 1
        else:
            lo = mid
            f_lo = f_mid
            if side == -1:
                f_hi *= 0.5
            side = -1
        if abs(f_mid) < NEAR or hi - lo < 4.0 * width:
            break
    if last != hi and not abs(f_mid) < NEAR:
        last = hi
        _error, count = advance(t, x, hi, p, mode, tolerance, scale, ke, ki, z, new)
        evaluations += count
        watch(p, new, mode, after)
    return last, evaluations


@compiled
def integrate(p, tolerance, max_step, x, record):
    """Integrate one shot; x (13 floats) becomes the final state; rows of record are filled while there is room.

    Returns an `Outcome`.  tolerance is relative to the natural size of each state.
    """
    pa = p.ambient_pressure
    cv = p.gas_constant / (GAMMA - 1.0)
    clamped = 1 if p.charge > 0.0 else 0
    for n in range(STATES):
        x[n] = 0.0
    x[S] = p.stroke if clamped == 1 else 0.0
    v1 = p.plunger_area * (p.stroke - x[S]) + p.chamber_dead
    p1 = p.charge if clamped == 1 else pa
    x[E1] = p1 * v1 / (GAMMA - 1.0)
    x[M1] = x[E1] / (cv * p.ambient_temperature)
    x[E2] = pa * p.barrel_dead / (GAMMA - 1.0)
    x[M2] = x[E2] / (cv * p.ambient_temperature)
    budget = (p1 - pa) * v1 / (GAMMA - 1.0) if clamped == 1 else spring_work(p, p.stroke)
    budget = max(budget, 1e-9)
    scale = np.empty(DYNAMIC)
    scale[S] = p.stroke
    scale[U] = math.sqrt(2.0 * budget / p.plunger_mass)
    scale[M1] = x[M1]
    scale[E1] = x[E1]
    scale[Y] = p.length
    scale[W] = min(math.sqrt(2.0 * budget / p.dart_mass), 500.0)
    scale[M2] = x[M2] + 0.1 * x[M1]
    scale[E2] = x[E2] + 0.1 * x[E1]
    ke = np.empty((6, STATES))
    ki = np.empty((6, 2))
    z = np.empty(STATES)
    new = np.empty(STATES)
    before = np.empty(EVENTS)
    after = np.empty(EVENTS)
    mode = np.zeros(6, np.int64)
    mode[CLAMPED] = clamped
    mode[NOSE] = 1 if p.dart_length >= p.length else 0
    mode[FREE2] = 1 if p.squeeze2 <= x[S] else 0
    mode[FREE3] = 1 if p.squeeze3 <= x[S] else 0
    t = 0.0
    h = 1e-5
    steps = 0
    rejected = 0
    evaluations = 0
    records = 0
    stop_energy = 0.0
    impact_speed = 0.0
    breakaway_time = -1.0
    stop_time = -1.0
    still_since = 0.0
    status = FAILED
    fresh = True  # modes must be looked at
    peak1 = p1
    peak2 = pa
    old1 = p1
    old2 = pa
    older1 = p1
    older2 = pa
    previous_error = 1.0
    while steps < MAX_STEPS:
        if fresh:
            if mode[PLUNGER] == 0 and clamped == 0:
                net = plunger_net(p, x)
                if net >= p.seal_breakaway and x[S] < p.stroke and net > 0.0:
                    mode[PLUNGER] = 1
                elif -net >= p.seal_breakaway and x[S] > 0.0 and net < 0.0:
                    mode[PLUNGER] = -1
            if mode[DART] == 0:
                net = dart_net(p, x)
                if net >= p.dart_breakaway and net > 0.0:
                    mode[DART] = 1
                    if breakaway_time < 0.0:
                        breakaway_time = t
                elif -net >= p.dart_breakaway and x[Y] > 0.0 and net < 0.0:
                    mode[DART] = -1
            still_since = t
            fresh = False
        if records < record.shape[0]:
            v1 = p.plunger_area * (p.stroke - x[S]) + p.chamber_dead
            v2 = p.barrel_dead + p.barrel_area * x[Y]
            q, _h, _c = port(p, v1, v2, x[M1], x[E1], x[M2], x[E2])
            rates(t, x, p, mode, q, z)
            record[records, 0] = t
            for n in range(STATES):
                record[records, 1 + n] = x[n]
            record[records, 14] = (GAMMA - 1.0) * x[E1] / v1
            record[records, 15] = (GAMMA - 1.0) * x[E2] / v2
            record[records, 16] = record[records, 15] - p.gas_inertia * x[M2] / 3.0 * z[W] / p.barrel_area
            records += 1
        if mode[PLUNGER] == 0 and mode[DART] == 0 and t - still_since > QUIET:
            if x[Y] > 0.0:
                status = STALLED
            elif x[S] == 0.0:
                status = NO_RELEASE
            else:
                status = NO_BREAKAWAY
            break
        if t > TIME_LIMIT:
            status = TIME_OUT
            break
        h = min(h, max_step)
        error, count = advance(t, x, h, p, mode, 1e-3 * tolerance, scale, ke, ki, z, new)
        evaluations += count
        if not error <= tolerance:
            rejected += 1
            h *= max(0.2, 0.9 * (tolerance / error) ** 0.25) if error == error else 0.25
            if h < 1e-14:
                break
            continue
        steps += 1
        taken = h
        ratio = max(error / tolerance, 1e-4)
        grow = 0.9 * ratio**-0.175 * previous_error**0.1
        previous_error = max(ratio, 1e-2)
        h *= min(max(grow, 0.3), 4.0)
        watch(p, new, mode, after)
        for n in range(EVENTS):
            if after[n] > 0.0:
                fresh = True
        if fresh:
            watch(p, x, mode, before)
            taken, count = shorten(
                t, x, taken, p, mode, 1e-3 * tolerance, scale, ke, ki, z, new, before, after
            )
            evaluations += count
        t += taken
        for n in range(STATES):
            x[n] = new[n]
        p1 = (GAMMA - 1.0) * x[E1] / (p.plunger_area * (p.stroke - x[S]) + p.chamber_dead)
        p2 = (GAMMA - 1.0) * x[E2] / (p.barrel_dead + p.barrel_area * x[Y])
        peak1 = max(peak1, p1)
        peak2 = max(peak2, p2)
        older1 = old1
        older2 = old2
        old1 = p1
        old2 = p2
        if fresh:
            if after[AT_STOP] > -NEAR:
                back = 0.0
                if mode[PLUNGER] > 0:
                    x[S] = p.stroke
                    if stop_time < 0.0:
                        stop_time = t
                    impact_speed = max(impact_speed, x[U])
                    back = p.restitution * x[U]
                    if back < 1e-3 * scale[U]:
                        back = 0.0
                else:  # thrown back to the catch
                    x[S] = 0.0
                stop_energy += 0.5 * p.plunger_mass * (x[U] * x[U] - back * back)
                x[U] = -back
                mode[PLUNGER] = -1 if back > 0.0 else 0
            elif after[PLUNGER_TURNS] > -NEAR:
                x[U] = 0.0
                mode[PLUNGER] = 0
            if after[SPRING2] > -NEAR:
                mode[FREE2] = 1 - mode[FREE2]
            if after[SPRING3] > -NEAR:
                mode[FREE3] = 1 - mode[FREE3]
            if after[AT_MUZZLE] > -NEAR:
                if mode[DART] > 0:
                    x[Y] = p.length
                    status = LEFT
                    break
                stop_energy += 0.5 * p.dart_mass * x[W] * x[W]
                x[Y] = 0.0
                x[W] = 0.0
                mode[DART] = 0
            elif after[DART_TURNS] > -NEAR:
                x[W] = 0.0
                mode[DART] = 0
            mode[NOSE] = 1 if x[Y] >= p.length - p.dart_length - NEAR * p.length else 0
    if records < record.shape[0] and status == LEFT:
        record[records, 0] = t
        for n in range(STATES):
            record[records, 1 + n] = x[n]
        record[records, 14] = old1
        record[records, 15] = old2
        record[records, 16] = old2 - p.gas_inertia * x[M2] / 3.0 * ke[5, W] / p.barrel_area
        records += 1
    work = 0.0 if clamped == 1 else spring_work(p, x[S])
    return Outcome(
        status, t, stop_energy, impact_speed, breakaway_time, stop_time, peak1, peak2, work,
        steps, rejected, evaluations, records,
    )  # fmt: skip
