"""Options: what stands at each place of a build, every part on sale with each of its cuts, once.

What it is for: a few hundred parts from which a search combines its candidates as columns, and the one build
of a candidate.  What it leaves out: the combinations and their shots (``search``).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from blasterlab import units
from blasterlab.build import Build, BuildError
from blasterlab.buildtext import Part
from blasterlab.checks.finding import SEVERITIES
from blasterlab.checks.seal import check_seal
from blasterlab.faults import fault
from blasterlab.parts.fit import Fit
from blasterlab.parts.spring import Spring, seated
from blasterlab.plan.stock import Item, Stock, StockError, spring_of
from blasterlab.plan.wants import Wants
from blasterlab.shot.parameters import Floats
from blasterlab.units import QuantityLike
from blasterlab.values import derive, part_si

#: Place in a build -> its kinds of stock.
PLACES = {"springs[0]": "spring", "chamber": "tube", "barrel": "barrel", "dart": "dart"}
#: The barrel's shortest cut and the step between cuts, where none are asked for.
SHORTEST, STEP = 0.10, 0.02
COILS = (0.0, 2.0, 4.0, 6.0, 8.0)


@dataclass(frozen=True)
class Option:
    """A part at its place, or the code of why it cannot be there.

    Attributes
    ----------
    part : part or None [-]
        As it goes into the build.
    names : dict of str to str [-]
        What it is, by kind; ``"own"`` for the part of the build at hand.
    price, lead_time : float [currency, days]
        Of all in it; not a number where the list does not say.
    cut : float [coils, or m]
        Coils cut off a spring; a barrel's length.
    off : float [m]
        What is cut off a barrel.
    outer : float [m]
        Outside diameter of a tube.
    fit : Fit or None [-]
        What a tube and its ring make of the fit.
    reason : str [-]
        Code, when there is no part.
    """

    part: Part | None
    names: dict[str, str]
    price: float = 0.0
    lead_time: float = 0.0
    cut: float = 0.0
    off: float = 0.0
    outer: float = 0.0
    fit: Fit | None = None
    reason: str = ""


def options(
    stock: Stock, wants: Wants, build: Build, coils: Sequence[float], lengths: Sequence[QuantityLike] | None
) -> list[list[Option]]:
    """The options of each of `PLACES`, in the order of the stock and of the cuts.

    Parameters
    ----------
    stock : Stock [-]
        Parts on sale.
    wants : Wants [-]
        Of which what is owned counts here.
    build : Build [-]
        What stays, and the parts that are owned.
    coils : sequence of float [-]
        Coils cut off each spring.
    lengths : sequence of Quantity or str, or None [length]
        Barrel lengths; None takes every 2 cm from 10 cm on.

    Returns
    -------
    list of list of Option
        One list for each place.

    Raises
    ------
    StockError
        No springs, tubes or barrels and none owned; an unknown name of what is owned.
    UnitError
        A length that cannot be read, or that no barrel has.
    """
    known = {item.name for item in stock.items} | set(PLACES.values()) | {"ring"}
    if unknown := [name for name in wants.owned if name not in known]:
        raise StockError(fault("wants.owned", ", ".join(unknown), "names of parts in the stock, or kinds"))
    for kind in ("spring", "tube", "barrel"):
        if not stock.of(kind) and kind not in wants.owned:
            must = f'a list with {kind}s, or wants.owned = ("{kind}",), which keeps the one in the build'
            raise StockError(fault("stock", f"no {kind}s", must))
    cuts = [units.si(v, "length", f"lengths[{i}]") for i, v in enumerate(() if lengths is None else lengths)]
    bought = [item for item in stock.of("barrel") if "barrel" not in wants.owned]
    longest = max((units.si(item.values["length"], "length") for item in bought), default=0.0)
    if cuts and bought and max(cuts) > longest * (1 + 1e-9):
        must = f"at most {units.show(longest, 'length')}, the longest barrel in the stock"
        raise units.UnitError(fault("lengths", units.show(max(cuts), "length"), must, "a cut only shortens"))

    own = {kind: getattr(build, place.removesuffix("s[0]")) for place, kind in PLACES.items()}

    def each(kind: str, make: Callable[[Item], list[Option]], **more: Any) -> list[Option]:
        items = () if kind in wants.owned else stock.of(kind)
        found = [_costed(option, item, wants) for item in items for option in make(item)]
        return found or [Option(own[kind], {kind: "own"}, **more)]

    def barrels(item: Item) -> list[Option]:
        most = units.si(item.values["length"], "length")
        asked = cuts if lengths is not None else np.arange(SHORTEST, most * (1 + 1e-9), STEP).tolist()
        return [_barrel(item, length, most, build) for length in asked or [most]]

    outer, length = build.si["chamber.bore"] + 2.0 * build.si["chamber.wall"], build.si["barrel.length"]
    tubes = each("tube", lambda item: [_tube(item, build)], outer=outer)
    return [
        each("spring", lambda item: [_spring(item, off, build) for off in coils]),
        _with_rings(tubes, stock, wants, build),
        each("barrel", barrels, cut=length),
        each("dart", lambda item: [_made(item, build, "dart", item.values)]),
    ]


def _costed(option: Option, item: Item, wants: Wants) -> Option:
    """An option with its price and lead time; what is owned costs nothing."""
    if item.name in wants.owned:
        return option
    told = (np.nan if value is None else value for value in (item.price, item.lead_time))
    price, lead = (a + b for a, b in zip((option.price, 0.0), told, strict=True))
    return dataclasses.replace(option, price=price, lead_time=float(np.maximum(option.lead_time, lead)))


def _made(item: Item, build: Build, part: str, values: Mapping[str, Any], **more: Any) -> Option:
    made = build.changed_part(part, {f"{part}.{key}": value for key, value in values.items()})
    return Option(made, {item.kind: item.name}, **more)


def _spring(item: Item, off: float, build: Build) -> Option:
    """A listed spring, cut and put in the seat that the build has."""
    old, names = build.spring, {"spring": item.name}
    seat = old.si_values().free_length - old.si_values().preload + old.si_values().gap
    new = spring_of(item.values)
    try:
        new = new.cut(coils=off) if off else new
    except units.UnitError:
        return Option(None, names, cut=off, reason="no_cut")
    fitted: dict[str, Any] = {**seated(new.si_values().free_length - seat)}
    fitted |= {"guide": old.guide, "guide_diameter": old.guide_diameter, "name": old.name}
    try:
        return Option(dataclasses.replace(new, **fitted), names, cut=off)
    except units.UnitError:
        return Option(None, names, cut=off, reason="solid")


def _tube(item: Item, build: Build) -> Option:
    """A listed tube, cut to the build's length; the plunger's mass and the dead volume go with its area."""
    sizes = ("inner_diameter", "outer_diameter", "length")
    inner, outer, length = (units.si(item.values[size], "length") for size in sizes)
    if length < build.si["chamber.tube_length"] * (1 - 1e-9):
        return Option(None, {"tube": item.name}, outer=outer, reason="tube_short")
    values: dict[str, Any] = {"bore": item.values["inner_diameter"]}
    values["wall"] = units.quantity(0.5 * (outer - inner), "m")
    wider = (inner / build.si["chamber.bore"]) ** 2
    if wider != 1.0:
        values["plunger_mass"] = build.chamber.plunger_mass * wider
        values["dead_volume"] = build.chamber.dead_volume * wider
    fit: dict[str, Any] = {"tube_material": item.values.get("material")}
    if build.fit.groove_diameter is not None:  # the groove is as deep in another plunger
        groove = units.si(build.fit.groove_diameter, "length") + inner - build.si["chamber.bore"]
        fit["groove_diameter"] = units.quantity(groove, "m")
    try:
        whole = dataclasses.replace(build.fit, **fit)
        return _made(item, build, "chamber", values, outer=outer, fit=whole)
    except (BuildError, units.UnitError):
        return Option(None, {"tube": item.name}, outer=outer, reason="ring")


def judges_rings(build: Build) -> bool:
    """Whether a build tells the groove that rings of the stock must suit."""
    return build.fit.groove_diameter is not None and build.fit.groove_width is not None


def _with_rings(tubes: list[Option], stock: Stock, wants: Wants, build: Build) -> list[Option]:
    """Each tube with each ring; where the build tells no groove, no ring can be judged, and none is taken."""
    rings = [] if "ring" in wants.owned or not judges_rings(build) else stock.of("ring")
    return [_ringed(tube, ring, wants, build) for tube in tubes for ring in rings] or tubes


def _ringed(tube: Option, ring: Item, wants: Wants, build: Build) -> Option:
    found = _costed(dataclasses.replace(tube, names=tube.names | {"ring": ring.name}), ring, wants)
    if tube.part is None:
        return found
    fit = dataclasses.replace(tube.fit or build.fit, ring=str(ring.values["ring"]))
    worst = SEVERITIES.index(wants.gravest)
    found = dataclasses.replace(found, fit=fit)
    seal = check_seal(dataclasses.replace(build, chamber=found.part, fit=fit))  # type: ignore[arg-type]
    if any(SEVERITIES.index(finding.severity) > worst for finding in seal):
        return dataclasses.replace(found, part=None, reason="ring")
    return found


def _barrel(item: Item, length: float, most: float, build: Build) -> Option:
    if length > most * (1 + 1e-9):
        return Option(None, {"barrel": item.name}, cut=length, reason="barrel_short")
    values = {"bore": item.values["bore"], "length": units.quantity(length, "m")}
    off = most - length if length < most * (1 - 1e-9) else 0.0
    return _made(item, build, "barrel", values, cut=length, off=off)


def cap_darts(stock: Stock, wants: Wants, build: Build) -> list[dict[str, float]]:
    """Values of the darts with which the caps must hold beside the build's own [SI].

    Raises
    ------
    StockError
        A dart that the stock does not have.
    """
    known = {item.name: item for item in stock.of("dart")}
    if unknown := [name for name in wants.cap_darts if name not in known]:
        must = f"darts in the stock: {', '.join(known) or 'none there'}"
        raise StockError(fault("wants.cap_darts", ", ".join(unknown), must))
    return [
        part_si("dart", build.changed_part("dart", {f"dart.{k}": v for k, v in known[name].values.items()}))
        for name in wants.cap_darts
    ]


def columns(choices: Sequence[Sequence[Option]], index: np.ndarray, build: Build) -> dict[str, Any]:
    """`Build.si` of many candidates: arrays for what varies, floats for the rest.

    Parameters
    ----------
    choices : sequence of sequence of Option [-]
        From `options`.
    index : ndarray, shape (places, n) [-]
        Which option stands at each place; all of them have a part.
    build : Build [-]
        What stays.

    Returns
    -------
    dict of str to float or ndarray
        For ``from_build.rows`` [SI].
    """
    values: dict[str, Any] = dict(build.si)
    for part, found, at in zip(PLACES, choices, index, strict=True):
        known = [part_si(part, option.part) if option.part is not None else {} for option in found]
        names = next((each for each in known if each), {})
        for name in names:
            values[name] = np.array([each.get(name, np.nan) for each in known])[at]
    return derive(values)


def build_of(chosen: Sequence[Option], build: Build) -> Build:
    """The build of one candidate; a BuildError where its parts cannot go together; no units of its own."""
    parts = {part: option.part for part, option in zip(PLACES, chosen, strict=True)}
    spring = parts.pop("springs[0]")
    assert isinstance(spring, Spring)
    heads = (("spring.", "springs[0]."), ("chamber.wall",), ("barrel.length",), ("dart.",))
    pairs = zip(chosen, heads, strict=True)
    bought = tuple(head for option, own in pairs if "own" not in option.names.values() for head in own)
    assumed = tuple(name for name in build.assumed if not name.startswith(bought))
    title = ", ".join(name for option in chosen for name in option.names.values() if name != "own")
    new: dict[str, Any] = {
        "springs": (spring, *build.springs[1:]),
        "fit": chosen[1].fit or build.fit,
        **parts,
    }
    return dataclasses.replace(build, title=title or build.title, assumed=assumed, **new)


def gathered(choices: Sequence[Sequence[Option]], index: np.ndarray, of: Callable[[Option], float]) -> Floats:
    """A number of the option at each place of each candidate, shape (places, n) [as `of` gives it]."""
    return np.array([np.array([of(o) for o in found])[at] for found, at in zip(choices, index, strict=True)])
