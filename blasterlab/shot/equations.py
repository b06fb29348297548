"""The shot's equations: SI floats only, one source with and without numba.

What it is for: two open gas volumes joined by a port, a spring-driven plunger on one side, a dart on the
other.  What it leaves out: the integration in time (``stepper``), units, defaults and judgement (``shot``),
waves in the gas (``waves``).

State (SI)::

    s, u     plunger travel from the catch and its speed      m1, e1   chamber gas mass and internal energy
    y, w     dart travel and its speed                        m2, e2   barrel gas mass and internal energy
    running integrals: seal friction work, dart friction work, enthalpy lost through leaks, heat to the
    walls, kinetic energy that the air ahead carries out of the muzzle, work of the springs with waves

Equations::

    V1 = Ap (S - s) + Vd1      V2 = Vd2 + Ab y      p = (g - 1) e / V      T = e / (m cv)
    M du/dt = F_springs - (p1 - pa) Ap - F_seal
    (m + m2/3 + rho_a Ab (L - l - y)) dw/dt = (p2 - pa) Ab - F_dart - (1/6) (dm2/dt) w
    dm1/dt = -q - leak          de1/dt = -q h - leak h - heat1 + p1 Ap u
    dm2/dt = +q - blowby        de2/dt = +q h - blowby h - heat2 - p2 Ab w        h = cp T upstream

M is the plunger with the coils that move with it.  A spring along which waves run pushes with what its past
lets through (``spring_line``), one that moves as one with its rate times its compression.  m2/3 is
Lagrange's linear velocity profile of the gas behind the dart, whose kinetic energy is m2 w^2/6; the term in
dm2/dt is the energy that brings new gas up to that profile, so that energy is conserved to the last digit.
The mean pressure p2 stands in the equation of motion once, with m2/3 on the left; the pressure at the dart's
base is p2 - (m2/3) (dw/dt) / Ab.

References
----------
J. Corner, *Theory of the Interior Ballistics of Guns*, Wiley 1950: Lagrange's correction.
H. S. Carslaw and J. C. Jaeger, *Conduction of Heat in Solids*, 2nd ed., 1959, sec. 2.5: the wall heat.
M. J. Moran and H. N. Shapiro, *Fundamentals of Engineering Thermodynamics*, ch. 7: exergy.
"""

from __future__ import annotations

import math

from blasterlab.compiled import compiled_bare, compiled_inline
from blasterlab.shot.orifice import INVERSE, PATCH, discharge, leak
from blasterlab.shot.parameters import GAMMA, Floats, Integers, Parameters
from blasterlab.shot.rules import dart_hold, dart_sliding, nose_out, seal_hold, seal_sliding, volumes

THIRD, SIXTH = 1.0 / 3.0, 1.0 / 6.0
CONDUCTIVITY = 0.0257  # W/(m K), air at 20 degC (CRC Handbook of Chemistry and Physics)
SURE = 0.999  # of the dart's hold: room for what the integration leaves out
FOLLOWS = 1e5  # 1/s, rate at which gas takes the temperature of its walls at most (own choice)


PLUNGER, DART, CLAMPED, NOSE, FREE2, FREE3 = range(6)  # mode: -1, 0 (held), 1 for the first two; else 0 or 1
MODES = FREE3 + 1
_ALL = range(14)  # what drives the motion first
S, U, M1, E1, Y, W, M2, E2, SEAL_WORK, DART_WORK, LEAKED, HEAT, JET, LINE_WORK = _ALL
DYNAMIC, STATES = E2 + 1, len(_ALL)
#: The entries of the energy ledger, in the order of `ledger`.
ENTRIES = (
    "dart",
    "plunger",
    "coils still moving",
    "front stop",
    "seal friction",
    "dart friction",
    "gas internal energy",
    "gas motion",
    "air ahead",
    "leaks",
    "wall heat",
    "atmosphere",
)


