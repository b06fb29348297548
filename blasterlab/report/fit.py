"""Words for fit, seal and strength: the answer first, then its numbers and where they come from.

What it is for: what the panels of a ring, of both ends of the stroke and of the tube say; water in a chamber;
the cost of a leak.  What it leaves out: the findings' own messages, which stand with the checks.
"""

from __future__ import annotations

from collections.abc import Mapping

from blasterlab.checks.fit import WaterCheck
from blasterlab.checks.fit_use import BothEnds, SealPick, TubeUse
from blasterlab.checks.seal import FAULTS, SealFit
from blasterlab.checks.seal_friction import LeakCost
from blasterlab.checks.strength import CatchLoad, StopLoad
from blasterlab.checks.tolerance import Span
from blasterlab.report.findings import sorted_out
from blasterlab.report.numbers import kept, share
from blasterlab.report.told import Told
from blasterlab.units import KINDS, Quantity, show

_DAYS = {
    "always": "It seals, with every tolerance at its worst too",
    "likely": "It seals, but not with every tolerance at its worst",
    "nominal": "It seals as measured; the tolerances can spoil that",
    "no": "It does not seal",
}
_CHARTS = (
    "Limits: printed charts of glands, interpolated between their sections; a ring that stays put is "
    "squeezed more than one that slides. Stretch up to 5 %, fill up to 85 %. Stretching thins the ring at "
    "constant volume."
)


#: Of what a panel puts in.
_KINDS = ("length", "area", "pad rate")


def _percent(*parts: float) -> str:
    return " to ".join(f"{100 * part:.1f}" for part in parts) + " %"


def _length(*lengths: Quantity | float) -> str:
    return " to ".join(show(length, "length", 3) for length in lengths)


def _stress(*stresses: Quantity) -> str:
    return " to ".join(show(stress, "stress", 2) for stress in stresses)


def _turns(fit: SealFit) -> str:
    return f"{fit.wraps} turn{'s' * (fit.wraps != 1)} of tape" if fit.wraps else "no tape"


def _limits(fit: SealFit) -> str:
    return " to ".join(f"{100 * end:.0f}" for end in fit.limits) + " %"


def _shares(span: Span) -> str:
    found = sorted(span.shares.items(), key=lambda item: -item[1])
    said = ", ".join(f"{name.replace('_', ' ')} {share(part)}" for name, part in found if part > 0.005)
    return said or "no tolerance given"


def supposed(values: Mapping[str, Quantity | float]) -> str:
    """What a panel puts in for what a build text does not tell, by the controls' labels."""
    said = [
        f"{name} {value:g}" if isinstance(value, float) else
        f"{name} {show(value, next(kind for kind in _KINDS if value.is_compatible_with(KINDS[kind].si)), 3)}"
        for name, value in values.items()
    ]  # fmt: skip
    return f"Not in the build text, so measure yours: {', '.join(said)}." if said else ""


def ring_row(fit: SealFit) -> str:
    """A ring, its tape and its squeeze in a line."""
    shares = f"squeeze {_percent(fit.squeeze.value)}, stretch {_percent(fit.stretch.value)}"
    return f"{fit.ring.name} with {_turns(fit)}: {shares}" + (
        f" ({', '.join(fit.faults)})" if fit.faults else ""
    )


