"""A ring in its groove: squeeze, stretch and fill with their tolerances, and tape under a loose one.

What it is for: say before ordering whether a ring seals in this bore and groove, on a good day and on a bad
one, and how many turns of tape would make it.  The ring sits in a groove around a plunger or a plug and
presses outwards on a bore.  What it leaves out: chemistry, wear, temperature and back-up rings.

References
----------
Printed charts of glands (``data/tables/orings_gland_*.csv``): squeeze, stretch, fill.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from blasterlab import units
from blasterlab.build import Build
from blasterlab.checks.finding import Finding
from blasterlab.checks.tolerance import Sizes, Span, half_widths, span
from blasterlab.fields import refuse
from blasterlab.parts.rings import TAPE, THINNING, Ring, groove_faults, ring, squeeze_limits, suited, thinned
from blasterlab.units import QuantityLike

USUAL_STRETCH, MOST_STRETCH = 0.02, 0.05  # of a moving ring: 1 to 3 %, 5 % the outer limit (printed charts)
MOST_FILL = 0.85  # of the groove's cross section (printed charts)
MOST_WRAPS = 40


@dataclass(frozen=True)
class SealFit:
    """A ring in its groove and bore.

    Attributes
    ----------
    ring : Ring [-]
        The ring.
    wraps : int [-]
        Turns of tape under it.
    stretch, squeeze, fill : Span [-]
        Of the groove over the ring's inside; of the section, thinned by the stretch; of the groove's section.
    limits : tuple of float [-]
        Least and greatest squeeze for this section by the printed charts.
    """

    ring: Ring
    wraps: int
    stretch: Span
    squeeze: Span
    fill: Span
    limits: tuple[float, float]

    @property
    def seals(self) -> str:
        """When squeeze reaches its least: ``"always"``, ``"likely"``, ``"nominal"``, ``"no"`` [-]."""
        low = self.limits[0]
        for word, least in (
            ("always", self.squeeze.worst[0]),
            ("likely", self.squeeze.likely[0]),
            ("nominal", self.squeeze.value),
        ):
            if least >= low:
                return word
        return "no"

    @property
    def faults(self) -> tuple[str, ...]:
        """What is out of range, as codes: loose, tight, slack, stretched, overfull [-]."""
        found = {
            "loose": self.squeeze.value < self.limits[0],
            "tight": self.squeeze.value > self.limits[1],
            "slack": self.stretch.value < 0.0,
            "stretched": self.stretch.value > MOST_STRETCH,
            "overfull": self.fill.value > MOST_FILL,
        }
        return tuple(code for code, wrong in found.items() if wrong)


def seal_fit(
    size: str | Ring,
    bore: QuantityLike,
    groove: QuantityLike,
    width: QuantityLike,
    wraps: int = 0,
    tape: QuantityLike = TAPE,
    tape_stretch: float = 0.0,
    moving: bool = True,
    tolerances: Mapping[str, QuantityLike] | None = None,
    thinning: str = THINNING[0],
) -> SealFit:
    """A ring in a groove that presses on a bore, with the range that the tolerances give.

    Formulas: stretch X = groove/inside - 1; depth h = (bore - groove)/2; squeeze 1 - h/d', d' the thinned
    section; fill = pi d^2 / (4 h width).

    Parameters
    ----------
    size : str or Ring [-]
        As for `ring`.
    bore, groove, width : Quantity or str [length]
        Bore that it presses on; diameter at the groove's bottom; groove's width.
    wraps : int [-]
        Turns of tape under the ring, 0 to 40; each adds twice the tape's thickness to the groove.
    tape : Quantity or str [length]
        Thickness of the tape as it comes.
    tape_stretch : float [-]
        By what share it is stretched as it is wound, 0 to 2; it thins by as much.
    moving : bool [-]
        Whether the ring slides; a plug's ring in the tube's end stays.
    tolerances : mapping of str to Quantity or str, or None [length]
        Half widths for ``bore``, ``groove``, ``section`` and ``inside``; a missing one counts as 0.
    thinning : str [-]
        One of `THINNING`.

    Returns
    -------
    SealFit
        Stretch, squeeze and fill with their ranges, and the limits of the charts.

    Raises
    ------
    UnitError
        A groove wider than the bore, a ring that cannot be stretched onto the groove, tolerances larger than
        the dimension, or values out of range; each by its name.

    References
    ----------
    Printed gland charts (see the module); JCGM 100:2008, 5.1.2 for the root of the sum of squares.

    Examples
    --------
    >>> fit = seal_fit("23.39 x 3.53 mm", "30 mm", "23.86 mm", "4.75 mm")
    >>> [round(100 * v, 3) for v in (fit.stretch.value, fit.squeeze.value, fit.fill.value)]
    [2.009, 12.162, 67.113]
    """
    gland = _Gland(bore, groove, width, wraps, tape, tape_stretch, moving, tolerances, thinning)
    return _fitted(ring(size), gland)


@dataclass(frozen=True)
class _Gland:
    """What `seal_fit` is told beside the ring; its lengths are read once for many rings."""

    bore: QuantityLike
    groove: QuantityLike
    width: QuantityLike
    wraps: int = 0
    tape: QuantityLike = TAPE
    tape_stretch: float = 0.0
    moving: bool = True
    tolerances: Mapping[str, QuantityLike] | None = None
    thinning: str = THINNING[0]

    @cached_property
    def si(self) -> tuple[float, float, float, float]:
        """Bore, groove without tape and with it, width of the groove [m]."""
        count = int(units.si_in(self.wraps, "number", "wraps", 0, MOST_WRAPS, "turns of tape"))
        thick = units.si_in(self.tape, "length", "tape", 0.01e-3, 1e-3, "thickness of one turn")
        thick /= 1.0 + units.si_in(self.tape_stretch, "number", "tape_stretch", 0.0, 2.0)
        wide = units.si_in(self.width, "length", "groove width", 0.2e-3, 50e-3)
        bore = units.si_in(self.bore, "length", "bore", 2e-3, 0.5)
        bare = units.si_in(self.groove, "length", "groove", 1e-3, 0.5)
        return bore, bare, bare + 2.0 * count * thick, wide


def _fitted(part: Ring, gland: _Gland) -> SealFit:
    """A ring in its groove."""
    (inside, section), (bore, _, deep, wide) = part.si, gland.si
    base = {"bore": bore, "groove": deep, "section": section, "inside": inside}
    half = half_widths(base, gland.tolerances or {})
    refuse(groove_faults(part, deep, bore))

    def stretch(v: Sizes) -> float:
        return v["groove"] / v["inside"] - 1.0

    def squeeze(v: Sizes) -> float:
        return 1.0 - 0.5 * (v["bore"] - v["groove"]) / (v["section"] * thinned(stretch(v), gland.thinning))

    def fill(v: Sizes) -> float:
        return 0.5 * math.pi * v["section"] ** 2 / ((v["bore"] - v["groove"]) * wide)

    return SealFit(
        part,
        int(gland.wraps),
        span(stretch, base, half),
        span(squeeze, base, half),
        span(fill, base, half),
        squeeze_limits(part.section, gland.moving),
    )


def wraps_for(
    size: str | Ring, bore: QuantityLike, groove: QuantityLike, width: QuantityLike, **options: object
) -> SealFit | None:
    """The fewest turns of tape with which the ring's squeeze is nearest the middle of its limits.

    Parameters
    ----------
    size : str or Ring [-]
        As for `ring`.
    bore, groove, width : Quantity or str [length]
        As for `seal_fit`.
    options : object [-]
        As for `seal_fit`, without ``wraps``.

    Returns
    -------
    SealFit or None
        With its turns of tape; None when no number of turns brings the squeeze into its limits [-].

    Raises
    ------
    UnitError
        As `seal_fit`, for no tape at all.
    """
    part, gland = ring(size), _Gland(bore, groove, width, **options)  # type: ignore[arg-type]
    found = [_fitted(part, replace(gland, tolerances=None))]
    while found[-1].wraps < MOST_WRAPS and found[-1].squeeze.value <= found[-1].limits[1]:
        try:
            found.append(_fitted(part, replace(gland, tolerances=None, wraps=len(found))))
        except units.UnitError:
            break
    good = [fit for fit in found if not {"loose", "tight"} & set(fit.faults)]
    best = min(good, key=lambda fit: abs(fit.squeeze.value - 0.5 * sum(fit.limits)), default=None)
    return best and _fitted(part, replace(gland, wraps=best.wraps))


def rings_for(
    bore: QuantityLike, groove: QuantityLike, width: QuantityLike, most: int = 8, **options: object
) -> list[SealFit]:
    """The rings that suit a bore and a groove best, the best first.

    Parameters
    ----------
    bore, groove, width : Quantity or str [length]
        As for `seal_fit`.
    most : int [-]
        How many to give, 1 to 100.
    options : object [-]
        As for `seal_fit`, without the ring.

    Returns
    -------
    list of SealFit
        Those without a fault first; within both by how far squeeze and stretch are from the middle of their
        ranges [-].

    Raises
    ------
    UnitError
        As `seal_fit`, when it is the bore or the groove that is at fault.
    """
    gland = _Gland(bore, groove, width, **options)  # type: ignore[arg-type]
    across, bare, taped, _ = gland.si
    refuse(groove_faults(None, bare, across))

    def order(fit: SealFit) -> tuple[int, float]:
        low, high = fit.limits
        off = abs(fit.squeeze.value - 0.5 * (low + high)) / (high - low)
        return len(fit.faults), off + abs(fit.stretch.value / USUAL_STRETCH - 1.0)

    found = [_fitted(part, gland) for part in suited(bare, across, taped)]
    return sorted(found, key=order)[: int(units.si_in(most, "number", "most", 1, 100))]


#: The two rings of a build: how their keys begin, what they are called, whether they slide.
RINGS = (("", "The plunger's ring", True), ("end_", "The ring of the tube's end", False))
_KEYS = ("ring", "groove_diameter", "groove_width", "wraps")
READS = (
    "chamber.bore", "fit.diameter_tolerance",
    *(f"fit.{start}{key}" for start, _, _ in RINGS for key in _KEYS),
)  # fmt: skip
_CHART = "printed charts of glands for reciprocating seals, data/tables/orings_gland_moving_inch.csv"
#: What each fault means and what would help, in the order of `SealFit.faults`.
FAULTS = {
    "loose": "it is squeezed too little to seal: use a thicker ring, or tape under this one",
    "tight": "it is squeezed too hard and will drag and wear: use a thinner ring or a deeper groove",
    "slack": "it is wider than its groove and will wander: use a smaller ring",
    "stretched": "it is stretched too far and will thin and crack: use a larger ring",
    "overfull": "it has no room to swell: make the groove wider",
}


def check_seal(build: Build) -> list[Finding]:
    """Findings on the rings of plunger and tube end, where the build tells ring and groove.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    list of Finding
        For each ring one for each fault, or one that says whether it seals on a bad day too.
    """
    return [finding for start, what, moving in RINGS for finding in _ring(build, start, what, moving)]


def _ring(build: Build, start: str, what: str, moving: bool) -> list[Finding]:
    size, groove, width, wraps = (getattr(build.fit, f"{start}{key}") for key in _KEYS)
    if size is None or groove is None or width is None:
        return []
    half = dict.fromkeys(("bore", "groove"), build.fit.diameter_tolerance)
    try:
        found = seal_fit(size, build.chamber.bore, groove, width, int(wraps), moving=moving, tolerances=half)
    except units.UnitError as error:
        return [Finding("danger", "fit", f"{what} cannot fit: {error}.", None, None, "geometry")]
    low, high = (f"{100 * end:.0f}" for end in found.limits)
    least = f"{100 * found.squeeze.value:.0f} % of its section, where {low} to {high} % are usual"
    text, limit = f"{what}, {found.ring.name}, is squeezed by {least}", found.limits[0]
    if not found.faults:
        end = (
            "it seals." if found.seals == "always" else "it seals, but not with every tolerance at its worst."
        )
        grave = "info" if found.seals == "always" else "caution"
        return [Finding(grave, "fit", f"{text}: {end}", found.squeeze.value, limit, _CHART)]
    return [
        Finding(
            "warning" if code in ("loose", "stretched") else "caution", "fit", f"{text}; {FAULTS[code]}.",
            found.squeeze.value, limit if code == "loose" else found.limits[1], _CHART,
        )
        for code in found.faults
    ]  # fmt: skip