@compiled_inline
def spring_force(p: Parameters, s: float) -> float:
    """Force of the springs that move as one at plunger travel s; one that has come free pushes no more."""
    force = 0.0
    if p.wave_mass1 == 0.0:
        force = p.rate1 * max(p.catch_compression1 - s, 0.0)
    if p.rate2 > 0.0:
        if p.wave_mass2 == 0.0:
            force += p.rate2 * max(p.catch_compression2 - s, 0.0)
        if p.wave_mass3 == 0.0:
            force += p.rate3 * max(p.catch_compression3 - s, 0.0)
    return force


@compiled_inline
def spring_gave(rate: float, squeeze: float, s: float) -> float:
    """Twice the work that a spring has given, slowly, from the catch to plunger travel s."""
    return rate * (squeeze**2 - max(squeeze - s, 0.0) ** 2)


@compiled_bare
def spring_work(p: Parameters, s: float) -> float:
    """Work that the springs have given from the catch to plunger travel s."""
    work = spring_gave(p.rate1, p.catch_compression1, s)
    work += spring_gave(p.rate2, p.catch_compression2, s)
    work += spring_gave(p.rate3, p.catch_compression3, s)
    return 0.5 * work


@compiled_inline
def coil_energy(p: Parameters, x: Floats) -> float:
    """Energy in the waves along the coils: what their springs gave by travel and the plunger did not get."""
    if p.charge > 0.0:
        return 0.0
    work = 0.0
    if p.wave_mass1 > 0.0:
        work += spring_gave(p.rate1, p.catch_compression1, x[S])
    if p.wave_mass2 > 0.0:
        work += spring_gave(p.rate2, p.catch_compression2, x[S])
    if p.wave_mass3 > 0.0:
        work += spring_gave(p.rate3, p.catch_compression3, x[S])
    return 0.5 * work - x[LINE_WORK]


@compiled_inline
def wall_flux(p: Parameters, t: float, pressure: float, temperature: float, wall_temperature: float) -> float:
    """Conduction into a cold wall, W/m^2: k dT / sqrt(pi a t), the gas being a half space since t = 0."""
    diffusivity = (
        CONDUCTIVITY * p.gas_constant * temperature / pressure / (p.gas_constant * GAMMA / (GAMMA - 1.0))
    )
    excess = temperature - wall_temperature
    return p.wall_heat * CONDUCTIVITY * excess / math.sqrt(math.pi * diffusivity * max(t, 1e-6))


@compiled_inline
def wall_heat(
    p: Parameters, t: float, area: float, volume: float, pressure: float, temperature: float
) -> float:
    """Heat to the walls of a round volume and its two ends, W, no faster than thin gas has it (`FOLLOWS`)."""
    walls = 2.0 * area + 4.0 * volume / math.sqrt(4.0 * area / math.pi)
    heat = walls * wall_flux(p, t, pressure, temperature, p.ambient_temperature)
    most = (
        FOLLOWS * p.wall_heat * INVERSE * pressure * volume * abs(1.0 - p.ambient_temperature / temperature)
    )
    return min(max(heat, -most), most)


@compiled_inline
def pressures(p: Parameters, x: Floats) -> tuple[float, float]:
    """Absolute pressures in chamber and barrel."""
    v1, v2 = volumes(p, x[S], x[Y])
    return (GAMMA - 1.0) * x[E1] / v1, (GAMMA - 1.0) * x[E2] / v2


@compiled_inline
def per_energy(p: Parameters, x: Floats) -> tuple[float, float]:
    """Pressure over internal energy in chamber and barrel, 1/m^3."""
    v1, v2 = volumes(p, x[S], x[Y])
    return (GAMMA - 1.0) / v1, (GAMMA - 1.0) / v2


@compiled_inline
def holds_gas(p: Parameters, x: Floats) -> bool:
    """Whether both volumes are there and hold gas: a step too long can leave none."""
    v1, v2 = volumes(p, x[S], x[Y])
    return x[M1] > 0.0 and x[E1] > 0.0 and x[M2] > 0.0 and x[E2] > 0.0 and v1 > 0.0 and v2 > 0.0