def seal(pick: SealPick) -> Told:
    """What the ring panel says."""
    fit, drag = pick.fit, pick.friction
    least, usual, most, start = (kept(force, "force", 2) for force in (*drag.running, drag.breakaway))
    tape = f" Wind {_turns(fit)} under the ring." if fit.wraps and not fit.faults else ""
    wrong = [f"{FAULTS[code][:1].upper()}{FAULTS[code][1:]}" for code in fit.faults]
    better = [one for one in pick.others if fit.faults and not one.faults][:1]
    return Told(
        f"{fit.ring.name}, {_turns(fit)}: squeeze {_percent(fit.squeeze.value)} of {_limits(fit)}, "
        f"stretch {_percent(fit.stretch.value)}, fill {share(fit.fill.value)}",
        f"{(wrong or [_DAYS[fit.seals]])[0]}.{tape}",
        (
            *(f"This one would do: {ring_row(one)}." for one in better),
            *(f"{fault}." for fault in wrong[1:]),
            *filter(None, [pick.note]),
        ),
        (
            f"Squeeze {_percent(fit.squeeze.value)}, {_percent(*fit.squeeze.worst)} at worst, "
            f"{_percent(*fit.squeeze.likely)} likely; {_limits(fit)} are usual for "
            f"{_length(fit.ring.section)}. What it depends on: {_shares(fit.squeeze)}.",
            f"Rings that come nearest: {'; '.join(map(ring_row, pick.others))}.",
            f"It may drag with {usual} (greased {least}, dry {most}, up to {start} to start): an estimate "
            "from memory, so pull it with a scale. Start value: "
            f'seal_friction = "{drag.running[1].m_as("N"):.2g} N".',
            _CHARTS,
        ),
    )


def ends(found: BothEnds) -> Told:
    """What the panel of both ends says."""
    build, places = (
        found.build,
        {"at the catch": found.travel.at_catch, "at the front": found.travel.at_front},
    )
    out = " and ".join(where for where, left in places.items() if left.value < 0.0)
    bad = " and ".join(where for where, left in places.items() if left.worst[0] < 0.0)
    verdict = "The seal stays in the tube at both ends"
    if bad:
        verdict += f", but not {bad} with every tolerance at its worst"
    if out:
        verdict = f"The seal comes out of the tube {out}"
    left = _length(build.spring.front_length - build.chamber.stroke - build.spring.solid_length)
    squash = float(1.0 - build.barrel.bore / build.dart.diameter)
    dart = f"squashed by {_percent(squash)}" if squash > 0.0 else "loose or just touching"
    said = {where: f"{_length(abs(one.value))} {'inside' if one.value >= 0.0 else 'out'}"
            for where, one in places.items()}  # fmt: skip
    heard, folded = sorted_out(found.findings)
    return Told(
        f"seal {', '.join(f'{place} {where}' for where, place in said.items())}; {left} to solid",
        f"{verdict}; the spring keeps {left} before its coils touch.",
        (*heard, *filter(None, [found.note])),
        (
            *folded,
            *(
                f"Seal {where}: {said[where]}, {_length(*one.worst)} at worst, {_length(*one.likely)} "
                f"likely; it depends on {_shares(one)}."
                for where, one in places.items()
            ),
            f"Preload at the front {_length(build.spring.preload)}; the dart is {dart} in its bore.",
            *(item.message for item in found.findings if item.severity == "info" and item.part != "fit"),
            "Geometry; worst case, and the root of the sum of squares (JCGM 100:2008, 5.1.2).",
        ),
    )


