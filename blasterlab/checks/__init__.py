"""Checks: does the build fit, seal, survive, and what should a builder be careful with?

What it is for: `check`, which asks every module of this room about a build and puts the gravest first.  What
it leaves out: the checks themselves, one module a subject, each with a function ``check(build)``.  Nothing
here is approval by an engineer, and a build without findings is not safe for that reason.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from blasterlab.build import Build
    from blasterlab.checks.finding import Finding

#: The modules that are asked, in the order of their findings among equals.
_MODULES = ("spring_findings", "prime")


def check(build: Build) -> list[Finding]:
    """Everything that the kit has to say about a build, the gravest first.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    list of Finding
        Findings of all modules [-].
    """
    from blasterlab.checks.finding import SEVERITIES

    found = [item for name in _MODULES for item in import_module(f"blasterlab.checks.{name}").check(build)]
    return sorted(found, key=lambda item: -SEVERITIES.index(item.severity))
