"""The pull of the prime beside published handling figures, and the caution that belongs to it.

What it is for: tell a builder whether hands can manage the pull.  What it leaves out: any verdict on a
person; the figures are a comfort scale and not a limit.
"""

from __future__ import annotations

from blasterlab import units
from blasterlab.build import Build
from blasterlab.checks.finding import Finding
from blasterlab.parts.prime import Prime, prime

_HSE = "Health and Safety Executive, Manual handling, L23: guideline figures for starting a load"
_PULL = "Das & Wang, Int. J. Occup. Saf. Ergon. 10(1), 43-58, 2004: greatest mean isometric pull"
#: Newtons: to start a load (HSE), greatest mean pull (Das & Wang, women standing).
_SCALE = {"start men": 200.0, "start women": 150.0, "pull men": 400.0, "pull women": 244.0}


#: What `check_prime` looks at.
READS = ("springs", "chamber.stroke", "losses.seal_friction")


def check_prime(build: Build) -> list[Finding]:
    """The findings on the pull of a build.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    list of Finding
        Peak force and stored energy.
    """
    pull = prime(build.springs, build.chamber.stroke, build.losses.seal_friction)
    return prime_findings(pull, springs=len(build.springs))


def prime_findings(pull: Prime, part: str = "prime", springs: int = 1) -> list[Finding]:
    """The pull beside published handling figures: a comfort scale, not a limit.

    Parameters
    ----------
    pull : Prime [-]
        From `parts.prime.prime`.
    part : str [-]
        The part named in the finding.
    springs : int [-]
        How many springs the hand pulls.

    Returns
    -------
    list of Finding
        One finding on the peak force, one on the energy that is held by the catch.

    References
    ----------
    Health and Safety Executive, *Manual handling, L23*: 200 N (men) and 150 N (women) to start a load.
    B. Das, Y. Wang, *Isometric pull-push strengths in workspace: 1. Strength profiles*, Int. J. Occup. Saf.
    Ergon. 10(1), 43-58, 2004: greatest mean pull 400 N (men) and 244 N (women, standing).
    """
    peak = pull.peak_force.m_as("N")
    shown = units.show(peak, "force", 3)
    marks = {name: units.show(value, "force", 3) for name, value in _SCALE.items()}
    if peak > _SCALE["pull women"]:
        severity, limit, source = "caution", _SCALE["pull women"], _PULL
        text = (
            f"The pull peaks at {shown}. The greatest mean pulls measured standing are {marks['pull men']} "
            f"(men) and {marks['pull women']} (women): many people cannot prime this."
        )
    elif peak > _SCALE["start women"]:
        severity, limit, source = "caution", _SCALE["start women"], _HSE
        men = "past" if peak > _SCALE["start men"] else "below"
        text = (
            f"The pull peaks at {shown}, past the guideline force for starting to move a load by hand of "
            f"{marks['start women']} for women and {men} that of {marks['start men']} for men: tiring. "
            "A comfort scale, not a limit."
        )
    else:
        severity, limit, source = "info", _SCALE["start women"], _HSE
        text = (
            f"The pull peaks at {shown}; the guideline forces for starting to move a load by hand are "
            f"{marks['start men']} for men and {marks['start women']} for women. "
            "A comfort scale, not a limit."
        )
    who, stored = "spring holds" if springs == 1 else "springs hold", units.show(pull.stored, "energy", 3)
    held = (
        f"At the catch the {who} {stored} more than with the plunger forward: keep fingers out, wear eye "
        "protection, and never open a primed blaster."
    )
    return [
        Finding(severity, part, text, pull.peak_force, units.quantity(limit, "N"), source),
        Finding("caution", part, held, pull.stored, None, "common practice, no source"),
    ]