def strength(use: TubeUse) -> Told:
    """What the strength panel says."""
    made, hoop = use.material, use.in_block.hoop_inside
    allowed, bears = made.strength[0] / use.factor, f"{use.margin:.2g} times what the design factor asks for"
    verdict = f"The tube bears a blocked barrel, with {bears}"
    if use.margin < 1.0:
        verdict = f"Too thin for a blocked barrel: only {bears}"
    if use.margin * use.factor < 1.0:
        verdict = "A blocked barrel can burst this tube"
    heard = [f"Fired {what}, the pad bottoms: use a thicker or stiffer one." for what, load in
             (("as it is", use.blow), ("empty", use.empty)) if load.bottoms]  # fmt: skip
    if made.kind != "tough":
        heard.append(
            f"{made.name[:1].upper()}{made.name[1:]} is {made.kind}: {made.note or 'it gives no warning'}."
        )
    if use.glue > use.adhesive.shear[0] / use.factor:
        heard.append(f"The glue line is too short for this design factor: {_stress(use.glue)} of shear.")
    if use.catch and use.catch.shear > use.catch.allowed:
        heard.append(f"The catch is too small for its design factor: {_stress(use.catch.shear)} of shear.")
    return Told(
        f"{_stress(hoop)} with the barrel blocked, {_stress(allowed)} allowed, margin {use.margin:.2g}, "
        f"stop {show(use.blow.force, 'force', 2)}",
        f"{verdict}; at the shot's peak the margin is {use.margin * hoop.m / use.in_shot.hoop_inside.m:.2g}.",
        (*heard, *filter(None, [use.note])),
        (
            f"Barrel blocked: {show(use.blocked, 'pressure', 3)} absolute, {_stress(hoop)} around the bore "
            f"(thin-wall value {_stress(use.in_block.thin_wall)}), {_stress(use.in_block.radial)} across, "
            f"{_stress(use.in_block.axial)} along. In the shot {show(use.shot.peak_pressure, 'pressure', 3)} "
            f"and {_stress(use.in_shot.hoop_inside)}.",
            f"{made.name}: {_stress(*made.strength)} ({made.certainty}), divided by {use.factor:g}, yours "
            f"to choose; markedly weaker above {show(made.warm, 'temperature', 3)}.",
            f"Front stop: as shot {_blow(use.blow)}; empty at most {_blow(use.empty)}.",
            *([_catch(use.catch)] if use.catch else []),
            f"Glue line of the tube's end, barrel blocked: {show(use.push, 'force', 3)} over "
            f"{show(use.push / use.glue, 'area', 3)} is {_stress(use.glue)} of mean shear; "
            f"{use.adhesive.name} bears {_stress(*use.adhesive.shear)} (from memory) in gaps of "
            f"{_length(*use.adhesive.gap)} a side; {use.adhesive.note}.",
            "Lamé (Hearn, Mechanics of Materials 1, ch. 10); data/tables/materials.csv, adhesives.csv.",
        ),
    )


def _catch(load: CatchLoad) -> str:
    bears = f"{load.material.name} bears {_stress(*load.strength)} in shear"
    return (
        f"Catch: {show(load.force, 'force', 3)} over {show(load.force / load.shear, 'area', 3)} is "
        f"{_stress(load.shear)} of shear; {bears} ({load.material.certainty}; tensile strength over √3, "
        f"distortion energy), {_stress(load.allowed)} allowed. Slipping back onto it doubles the load."
    )


def _blow(load: StopLoad) -> str:
    crush = f"the pad crushed by {_length(load.crush)}"
    return f"{show(load.energy, 'energy', 2)} and {show(load.force, 'force', 2)}, {crush}"


def water(check: WaterCheck) -> str:
    """A chamber filled with water, beside its dimensions."""
    volumes = (check.measured, check.expected.value, *check.expected.worst, check.dead_volume)
    got, want, low, high, dead = (kept(volume, "volume", 3) for volume in volumes)
    verdict, why = "The water agrees", ""
    if not check.agrees:
        more = check.measured.m_as("m^3") > check.expected.value
        verdict = f"The water is {'more' if more else 'less'} than the dimensions say"
        why = "" if more else "; stroke or bore may be smaller than the build says, or air stayed in"
    dead = f"; a dead volume of {dead} would explain it" if check.dead_volume.magnitude > 0.0 else ""
    return f"{verdict}: {got}, and {want} ({low} to {high}) by the dimensions{why}{dead}."


def leak(cost: LeakCost) -> str:
    """What a leak costs."""
    tight, leaking = kept(cost.tight, "speed"), kept(cost.leaking, "speed")
    less = show(cost.tight - cost.leaking, "speed", 2)
    return f"A leak of {show(cost.area, 'area', 2)} costs {less}: {leaking} in place of {tight}."