@compiled_inline
def air_density(p: Parameters) -> float:
    """Density of the air ahead of the dart, 0 where it is left out."""
    return p.air_ahead * p.ambient_pressure / (p.gas_constant * p.ambient_temperature)


@compiled_inline
def air_column(p: Parameters, y: float, nose: int) -> float:
    """Mass of the air ahead of the dart at y, from its nose to the muzzle; none once the nose is out (1)."""
    return (1 - nose) * air_density(p) * p.barrel_area * (p.length - p.dart_length - y)


@compiled_inline
def dart_mass(p: Parameters, x: Floats, nose: int) -> float:
    """Mass that moves at the dart's speed: dart, a third of the gas behind it, and the air ahead of it."""
    behind = p.gas_inertia * x[M2] * THIRD
    return p.dart_mass + behind + air_column(p, x[Y], nose)


@compiled_bare
def plunger_net(p: Parameters, x: Floats, push: float) -> tuple[float, float]:
    """Force on the held plunger without seal friction, and the force that holds it, N.

    push is the force of the springs along which waves run.
    """
    p1, _p2 = pressures(p, x)
    return spring_force(p, x[S]) + push - (p1 - p.ambient_pressure) * p.plunger_area, seal_hold(p, p1)


@compiled_inline
def plunger_slope(p: Parameters, x: Floats, way: int, push: float, friction: float, p1: float) -> float:
    """Acceleration of the moving plunger."""
    force = spring_force(p, x[S]) + push - (p1 - p.ambient_pressure) * p.plunger_area - way * friction
    return force * (1.0 / p.plunger_mass)


@compiled_inline
def plunger_acceleration(p: Parameters, x: Floats, way: int, push: float) -> float:
    """Acceleration of the plunger, 0 while it is held."""
    if way == 0:
        return 0.0
    p1, _p2 = pressures(p, x)
    return plunger_slope(p, x, way, push, seal_sliding(p, p1), p1)


@compiled_bare
def dart_net(p: Parameters, x: Floats) -> tuple[float, float]:
    """Force of the gas on the held dart without friction, and the force that holds it, N."""
    _p1, p2 = pressures(p, x)
    return (p2 - p.ambient_pressure) * p.barrel_area, dart_hold(p, p2)


@compiled_inline
def rates(
    t: float, x: Floats, p: Parameters, mode: Integers, fed: float, push: float, drag: float, out: Floats
) -> None:
    """The time derivatives into out, but for the gas that passes port and leaks (see `port`, `leaks`).

    Of that only what the barrel gains enters, `fed`, by the small force that brings new gas up to Lagrange's
    velocity profile.  Springs along which waves run press on the plunger with push - drag u.
    """
    pa = p.ambient_pressure
    v1, v2 = volumes(p, x[S], x[Y])
    c1 = (GAMMA - 1.0) / v1
    c2 = (GAMMA - 1.0) / v2
    p1 = c1 * x[E1]
    p2 = c2 * x[E2]
    cv = INVERSE * p.gas_constant
    u = x[U]
    w = x[W]
    de1 = p1 * p.plunger_area * u
    de2 = -p2 * p.barrel_area * w
    heat = 0.0
    if p.wall_heat > 0.0:
        heat1 = wall_heat(p, t, p.plunger_area, v1, p1, x[E1] / (x[M1] * cv))
        heat2 = wall_heat(p, t, p.barrel_area, v2, p2, x[E2] / (x[M2] * cv))
        de1 -= heat1
        de2 -= heat2
        heat = heat1 + heat2
    out[S] = u
    out[M1] = 0.0
    out[E1] = de1
    out[Y] = w
    out[M2] = 0.0
    out[E2] = de2
    out[LEAKED] = 0.0
    out[HEAT] = heat
    plunger = mode[PLUNGER]
    if plunger != 0:
        friction = seal_sliding(p, p1)
        push -= drag * u
        out[U] = plunger_slope(p, x, plunger, push, friction, p1)
        out[SEAL_WORK] = friction * plunger * u
        out[LINE_WORK] = push * u
    else:
        out[U] = 0.0
        out[SEAL_WORK] = 0.0
        out[LINE_WORK] = 0.0
    dart = mode[DART]
    if dart != 0:
        friction = dart_sliding(p, p2, x[Y], mode[NOSE])
        force = (p2 - pa) * p.barrel_area - dart * friction - p.gas_inertia * fed * w * SIXTH
        out[W] = force * (1.0 / dart_mass(p, x, mode[NOSE]))
        out[DART_WORK] = friction * dart * w
        out[JET] = (1 - mode[NOSE]) * 0.5 * air_density(p) * p.barrel_area * w * w * w
    else:
        out[W] = 0.0
        out[DART_WORK] = 0.0
        out[JET] = 0.0


