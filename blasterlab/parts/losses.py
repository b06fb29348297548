"""The losses: friction, leaks, port, gas inertia and heat, each measured or calibrated, zero for none.

What it is for: everything between the spring's energy and the dart's that no drawing shows.  What it leaves
out: where the numbers come from (``bench.calibrate``).

Defaults:

* port discharge 0.8: *published*, from the 0.6 to 0.85 of short holes (D. A. Jobson, *Proc. Inst. Mech. Eng.*
  169, 767 (1955); S. L. Bragg, *J. Mech. Eng. Sci.* 2, 35 (1960));
* waves along the springs: *published*, d'Alembert's in K. F. Graff, *Wave Motion in Elastic Solids*, 1975,
  ch. 2; a moving share of 1/3 where they are off: *published*, Rayleigh, *The Theory of Sound*, sec. 156;
* friction and breakaway of a few newtons; restitution 0, a stop with a pad: *common practice, no source*;
* no leak, no growth of friction with pressure, no wall heat; gas inertia and the air ahead: choices of the
  kit, which assumes no loss that was not measured and leaves out no law that is known.
"""

from __future__ import annotations

from dataclasses import dataclass

from blasterlab import units
from blasterlab.fields import Field, choice_faults, read_fields, switch_faults
from blasterlab.units import Quantity

FIELDS = {
    "port_discharge": Field("number", 0.05, 1.0, "0.6 to 0.85 for short holes, 0.95 for rounded ones"),
    "seal_friction": Field("force", 0.0, 2000.0, "running force of the plunger seal"),
    "seal_breakaway": Field(
        "force", 0.0, 5000.0, "to start the plunger; up to three times the running force"
    ),
    "seal_friction_per_pressure": Field(
        "friction per pressure", 0.0, 0.1, "growth with the pressure in front"
    ),
    "seal_leak_area": Field(
        "area", 0.0, 1e-4, "effective area of the leak past the plunger; a larger hole is no leak"
    ),
    "seal_leak_length": Field("length", 1e-4, 0.2, "of the gap, along the plunger", optional=True),
    "dart_breakaway": Field("force", 0.0, 500.0, "to start the dart"),
    "dart_friction": Field("force", 0.0, 500.0, "sliding force of the dart"),
    "dart_friction_per_pressure": Field(
        "friction per pressure", 0.0, 0.01, "growth with the pressure behind"
    ),
    "blowby_area": Field("area", 0.0, 1e-3, "effective area of the gap past the dart"),
    "blowby_length": Field("length", 1e-4, 0.5, "of the gap, along the dart", optional=True),
    "spring_mass_fraction": Field("number", 0.0, 1.0, "share of the spring that moves as one: a third"),
    "stop_restitution": Field(
        "number", 0.0, 0.9, "speed ratio at the front stop, 0 for a soft one; none gives back nearly all"
    ),
}
HEAT, SWITCHES = ("none", "conduction"), ("gas_inertia", "air_ahead", "spring_waves")


@dataclass(frozen=True)
class Losses:
    """Friction, leaks and the other losses of a build.

    Parameters
    ----------
    port_discharge : float [-]
        Discharge coefficient of the port.
    seal_friction, seal_breakaway : Quantity or str [force]
        Running and starting force of the plunger seal; a starting force below the running counts as equal.
    seal_friction_per_pressure : Quantity or str [force/pressure]
        Growth of the seal friction with the pressure in the chamber above ambient.
    seal_leak_area : Quantity or str [area]
        Effective area (discharge coefficient included) past the plunger seal.
    seal_leak_length : Quantity or str or None [length]
        Length of the gap around the plunger.  Where it is given, the flow is laminar, through a ring as wide
        as bore and area say, unless an orifice of that area lets less through; None leaves it an orifice.
    dart_breakaway, dart_friction : Quantity or str [force]
        Starting and sliding force of the dart; a starting force below the sliding one counts as equal.
    dart_friction_per_pressure : Quantity or str [force/pressure]
        Growth with the pressure behind the dart: soft foam is pressed outwards.
    blowby_area : Quantity or str [area]
        Effective area past the dart.
    blowby_length : Quantity or str or None [length]
        Length of the gap around the dart, as for the seal.
    spring_mass_fraction : float [-]
        Share of each spring's mass that moves with the plunger where `spring_waves` is off; else not used.
    spring_waves : bool [-]
        Whether waves run along the springs, as they do; dead coils at the plunger's end move with it.
    gas_inertia, air_ahead : bool [-]
        Lagrange's correction; the air column in the barrel ahead of the dart.
    wall_heat : str [-]
        ``"none"`` or ``"conduction"``.
    stop_restitution : float [-]
        Rebound speed over impact speed at the front stop.

    Raises
    ------
    UnitError
        Every value that is unreadable or out of range, by dotted name.
    """

    port_discharge: float = 0.8
    seal_friction: Quantity = units.quantity(3.0, "N")
    seal_breakaway: Quantity = units.quantity(0.0, "N")
    seal_friction_per_pressure: Quantity = units.quantity(0.0, "N/kPa")
    seal_leak_area: Quantity = units.quantity(0.0, "mm^2")
    seal_leak_length: Quantity | None = None
    dart_breakaway: Quantity = units.quantity(3.0, "N")
    dart_friction: Quantity = units.quantity(1.0, "N")
    dart_friction_per_pressure: Quantity = units.quantity(0.0, "N/kPa")
    blowby_area: Quantity = units.quantity(0.0, "mm^2")
    blowby_length: Quantity | None = None
    spring_mass_fraction: float = 1 / 3
    spring_waves: bool = True
    gas_inertia: bool = True
    air_ahead: bool = True
    wall_heat: str = "none"
    stop_restitution: float = 0.0

    def __post_init__(self) -> None:
        wrong = choice_faults(self.wall_heat, "losses.wall_heat", HEAT)
        for name in SWITCHES:
            wrong += switch_faults(getattr(self, name), f"losses.{name}")
        read_fields(self, "losses", FIELDS, wrong)
