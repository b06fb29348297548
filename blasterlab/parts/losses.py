"""The losses: friction, leaks, port, gas inertia and heat, each measured or calibrated, zero for none.

What it is for: everything between the spring's energy and the dart's that no drawing shows.  What it leaves
out: where the numbers come from (``bench.calibrate``).

Defaults: a port discharge coefficient of 0.8 is the middle of 0.6 to 0.85 for short holes (D. A. Jobson,
*Proc. Inst. Mech. Eng.* 169, 767 (1955); S. L. Bragg, *J. Mech. Eng. Sci.* 2, 35 (1960)).  Friction forces of
a few newtons: common practice, no source.  A spring's moving share of one third: Rayleigh, *The Theory of
Sound*, sec. 156.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from blasterlab import units
from blasterlab.parts.fields import Field, read_choice, read_fields, read_switch

FIELDS = {
    "port_discharge": Field("number", 0.05, 1.0, "0.6 to 0.85 for short holes, 0.95 for rounded ones"),
    "seal_friction": Field("force", 0.0, 2000.0, "running force of the plunger seal"),
    "seal_breakaway": Field(
        "force", 0.0, 5000.0, "to start the plunger; up to three times the running force"
    ),
    "seal_friction_per_pressure": Field(
        "friction per pressure", 0.0, 0.1, "growth with the pressure in front"
    ),
    "seal_leak_area": Field("area", 0.0, 1e-3, "effective area of the leak past the plunger"),
    "dart_breakaway": Field("force", 0.0, 500.0, "to start the dart"),
    "dart_friction": Field("force", 0.0, 500.0, "sliding force of the dart"),
    "dart_friction_per_pressure": Field(
        "friction per pressure", 0.0, 0.01, "growth with the pressure behind"
    ),
    "blowby_area": Field("area", 0.0, 1e-3, "effective area of the gap past the dart"),
    "spring_mass_fraction": Field("number", 0.0, 1.0, "share of the spring that moves: a third"),
    "stop_restitution": Field("number", 0.0, 0.99, "speed ratio at the front stop, 0 for a soft one"),
}
HEAT = ("none", "conduction")


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
    dart_breakaway, dart_friction : Quantity or str [force]
        Starting and sliding force of the dart; a starting force below the sliding one counts as equal.
    dart_friction_per_pressure : Quantity or str [force/pressure]
        Growth with the pressure behind the dart: soft foam is pressed outwards.
    blowby_area : Quantity or str [area]
        Effective area past the dart.
    spring_mass_fraction : float [-]
        Share of the spring's mass that moves with the plunger.
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
    seal_friction: Any = "3 N"
    seal_breakaway: Any = "0 N"
    seal_friction_per_pressure: Any = "0 N/kPa"
    seal_leak_area: Any = "0 mm^2"
    dart_breakaway: Any = "3 N"
    dart_friction: Any = "1 N"
    dart_friction_per_pressure: Any = "0 N/kPa"
    blowby_area: Any = "0 mm^2"
    spring_mass_fraction: float = 1 / 3
    gas_inertia: bool = True
    air_ahead: bool = True
    wall_heat: str = "none"
    stop_restitution: float = 0.0

    def __post_init__(self) -> None:
        wrong = []
        for check in (
            lambda: read_fields(self, "losses", FIELDS),
            lambda: read_switch(self.gas_inertia, "losses.gas_inertia"),
            lambda: read_switch(self.air_ahead, "losses.air_ahead"),
            lambda: read_choice(self.wall_heat, "losses.wall_heat", HEAT),
        ):
            try:
                check()
            except units.UnitError as error:
                wrong.append(str(error))
        if wrong:
            raise units.UnitError("\n".join(wrong))
