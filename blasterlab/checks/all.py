"""All checks of a build together, behind ``Build.check``.

What it is for: ask every module of this room about a build, the gravest finding first, and say what the
findings rest on, so that nobody shows stale ones.  What it leaves out: the checks themselves.
"""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import TYPE_CHECKING

from blasterlab.checks import fit, prime, seal, spring_findings, strength
from blasterlab.checks.finding import Finding, gravest_first

if TYPE_CHECKING:
    from blasterlab.build import Build

#: What is asked, in the order of findings among equals, with the names of the build's values that each reads.
CHECKS: dict[Callable[[Build], list[Finding]], tuple[str, ...]] = {
    spring_findings.check_springs: spring_findings.READS,
    fit.check_fit: fit.READS,
    seal.check_seal: seal.READS,
    strength.check_strength: strength.READS,
    prime.check_prime: prime.READS,
}
#: Every value of a build that a finding rests on; a change of any other leaves all findings as they are.
READS = tuple(sorted({name for names in CHECKS.values() for name in names}))


def check_build(build: Build) -> list[Finding]:
    """Everything that the kit has to say about a build.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    list of Finding
        Findings of all checks, the gravest first [-].
    """
    return gravest_first(item for check in CHECKS for item in check(build))


def rests_on(build: Build) -> tuple[object, ...]:
    """The values that the findings rest on: builds that agree in them, in one unit set, have the same.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    tuple
        What `READS` names: floats [SI], and the springs.
    """
    return tuple(build.si[name] if name in build.si else attrgetter(name)(build) for name in READS)
