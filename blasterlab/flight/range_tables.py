"""Tables over distance and over weather: the speed that remains, and what other air changes.

What it is for: the tables that a builder pins to the wall.  What it leaves out: the effect of the day's
air on the shot inside the blaster, which is `blasterlab.simulate`'s business.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Unpack

from blasterlab import units
from blasterlab.air import Air
from blasterlab.flight.fly import fly
from blasterlab.flight.launch import Flying, Launch, Settings, distance_si
from blasterlab.tables import pd
from blasterlab.units import QuantityLike

_LOSS = ["muzzle_velocity_m_s", "distance_m", "time_s", "speed_m_s", "speed_left", "energy_J",
         "energy_left"]  # fmt: skip
_HIGH = "300 m"  # a muzzle so high that no dart lands on the way


def loss_table(
    dart: Flying,
    speeds: QuantityLike | Sequence[QuantityLike] | None = None,
    *,
    distances: Sequence[QuantityLike] = ("0 m", "5 m", "10 m", "15 m", "20 m"),
    **launch: Unpack[Settings],
) -> pd.DataFrame:
    """Remaining speed and energy against distance, for one or several muzzle velocities.

    Parameters
    ----------
    dart : Build, Dart, Projectile or Launch [kg, m, -]
        As `Launch.of` takes it.
    speeds : Quantity, str, sequence of them, or None [m/s]
        Muzzle velocities; None takes that of a build or launch.
    distances : sequence of Quantity or str [m]
        With the bore along the line of sight; the ground is left out.
    **launch : Air, Wind, Quantity or str [m/s, rad, m]
        As `Launch.of` takes it.

    Returns
    -------
    DataFrame
        One row a muzzle velocity and distance; SI, the units in the names; fractions of the muzzle's.

    Raises
    ------
    UnitError
        As `fly`.

    Examples
    --------
    >>> from blasterlab.flight.projectile import Projectile
    >>> table = loss_table(Projectile("1 g", "12.7 mm", 0.7), "40 m/s", distances=["10 m"])
    >>> table["speed_left"].round(3).tolist()
    [0.591]
    """
    tables = []
    several: Sequence[Any] = speeds if isinstance(speeds, list | tuple) else [speeds]
    for speed in several:
        flight = fly(dart, speed, muzzle_height=_HIGH, **launch)
        start, table = flight.at("0 m"), flight.table_at(distances)
        table["muzzle_velocity_m_s"] = start.speed.m
        table["speed_left"] = table["speed_m_s"] / start.speed.m
        table["energy_left"] = table["energy_J"] / start.energy.m
        tables.append(table[_LOSS])
    return pd.concat(tables, ignore_index=True)


def air_effect(
    dart: Flying,
    speed: QuantityLike | None = None,
    *,
    distance: QuantityLike,
    airs: Mapping[str, Air] | None = None,
) -> pd.DataFrame:
    """What other air changes at one distance: the first is the one that the others are compared with.

    Parameters
    ----------
    dart, speed : Build, Dart, Projectile or Launch; Quantity, str or None [kg, m, m/s]
        As `Launch.of` takes them; the same speed in all airs.
    distance : Quantity or str [m]
        With the bore along the line of sight; the ground is left out.
    airs : mapping of str to Air, or None [-]
        Name -> air; None takes 20 °C, 0 °C, 35 °C, and 20 °C at 1500 m and at 3000 m.

    Returns
    -------
    DataFrame
        One row an air: density, time, drop, speed, and the changes of drop and speed; SI, units in the names.

    Raises
    ------
    UnitError
        As `fly`, and without any air.

    Examples
    --------
    >>> from blasterlab.flight.projectile import Projectile
    >>> table = air_effect(Projectile("1 g", "12.7 mm", 0.7), "40 m/s", distance="10 m")
    >>> table.loc["3000 m", "speed_change_m_s"].round(1)
    np.float64(4.2)
    """
    if airs is None:
        airs = {f"{t} °C": Air(temperature=units.quantity(float(t), "degC")) for t in (20, 0, 35)}
        for altitude in ("1500 m", "3000 m"):
            airs[altitude] = Air.standard(altitude, relative_humidity=0.5, temperature="20 degC")
    if not airs:
        raise units.UnitError('airs: none given; try {"cold": Air(temperature="0 degC")}')
    launch, x = Launch.of(dart, speed), units.quantity(distance_si(distance), "m")
    table = pd.concat([fly(launch, air=air, muzzle_height=_HIGH).table_at([x]) for air in airs.values()])
    table = table[["time_s", "drop_m", "speed_m_s"]].set_index(pd.Index(airs))
    table.insert(0, "density_kg_m3", [air.density.m_as("kg/m^3") for air in airs.values()])
    for column in ("drop_m", "speed_m_s"):
        table[column.replace("_", "_change_", 1)] = table[column] - table[column].iloc[0]
    return table
