"""All checks of a build together, behind ``Build.check``.

What it is for: ask every module of this room about a build, the gravest finding first, and say what the
findings rest on, so that nobody shows stale ones.  What it leaves out: the checks themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from operator import attrgetter

from blasterlab import units
from blasterlab.build import Build
from blasterlab.checks import fit, prime, seal, spring_findings, strength
from blasterlab.checks.finding import Finding, gravest_first

Check = Callable[[Build], list[Finding]]
#: What is asked, in the order of findings among equals, with the names of the build's values that each reads.
CHECKS: dict[Check, tuple[str, ...]] = {
    spring_findings.check_springs: spring_findings.READS,
    fit.check_loose_dart: fit.LOOSE_READS,
    fit.check_fit: fit.READS,
    seal.check_seal: seal.READS,
    strength.check_strength: strength.READS,
    prime.check_prime: prime.READS,
}


def check_build(
    build: Build,
    kept: dict[object, list[Finding]] | None = None,
    checks: Mapping[Check, Sequence[str]] | None = None,
) -> list[Finding]:
    """Everything that the kit has to say about a build.

    Parameters
    ----------
    build : Build [-]
        The build.
    kept : dict or None [-]
        Findings of earlier builds, which this one adds to: a check is not asked again about values that it
        has seen.
    checks : mapping of callable to sequence of str, or None [-]
        What is asked, and what each reads; None asks all of `CHECKS`.

    Returns
    -------
    list of Finding
        Findings of all checks, the gravest first [-].
    """
    found: dict[object, list[Finding]] = {} if kept is None else kept
    checks = CHECKS if checks is None else checks
    keys = [(units.use_units(), check, *rests_on(build, names)) for check, names in checks.items()]
    for check, key in zip(checks, keys, strict=True):
        if key not in found:
            found[key] = check(build)
    return gravest_first(item for key in keys for item in found[key])


def rests_on(build: Build, names: Sequence[str]) -> list[object]:
    """The values that findings rest on: builds that agree in them, in one unit set, have the same.

    Parameters
    ----------
    build : Build [-]
        The build.
    names : sequence of str [-]
        What a check declares.

    Returns
    -------
    list
        Floats [SI], words, and the springs.
    """
    return [build.si[name] if name in build.si else attrgetter(name)(build) for name in names]
