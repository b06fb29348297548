"""Cutting a spring: what each cut does to rate, energy, pull and muzzle velocity, and which cut to make.

What it is for: a cut list to read before the cutters come out, and the cut that reaches a wanted muzzle
velocity, solved with the shot's own model.  What it leaves out: heat at the cut (grind wet, do not burn:
heat softens the wire) and a set that the spring has yet to take.

A cut can only be undone by another spring: cut less than the answer, shoot, and cut again.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from blasterlab import units
from blasterlab.bench.predict import Prediction, predict
from blasterlab.build import Build, BuildError
from blasterlab.doors import Spoken
from blasterlab.parts import coil
from blasterlab.parts.nest import nested_energy, nested_force
from blasterlab.parts.spring import Spring
from blasterlab.shot.simulate import simulate
from blasterlab.shot.speed_range import range_of
from blasterlab.tables import pd
from blasterlab.units import Quantity, QuantityLike

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
    old = _spring(build, which)
    new = old.cut(to_length=to_length, coils=coils, end=end)
    if spacer:
        new = dataclasses.replace(new, preload=old.preload, gap=old.gap)
    springs = tuple(new if index == which else spring for index, spring in enumerate(build.springs))
    return dataclasses.replace(build, springs=springs)


def _spring(build: Build, which: int) -> Spring:
    """The spring at a place; UnitError beyond the last."""
    if not 0 <= which < len(build.springs):
        raise units.UnitError(f"which: got {which}; this build has springs 0 to {len(build.springs) - 1}")
    return build.springs[which]


def reach(build: Build, end: str, which: int) -> tuple[float, float]:
    """Least and greatest length that a search cuts off [m]; UnitError for no such spring or end."""
    spring = _spring(build, which)
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
        muzzle_velocity_m_s with its 90 % range velocity_low_m_s and velocity_high_m_s, and rate_change,
        energy_change, velocity_change as parts of the uncut values.

    Raises
    ------
    UnitError
        A cut that cannot be.
    BuildError
        A cut spring that goes solid before the catch.
    """
    least, most = reach(build, end, which)
    spring = build.springs[which]
    free = spring.si_values().free_length
    if cuts is None:
        offs = np.linspace(least, min(most, free / 3), _STEPS)
    else:
        why = "what is cut off a spring of that length"
        offs = np.array(
            [units.si_in(cut, "length", f"cuts[{i}]", 0.0, free, why) for i, cut in enumerate(cuts)]
        )
    rows = [_row(build, which, 0.0)]
    for off in offs:
        to = units.quantity(free - float(off), "m")
        shorter = with_cut(build, to_length=to, end=end, which=which, spacer=spacer)
        rows.append(_row(shorter, which, float(off)))
    table = pd.DataFrame(rows)
    for name, column in {"rate": "rate_N_m", "energy": "energy_J", "velocity": "muzzle_velocity_m_s"}.items():
        first = float(table[column].iloc[0])
        table[f"{name}_change"] = table[column] / first - 1 if first > 0 else 0.0
    return table


def _row(build: Build, which: int, off: float) -> dict[str, float]:
    spring, stroke = build.springs[which], build.chamber.stroke
    values, speed = spring.si_values(), range_of(build)
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
        "velocity_low_m_s": float(speed.low),
        "velocity_high_m_s": float(speed.high),
    }


@dataclass(frozen=True)
class Cut(Spoken):
    """The cut that reaches a wanted velocity, or keeps a shot under a cap.

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
    expected : Prediction [-]
        The same velocity with its range, of the mean and of one shot.
    """

    build: Build
    cut_off: Quantity
    free_length: Quantity
    coils_off: float
    velocity: Quantity
    per_millimetre: Quantity
    expected: Prediction


def cut_to_reach(
    build: Build,
    velocity: QuantityLike,
    end: str = "open",
    which: int = 0,
    spacer: bool = False,
    *,
    level: float | None = None,
) -> Cut:
    """The smallest cut after which a build shoots a wanted muzzle velocity, or keeps under a cap.

    Parameters
    ----------
    build : Build [-]
        The build.
    velocity : Quantity or str [speed]
        Wanted muzzle velocity, or a cap.
    end, which, spacer : str, int, bool [-]
        As in `with_cut`.
    level : float or None [-]
        None: `velocity` is wanted, and the model reaches it. A level, such as 0.9: it is a cap, and the upper
        end of one shot's range at that level comes down to it, as far as losses and springs are known.

    Returns
    -------
    Cut
        The cut, solved to a thousandth of a millimetre in the model.

    Raises
    ------
    UnitError
        A velocity that no cut of up to 60 % of the active coils reaches; the message says what is reached.
    ValueError
        A level outside its range.

    Notes
    -----
    With the seat kept, cutting takes energy away, so it tames a build; with a spacer it adds some, until the
    spring goes solid.  The search looks at 40 cuts and solves in the first interval that holds the answer.
    """
    wanted = units.si_in(velocity, "speed", "velocity", 0.1, 400.0, "a muzzle velocity")
    least, most = reach(build, end, which)
    free = build.springs[which].si_values().free_length

    def cut(off: float) -> Build:
        left = units.quantity(round(1e3 * (free - off), 5), "mm")
        return with_cut(build, left, end=end, which=which, spacer=spacer)

    def speed(build: Build) -> float:
        if level is None or simulate(build).muzzle_velocity.m <= 0.0:
            return float(simulate(build).muzzle_velocity.m_as("m/s"))
        return float(predict(build, level=level).next_high.m_as("m/s"))

    off, seen = _first_cut(lambda off: speed(cut(off)), wanted, least, most)
    if off is None:
        what = "uncut it shoots" if level is None else "uncut the upper end of one shot's range is"
        ends = speed(build), min(seen, default=speed(build)), max(seen, default=speed(build))
        now, low, high = (units.show(v, "speed") for v in ends)
        raise units.UnitError(
            f"velocity: got {units.show(wanted, 'speed')}; {what} {now}, and the cuts tried give "
            f"{low} to {high}"
        )
    done, further = cut(off), cut(min(off + 2.5e-4, most))
    spring, velocities = done.springs[which], [simulate(one).muzzle_velocity for one in (done, further)]
    step = (spring.free_length - further.springs[which].free_length).m_as("mm") or 1.0
    return Cut(
        done,
        build.springs[which].free_length - spring.free_length,
        spring.free_length,
        float(build.springs[which].total_coils - spring.total_coils),
        velocities[0],
        (velocities[1] - velocities[0]) / step,
        predict(done, level=0.9 if level is None else level),
    )


def _first_cut(
    speed: Callable[[float], float], wanted: float, least: float, most: float
) -> tuple[float | None, list[float]]:
    """The smallest cut [m] that reaches a wanted speed, None if there is none; and the speeds seen [m/s]."""
    from scipy.optimize import brentq

    offs: list[float] = []
    seen: list[float] = []
    for off in np.linspace(least, most, _LOOK).tolist():
        try:
            seen.append(speed(off))
        except BuildError:  # it goes solid before the catch: so does every deeper cut with the same spacer
            break
        offs.append(off)
        if len(seen) > 1 and (seen[-2] - wanted) * (seen[-1] - wanted) <= 0:
            return float(brentq(lambda off: speed(off) - wanted, offs[-2], offs[-1], xtol=1e-8)), seen
    return None, seen