@compiled_inline
def start_travel(p: Parameters) -> float:
    """Plunger travel at the start: 0, or the stroke where it is held in front of a charged chamber."""
    return p.stroke if p.charge > 0.0 else 0.0


@compiled_bare
def energy_in(p: Parameters, s: float) -> float:
    """Energy put in until plunger travel s, J: the springs' work, or the charge's energy above ambient."""
    if p.charge > 0.0:
        return (p.charge - p.ambient_pressure) * p.chamber_dead * INVERSE
    return spring_work(p, s)


@compiled_inline
def ledger(p: Parameters, x: Floats, stop_energy: float, nose: int) -> tuple[float, ...]:
    """Where the energy put in has gone, J, in the order of `ENTRIES`.

    First law on both gas volumes with the moving parts; the internal energy is counted from the gas that was
    there at the start at ambient pressure, the atmosphere by the volumes that plunger and dart changed.
    """
    pa = p.ambient_pressure
    first = start_travel(p)
    v1, v2 = volumes(p, first, 0.0)
    square = 0.5 * x[W] * x[W]
    return (
        p.dart_mass * square,
        0.5 * p.plunger_mass * x[U] * x[U],
        coil_energy(p, x),
        stop_energy,
        x[SEAL_WORK],
        x[DART_WORK],
        x[E1] + x[E2] - pa * (v1 + v2) * INVERSE,
        p.gas_inertia * x[M2] * THIRD * square,
        air_column(p, x[Y], nose) * square + x[JET],
        x[LEAKED],
        x[HEAT],
        pa * (p.barrel_area * x[Y] - p.plunger_area * (x[S] - first)),
    )


@compiled_bare
def energy(p: Parameters, x: Floats, nose: int) -> float:
    """What the ledger holds beyond the energy put in, J: constant, as long as nothing hits a stop."""
    total = -energy_in(p, x[S])
    for entry in ledger(p, x, 0.0, nose):
        total += entry
    return total


@compiled_bare
def ledger_gap(p: Parameters, x: Floats, stop_energy: float) -> float:
    """What the ledger leaves unexplained, as a share of the energy put in.

    Where hardly anything moved: as a share of a thousandth of what the springs hold at the catch.
    """
    least = max(1e-3 * spring_work(p, p.stroke), 1e-12)
    return abs(energy(p, x, nose_out(p, x[Y], 1)) + stop_energy) / max(energy_in(p, x[S]), least)


@compiled_inline
def log_at_most(x: float) -> float:
    """At least ln x; near 1 off by (x - 1)^3 / 24 above it, (1 - x)^3 / 12 below."""
    return (x - 1.0) / math.sqrt(x) if x > 1.0 else 2.0 * (x - 1.0) / (x + 1.0)


@compiled_inline
def exergy(p: Parameters, m: float, e: float, volume: float) -> float:
    """Slightly more than all the work that a gas volume can do until it is as the air around it, J.

    The closed system's exergy, with gas that comes or goes counted as air at rest: it falls with every leak,
    in or out, with heat to or from the walls, and with every flow from the higher pressure to the lower.
    """
    outside = p.ambient_pressure * volume
    ratio = (GAMMA - 1.0) * e / outside
    warmed = m * p.gas_constant * p.ambient_temperature
    entropy = GAMMA * INVERSE * (log_at_most(warmed / (outside * ratio)) - 1.0) + log_at_most(ratio)
    return outside * (ratio * INVERSE + 1.0) + warmed * entropy


