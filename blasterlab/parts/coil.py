"""Helical compression springs of round wire as plain formulas on SI floats or arrays.

What it is for: rate, stress, lengths, mass, frequency, buckling and gaps, without units and without checks,
for the parts and the checks above.  What it leaves out: conical and progressive springs, and extension or
torsion springs.

Ends are written as one word for both (``"closed"``) or two with a slash (``"closed / open"``, what cutting
leaves).  Each end counts half of the usual table for a pair of equal ends, so that mixed ends need no table.

References
----------
R. G. Budynas, J. K. Nisbett, *Shigley's Mechanical Engineering Design*, 9th ed., 2011, ch. 10, Table 10-1.
EN 13906-1:2013, *Cylindrical helical springs made from round wire and bar, Part 1: Compression springs*.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple, TypeAlias, TypeVar

import numpy as np

from blasterlab.faults import fault, shown
from blasterlab.units import UnitError

#: What the formulas take and return: SI floats, or arrays of them that broadcast.
Array: TypeAlias = np.ndarray[Any, np.dtype[np.float64]]
Number: TypeAlias = float | Array
N = TypeVar("N", float, Array)


class End(NamedTuple):
    """What one end costs: dead coils, solid length and free length in wires, free length in pitches [-]."""

    dead: float
    solid_wires: float
    free_wires: float
    free_pitches: float


#: The kinds of end; sums over both ends give Shigley's Table 10-1 (plain, plain and ground, squared,
#: squared and ground).
END_KINDS: dict[str, End] = {
    "closed and ground": End(1.0, 0.0, 1.0, 0.0),
    "closed": End(1.0, 0.5, 1.5, 0.0),
    "open and ground": End(0.5, 0.0, 0.0, 0.5),
    "open": End(0.0, 0.5, 0.5, 0.0),
}


def end_pair(ends: object) -> tuple[str, str]:
    """Both ends by name, the closed one first; UnitError when a name is none of `END_KINDS`."""
    parts = [" ".join(part.lower().split()) for part in ends.split("/")] if isinstance(ends, str) else []
    if len(parts) == 1:
        parts = parts * 2
    if len(parts) != 2 or any(part not in END_KINDS for part in parts):
        kinds = " or ".join(f'"{kind}"' for kind in END_KINDS)
        raise UnitError(fault("ends", shown(ends), f'{kinds}, or two of them as "closed / open"'))
    first, second = sorted(parts, key=list(END_KINDS).index)
    return first, second


def end_text(ends: object) -> str:
    """The ends in their one spelling: ``"closed"``, ``"closed / open"``."""
    first, second = end_pair(ends)
    return first if first == second else f"{first} / {second}"


def end_sum(ends: str) -> End:
    """The cost of both ends together [-]."""
    first, second = (END_KINDS[kind] for kind in end_pair(ends))
    return End(*(a + b for a, b in zip(first, second, strict=True)))


def total_coils(active: N, ends: str) -> N:
    """Total coils n_t from active coils n [-] (Shigley, Table 10-1)."""
    return active + end_sum(ends).dead


def active_coils(total: N, ends: str) -> N:
    """Active coils n from total coils n_t [-] (Shigley, Table 10-1)."""
    return total - end_sum(ends).dead


def solid_length(wire: N, coils: N, ends: str) -> N:
    """Solid length [m] from wire diameter [m] and total coils (Shigley, Table 10-1)."""
    return wire * (coils + end_sum(ends).solid_wires)


def solid_length_upper(wire: N, coils: N, ends: str) -> N:
    """Largest solid length [m]: d n_t when ground, d (n_t + 1.5) when not (EN 13906-1:2013); total coils."""
    return wire * (coils + 1.5 * end_sum(ends).solid_wires)


def free_length(pitch: N, active: N, wire: N, ends: str) -> N:
    """Free length [m] from pitch [m], active coils and wire [m] (Shigley, Table 10-1)."""
    end = end_sum(ends)
    return pitch * (active + end.free_pitches) + wire * end.free_wires


def pitch(length: N, active: N, wire: N, ends: str) -> N:
    """Pitch [m] from free length [m], active coils and wire [m] (Shigley, Table 10-1)."""
    end = end_sum(ends)
    return (length - wire * end.free_wires) / (active + end.free_pitches)


def active_from_pitch(length: N, pitch: N, wire: N, ends: str) -> N:
    """Active coils [-] from free length, measured pitch and wire, all [m] (Shigley, Table 10-1)."""
    end = end_sum(ends)
    return (length - wire * end.free_wires) / pitch - end.free_pitches


def rate(wire: Number, mean_diameter: Number, coils: Number, shear_modulus: Number) -> Number:
    """Rate G d^4 / (8 D^3 n) [N/m] from wire and mean diameter [m], active coils and G [Pa]."""
    return shear_modulus * wire**4 / (8.0 * mean_diameter**3 * coils)


def mass(wire: Number, mean_diameter: Number, coils: Number, density: Number) -> Number:
    """Wire mass (pi d^2/4) (pi D n_t) rho [kg] from d, D [m], total coils and density [kg/m^3]."""
    return math.pi**2 / 4.0 * wire**2 * mean_diameter * coils * density


def shear_stress(force: Number, wire: Number, mean_diameter: Number) -> Number:
    """Uncorrected shear stress 8 D F / (pi d^3) [Pa] from force [N], d and D [m]."""
    return 8.0 * mean_diameter * force / (math.pi * wire**3)


def bergstraesser(index: Number) -> Number:
    """Curvature factor (w + 0.5)/(w - 0.75) [-] from the index w = D/d (EN 13906-1; Shigley eq. 10-5)."""
    return (index + 0.5) / (index - 0.75)


def minimum_gaps(wire: Number, mean_diameter: Number, coils: Number) -> Number:
    """Sum of minimum gaps n (0.0015 D^2/d + 0.1 d) [m] for static loads, active coils (EN 13906-1:2013)."""
    return coils * (0.0015 * mean_diameter**2 / wire + 0.1 * wire)


def natural_frequency(
    wire: Number, mean_diameter: Number, coils: Number, shear_modulus: Number, density: Number
) -> Number:
    """First surge frequency d/(2 pi n D^2) sqrt(G/(2 rho)) [Hz], both ends held.

    EN 13906-1:2013 prints 3560 d/(n D^2) sqrt(G/rho) in mm, N/mm^2 and kg/dm^3, which is this, rounded up
    by 0.03 %.
    """
    return wire / (2.0 * math.pi * coils * mean_diameter**2) * np.sqrt(shear_modulus / (2.0 * density))


def buckling_deflection(
    length: Number, mean_diameter: Number, shear_modulus: Number, youngs_modulus: Number, seating: Number
) -> Number:
    """Compression at which a free spring buckles [m]; infinite when it never does (EN 13906-1:2013).

    From free length and mean diameter [m], G, E [Pa] and the seating coefficient (0.5 both ends held flat,
    0.7 one end pivoted, 1 both pivoted, 2 one end free).
    """
    less = 1.0 - shear_modulus / youngs_modulus
    under = (
        1.0
        - less / (0.5 + shear_modulus / youngs_modulus) * (math.pi * mean_diameter / (seating * length)) ** 2
    )
    bent = length * 0.5 / less * (1.0 - np.sqrt(np.maximum(under, 0.0)))
    return np.where(under < 0.0, np.inf, bent)[()]


def impact_stress(speed: Number, shear_modulus: Number, density: Number) -> Number:
    """Shear stress added by stopping or driving an end at a speed: v sqrt(2 rho G) [Pa] (EN 13906-1:2013)."""
    return speed * np.sqrt(2.0 * density * shear_modulus)


def grown_diameter(wire: Number, mean_diameter: Number, pitch: Number) -> Number:
    """Outer diameter at solid [m] when the ends do not turn: sqrt(D^2 + (p^2 - d^2)/pi^2) + d.

    The wire keeps its length while the helix flattens from the free pitch p to d.
    """
    return np.sqrt(mean_diameter**2 + np.maximum(pitch**2 - wire**2, 0.0) / math.pi**2) + wire
