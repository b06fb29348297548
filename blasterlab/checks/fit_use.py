"""What is asked before parts are ordered: which ring, does it stay in the tube, does the tube bear the shot.

What it is for: the answers of `seal`, `fit` and `strength` put together for one bench question each.  What it
leaves out: the sentences (``report.fit``).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from blasterlab import units
from blasterlab.build import Build
from blasterlab.checks import strength
from blasterlab.checks.all import check_build
from blasterlab.checks.finding import Finding
from blasterlab.checks.fit import SealTravel, travel_of
from blasterlab.checks.seal import SealFit, rings_for, seal_fit, wraps_for
from blasterlab.checks.seal_friction import SealFriction, seal_friction
from blasterlab.parts.materials import Adhesive, Material, adhesives, material
from blasterlab.parts.nest import nested_energy
from blasterlab.parts.rings import TAPE, ring
from blasterlab.shot.equations import S, U
from blasterlab.shot.simulate import Shot
from blasterlab.units import Quantity, QuantityLike

NEAR = 5  # rings that are offered beside the chosen one
MANY = 100  # that are tried with tape: a thin ring on tape may do where the thick ones have no room


@dataclass(frozen=True)
class SealPick:
    """A ring with its turns of tape, its friction, and other rings that would do.

    Attributes
    ----------
    fit : SealFit [-]
        The ring in its groove.
    friction : SealFriction [N]
        What it may drag with.
    others : tuple of SealFit [-]
        The best for this bore and groove, each with the tape that it needs.
    bore, groove, width, tape : Quantity [mm]
        What it was asked for; the tape's thickness as wound.
    note : str [-]
        What the build did not tell and was put in, in words; "" for nothing.
    """

    fit: SealFit
    friction: SealFriction
    others: tuple[SealFit, ...]
    bore: Quantity
    groove: Quantity
    width: Quantity
    tape: Quantity
    note: str = ""


def pick_seal(
    bore: QuantityLike,
    groove: QuantityLike,
    width: QuantityLike,
    size: str = "",
    wraps: int | None = None,
    tape: QuantityLike = TAPE,
    tape_stretch: float = 0.0,
    moving: bool = True,
    tolerances: Mapping[str, QuantityLike] | None = None,
) -> SealPick:
    """Which ring with how many turns of tape, in this bore and groove.

    Parameters
    ----------
    bore, groove, width : Quantity or str [length]
        As for `seal_fit`.
    size : str [-]
        The builder's ring, as for `ring`; "" takes the best of the list.
    wraps : int or None [-]
        Turns of tape; None winds as many as the ring needs.
    tape : Quantity or str [length]
        Thickness of the tape as it comes.
    tape_stretch : float [-]
        By what share it is stretched as it is wound.
    moving : bool [-]
        Whether the ring slides.
    tolerances : mapping of str to Quantity or str, or None [length]
        As for `seal_fit`.

    Returns
    -------
    SealPick
        The ring, its friction, and others.

    Raises
    ------
    UnitError
        As `seal_fit`, and where no ring of the list comes near.
    """
    args = (bore, groove, width)
    plain: dict[str, Any] = {"tape": tape, "tape_stretch": tape_stretch, "moving": moving}

    def wound(one: SealFit) -> SealFit:
        tape_helps = wraps is None and "loose" in one.faults
        return (wraps_for(one.ring, *args, **plain) if tape_helps else None) or one

    tried = map(wound, rings_for(*args, MANY, wraps=wraps or 0, **plain))
    near = sorted(tried, key=lambda one: len(one.faults))[:NEAR]
    if not size.strip() and not near:
        raise units.UnitError("ring: no ring of the list comes near this bore and groove; type your own")
    part = ring(size) if size.strip() else near[0].ring
    found = wound(seal_fit(part, *args, wraps=wraps or 0, **plain))
    found = seal_fit(part, *args, wraps=found.wraps, tolerances=tolerances, **plain)
    wide, deep, across, thick = (units.parse(value, "length") for value in (*args, tape))
    wound_tape = thick / (1.0 + tape_stretch)
    return SealPick(found, seal_friction(found, bore), tuple(near), wide, deep, across, wound_tape)


@dataclass(frozen=True)
class BothEnds:
    """A build whose seal, rod and lengths are told, and where its seal stands at both ends of the stroke.

    Attributes
    ----------
    build : Build [-]
        The build.
    travel : SealTravel [m]
        With the tolerances of the build.
    findings : tuple of Finding [-]
        Of the whole build, the gravest first.
    note : str [-]
        What the build did not tell and was put in, in words; "" for nothing.
    """

    build: Build
    travel: SealTravel
    findings: tuple[Finding, ...]
    note: str = ""


def both_ends(build: Build, kept: dict[object, list[Finding]] | None = None) -> BothEnds:
    """Where the seal stands at the catch and at the front stop, and all findings of the build.

    Parameters
    ----------
    build : Build [-]
        With ring, setback and front gap told.
    kept : dict or None [-]
        As for `check_build`.

    Returns
    -------
    BothEnds
        The answer.

    Raises
    ------
    UnitError
        A length that is not told, or a tolerance too large for its length.
    """
    travel = travel_of(build)
    if travel is None:
        raise units.UnitError(_untold(build, "ring", "setback", "front_gap"))
    return BothEnds(build, travel, tuple(check_build(build, kept)))


def _untold(build: Build, *keys: str) -> str:
    """A fault that names the keys of [fit] that a build does not tell."""
    untold = ", ".join(f"fit.{key}" for key in keys if getattr(build.fit, key) is None)
    return f"{untold}: not in the build text"


@dataclass(frozen=True)
class TubeUse:
    """What the plunger tube, its front stop and its glue line must bear.

    Attributes
    ----------
    shot : Shot [-]
        The shot.
    material : Material [-]
        Of the tube.
    factor : float [-]
        What its strength is divided by.
    blocked : Quantity [kPa]
        Absolute pressure with the barrel blocked.
    in_shot, in_block : TubeStress [MPa]
        At the shot's peak pressure and with the barrel blocked.
    margin : float [-]
        How many times the allowed stress covers that of the blocked barrel.
    blow, empty : StopLoad [-]
        The plunger at its front stop with its pad: as shot, and fired with nothing in the barrel.
    catch : CatchLoad or None [-]
        What the catch bears, where the build tells its area and material.
    adhesive : Adhesive [-]
        Of the plug in the tube's end.
    push, glue : Quantity [N, MPa]
        On that plug and its mean shear in the glue line, the barrel blocked.
    note : str [-]
        What the build did not tell and was put in, in words; "" for nothing.
    """

    shot: Shot
    material: Material
    factor: float
    blocked: Quantity
    in_shot: strength.TubeStress
    in_block: strength.TubeStress
    margin: float
    blow: strength.StopLoad
    empty: strength.StopLoad
    catch: strength.CatchLoad | None
    adhesive: Adhesive
    push: Quantity
    glue: Quantity
    note: str = ""


def tube_use(shot: Shot, adhesive: str, overlap: QuantityLike) -> TubeUse:
    """What tube, front stop and glue line bear in a shot, with the barrel blocked, and fired empty.

    Parameters
    ----------
    shot : Shot [-]
        Of a build that tells its tube's material and its pad.
    adhesive : str [-]
        A name of `adhesives`.
    overlap : Quantity or str [length]
        Length of the glued ring between tube and plug.

    Returns
    -------
    TubeUse
        Stresses, margin, blows and shear.

    Raises
    ------
    UnitError
        Values out of range, or a material or a pad that is not told.

    Notes
    -----
    The blow in the shot is that of the plunger with the springs' slow share of their mass, a third; where the
    dart leaves before the plunger arrives, at most what plunger and springs then still have.
    """
    build, known = shot.build, adhesives()
    pad, stiffness = build.fit.pad_thickness, build.fit.pad_stiffness
    if build.fit.tube_material is None or pad is None or stiffness is None:
        raise units.UnitError(_untold(build, "tube_material", "pad_thickness", "pad_stiffness"))
    if adhesive not in known:
        raise units.UnitError(f"adhesive: got {units.shown(adhesive)}; must be one of {', '.join(known)}")
    found, blocked = material(build.fit.tube_material), strength.blocked_pressure(build)
    sizes, used = (build.chamber.bore, build.chamber.wall), strength.tube_factor(build, found)
    peak, block = (strength.above_outside(build, pressure) for pressure in (shot.peak_pressure, blocked))
    moving = build.si["chamber.plunger_mass"] + sum(one.si_values().mass for one in build.springs) / 3
    hit = 0.5 * moving * shot.impact_speed.m_as("m/s") ** 2
    if hit == 0.0:  # the dart left first: what the plunger still has, and what the springs still give
        left = units.quantity(max(build.si["chamber.stroke"] - float(shot.state[S]), 0.0), "m")
        hit = 0.5 * moving * float(shot.state[U]) ** 2 + nested_energy(build.springs, "0 m", left).m_as("J")
    force = units.quantity(block.m_as("Pa") * 0.25 * math.pi * sizes[0].m_as("m") ** 2, "N")
    return TubeUse(
        shot, found, used, blocked, strength.tube_stress(*sizes, peak), strength.tube_stress(*sizes, block),
        strength.burst_margin(*sizes, block, found.name, used),
        strength.stop_load(units.quantity(hit, "J"), pad, stiffness),
        strength.stop_load(strength.empty_energy(build), pad, stiffness), strength.catch_load(build),
        known[adhesive], force, strength.glue_shear(force, sizes[0], overlap),
    )  # fmt: skip