@compiled_bare
def work_left(p: Parameters, x: Floats) -> float:
    """Slightly more than all the work that springs, plunger and gas can still do on a dart at rest, J."""
    v1, v2 = volumes(p, x[S], x[Y])
    moving = 0.5 * p.plunger_mass * x[U] * x[U] + max(coil_energy(p, x), 0.0)
    springs = spring_work(p, p.stroke) - spring_work(p, x[S])
    return springs + moving + exergy(p, x[M1], x[E1], v1) + exergy(p, x[M2], x[E2], v2)


@compiled_bare
def dart_stays(p: Parameters, x: Floats) -> bool:
    """Whether a dart at rest can provably not move again, either way.

    The gas behind it would need more exergy than is left.  At a pressure r times that outside it has least
    where it came there without heat: V pa (r / (g - 1) + 1 - g / (g - 1) r^(1/g)), which is more than
    V pa (r - 1) (1 - r^(-1/2)) / g; below that outside, more still.
    """
    _v1, v2 = volumes(p, x[S], x[Y])
    rise = SURE * dart_hold(p, p.ambient_pressure) / (p.ambient_pressure * p.barrel_area)
    least = p.ambient_pressure * v2 * rise * (1.0 - 1.0 / math.sqrt(1.0 + rise)) / GAMMA
    return work_left(p, x) < least


@compiled_inline
def leaks(p: Parameters, x: Floats) -> tuple[float, float, float, float, float]:
    """Mass and enthalpy flow past the seal and past the dart, kg/s and W, and the steeper of their slopes."""
    c1, c2 = per_energy(p, x)
    outside = INVERSE * p.gas_constant * p.ambient_temperature
    seal = seal_power = blow = blow_power = slope = other = 0.0
    if p.seal_leak_area > 0.0:
        seal, seal_power, slope = leak(
            p.seal_leak_area, p.seal_laminar, c1, x[E1], x[M1], p.ambient_pressure, outside
        )
    if p.blowby_area > 0.0:
        blow, blow_power, other = leak(
            p.blowby_area, p.blowby_laminar, c2, x[E2], x[M2], p.ambient_pressure, outside
        )
    return seal, seal_power, blow, blow_power, min(slope, other)


@compiled_bare
def port(p: Parameters, x: Floats) -> tuple[float, float, float]:
    """Port flow from chamber to barrel, kg/s, its enthalpy flow, W, and its slope in the mass exchanged."""
    c1, c2 = per_energy(p, x)
    p1 = c1 * x[E1]
    p2 = c2 * x[E2]
    if p1 >= p2:
        sign, c_up, c_down, m_up, e_up, ratio = 1.0, c1, c2, x[M1], x[E1], p2 / p1
    else:
        sign, c_up, c_down, m_up, e_up, ratio = -1.0, c2, c1, x[M2], x[E2], p1 / p2
    specific = e_up / m_up
    flow, steep, square = discharge(p.port_area, specific, m_up, c_up, c_down, ratio, PATCH)
    flow *= sign
    return flow, flow * GAMMA * specific, -steep / square


@compiled_bare
def all_rates(
    t: float, x: Floats, p: Parameters, mode: Integers, push: float, drag: float, out: Floats
) -> None:
    """All time derivatives into out, port and leaks with them: for explicit methods; see `rates`."""
    q, power, _change = port(p, x)
    seal, seal_power, blow, blow_power, _slope = leaks(p, x)
    rates(t, x, p, mode, q - blow, push, drag, out)
    out[M1] -= q + seal
    out[E1] -= power + seal_power
    out[M2] += q - blow
    out[E2] += power - blow_power
    out[LEAKED] = seal_power + blow_power
