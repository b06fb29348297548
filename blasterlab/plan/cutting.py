"""Cutting a spring: what each cut does to rate, energy, pull and muzzle velocity, and which cut to make.

What it is for: a cut list to read before the cutters come out, and the cut that reaches a wanted muzzle
velocity, solved with the shot's own model.  What it leaves out: heat at the cut (grind wet, do not burn:
heat softens the wire) and a set that the spring has yet to take.

A cut can only be undone by another spring: cut less than the answer, shoot, and cut again.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from blasterlab import units
from blasterlab.build import Build, BuildError
from blasterlab.parts import coil
from blasterlab.parts.nest import nested_energy, nested_force
from blasterlab.shot.simulate import simulate
from blasterlab.units import Quantity, QuantityLike

if TYPE_CHECKING:
    import pandas as pd

_STEPS, _LOOK = 8, 40
_DEEPEST = 0.6  # of the active coils that a search may cut off: a choice of the kit


def with_cut(
    build: Build,
    to_length: QuantityLike | None = None,
    coils: float | None = None,
    end: str = "open",
    which: int = 0,
    spacer: bool = False,
) -> Build:
    """A build with one spring cut.

    Parameters
    ----------
    build : Build [-]
        The build; it is not changed.
    to_length : Quantity or str or None [length]
        New free length.
    coils : float or None [-]
        Or coils cut off, the end's own coil counted.
    end : str [-]
        ``"open"`` as cut, or ``"closed"`` when it is bent closed again.
    which : int [-]
        Which spring, from 0.
    spacer : bool [-]
        Fill the lost length with a spacer, so that the preload stays; else the seat stays.

    Returns
    -------
    Build
        The build with the cut spring.

    Raises
    ------
    UnitError
        A cut that cannot be, or no such spring.
    BuildError
        A spring that then goes solid before the catch.
    """
    if not 0 <= which < len(build.springs):
        raise units.UnitError(f"which: got {which}; this build has springs 0 to {len(build.springs) - 1}")
    old = build.springs[which]
    new = old.cut(to_length=to_length, coils=coils, end=end)
    if spacer:
        new = dataclasses.replace(new, preload=old.preload, gap=old.gap)
    springs = tuple(new if index == which else spring for index, spring in enumerate(build.springs))
    return dataclasses.replace(build, springs=springs)


def _reach(build: Build, end: str, which: int) -> tuple[float, float]:
    """Least and greatest length that a search cuts off [m]."""
    if not 0 <= which < len(build.springs):
        raise units.UnitError(f"which: got {which}; this build has springs 0 to {len(build.springs) - 1}")
    spring = build.springs[which]
    values, pitch = spring.si_values(), spring.pitch.m_as("m")
    kept, _ = coil.end_pair(spring.ends)
    try:
        ends = coil.end_text(f"{kept} / {end}")
    except ValueError as error:
        raise units.UnitError(f"end: {error}") from None

    def off(active: float) -> float:
        return values.free_length - float(coil.free_length(pitch, active, spring.si_wire, ends))

    least = max(off(spring.active_coils), 0.0)
    return least + 1e-6, off(max(1.0, (1 - _DEEPEST) * spring.active_coils))


def cut_list(
    build: Build,
    cuts: Sequence[QuantityLike] | None = None,
    end: str = "open",
    which: int = 0,
    spacer: bool = False,
) -> pd.DataFrame:
    """What a row of cuts does, each from the spring as it is now.

    Parameters
    ----------
    build : Build [-]
        The build.
    cuts : sequence of Quantity or str, or None [length]
        Lengths cut off; None takes eight up to a third of the free length.
    end, which, spacer : str, int, bool [-]
        As in `with_cut`.

    Returns
    -------
    DataFrame
        One row a cut, the uncut spring first: cut_off_m, free_length_m, active_coils, rate_N_m, preload_m,
        gap_m, energy_J (given from catch to front stop, all springs), peak_force_N (springs at the catch),
        muzzle_velocity_m_s, and rate_change, energy_change, velocity_change as parts of the uncut values.

    Raises
    ------
    UnitError
        A cut that cannot be.
    BuildError
        A cut spring that goes solid before the catch.
    """
    import pandas as pd

    least, most = _reach(build, end, which)
    spring = build.springs[which]
    free = spring.si_values().free_length
    if cuts is None:
        offs = np.linspace(least, min(most, free / 3), _STEPS)
    else:
        offs = np.array([units.si(cut, "length", f"cuts[{i}]") for i, cut in enumerate(cuts)])
    rows = [_row(build, which, 0.0)]
    for off in offs:
        to = units.quantity(free - float(off), "m")
        rows.append(
            _row(with_cut(build, to_length=to, end=end, which=which, spacer=spacer), which, float(off))
        )
    table = pd.DataFrame(rows)
    for name, column in {"rate": "rate_N_m", "energy": "energy_J", "velocity": "muzzle_velocity_m_s"}.items():
        first = float(table[column].iloc[0])
        table[f"{name}_change"] = table[column] / first - 1 if first > 0 else 0.0
    return table


def _row(build: Build, which: int, off: float) -> dict[str, float]:
    spring, stroke = build.springs[which], build.chamber.stroke
    values = spring.si_values()
    return {
        "cut_off_m": off,
        "free_length_m": values.free_length,
        "active_coils": spring.active_coils,
        "rate_N_m": values.rate,
        "preload_m": values.preload,
        "gap_m": values.gap,
        "energy_J": nested_energy(build.springs, "0 m", stroke).m_as("J"),
        "peak_force_N": nested_force(build.springs, stroke).m_as("N"),
        "muzzle_velocity_m_s": float(simulate(build).muzzle_velocity.m_as("m/s")),
    }


@dataclass(frozen=True)
class Cut:
    """The cut that reaches a wanted velocity.

    Attributes
    ----------
    build : Build [-]
        The build with the cut spring.
    cut_off, free_length : Quantity [m]
        What goes off, and what is left.
    coils_off : float [-]
        Coils that go off, the end's own coil counted.
    velocity : Quantity [m/s]
        What the cut build shoots in the model.
    per_millimetre : Quantity [m/s]
        What one millimetre more would change.
    """

    build: Build
    cut_off: Quantity
    free_length: Quantity
    coils_off: float
    velocity: Quantity
    per_millimetre: Quantity


def cut_to_reach(
    build: Build, velocity: QuantityLike, end: str = "open", which: int = 0, spacer: bool = False
) -> Cut:
    """The smallest cut after which a build shoots a wanted muzzle velocity.

    Parameters
    ----------
    build : Build [-]
        The build.
    velocity : Quantity or str [speed]
        Wanted muzzle velocity.
    end, which, spacer : str, int, bool [-]
        As in `with_cut`.

    Returns
    -------
    Cut
        The cut, solved to a thousandth of a millimetre in the model.

    Raises
    ------
    UnitError
        A velocity that no cut of up to 60 % of the active coils reaches; the message says what is reached.

    Notes
    -----
    With the seat kept, cutting takes energy away, so it tames a build; with a spacer it adds some, until the
    spring goes solid.  The search looks at 40 cuts and solves in the first interval that holds the answer.
    """
    from scipy.optimize import brentq

    wanted = units.si_in(velocity, "speed", "velocity", 0.1, 400.0, "a muzzle velocity")
    least, most = _reach(build, end, which)
    free = build.springs[which].si_values().free_length

    def cut(off: float) -> Build:
        return with_cut(build, units.quantity(free - off, "m"), end=end, which=which, spacer=spacer)

    def excess(off: float) -> float:
        return float(simulate(cut(off)).muzzle_velocity.m_as("m/s")) - wanted

    offs, misses = [], []
    for off in np.linspace(least, most, _LOOK):
        try:
            misses.append(excess(float(off)))
        except BuildError:  # it goes solid before the catch: so does every deeper cut with the same spacer
            break
        offs.append(float(off))
        if len(misses) > 1 and misses[-2] * misses[-1] <= 0:
            break
    if len(misses) < 2 or misses[-2] * misses[-1] > 0:
        now = simulate(build).muzzle_velocity
        reached = [miss + wanted for miss in misses] or [now.m_as("m/s")]
        low, high, is_now = (units.show(v, "speed", 4) for v in (min(reached), max(reached), now.m_as("m/s")))
        raise units.UnitError(
            f"velocity: got {units.show(wanted, 'speed', 4)}; uncut it shoots {is_now}, and the cuts looked "
            f"at reach {low} to {high}"
        )
    off = float(brentq(excess, offs[-2], offs[-1], xtol=1e-8))
    done, step = cut(off), 2.5e-4
    slope = (excess(min(off + step, offs[-1])) - excess(off)) / (min(off + step, offs[-1]) - off or 1.0)
    spring, old = done.springs[which], build.springs[which]
    return Cut(
        done,
        units.quantity(off, "m"),
        spring.free_length,
        float(old.total_coils - spring.total_coils),
        simulate(done).muzzle_velocity,
        units.quantity(slope * 1e-3, "m/s"),
    )
