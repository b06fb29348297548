"""Findings of a build's checks in the few words that fit beside a result.

What it is for: the gravest of them, cut after a sentence.  What it leaves out: the messages themselves, which
each check writes, and the full list, which ``Build.check`` gives.
"""

from __future__ import annotations

from collections.abc import Sequence

from blasterlab.checks.finding import Finding
from blasterlab.report.asked import MORE

LONGEST = 170  # characters of a finding: the sentences that fit into it are shown, the first one always


def sorted_out(findings: Sequence[Finding], most: int = 2) -> tuple[list[str], list[str]]:
    """The gravest findings, then how many are folded away; and those that are.

    Parameters
    ----------
    findings : sequence of Finding [-]
        The gravest first.
    most : int [-]
        How many stay in sight.

    Returns
    -------
    tuple of list of str
        What stays in sight, and what is folded [-].
    """
    heard = gravest(findings, len(findings))
    return [*heard[:most], *counted(heard[most:])], heard[most:]


def counted(folded: Sequence[str]) -> list[str]:
    """How many findings are folded away; nothing where none is."""
    left = len(folded)
    return [f"{left} more finding{'s' * (left > 1)} under “{MORE}”."] if left else []


def gravest(findings: Sequence[Finding], most: int = 2) -> list[str]:
    """The first findings that a builder must hear, none of them for information only.

    Parameters
    ----------
    findings : sequence of Finding [-]
        The gravest first.
    most : int [-]
        How many at the most.

    Returns
    -------
    list of str
        Severity and message; the stored energy, which every build has, is left out [-].
    """
    return [f"{item.severity.capitalize()}: {shortened(item.message)}" for item in to_hear(findings)[:most]]


def to_hear(findings: Sequence[Finding]) -> list[Finding]:
    """Those for more than information; the stored energy, which every build has, is left out."""
    grave = [item for item in findings if item.severity != "info"]
    return [item for item in grave if item.part != "prime" or item.limit is not None]


def shortened(message: str) -> str:
    """The first sentences of a message, as many as are short.

    Examples
    --------
    >>> shortened("One 1.5 mm wire. Two."), shortened("A spring. " + "It is long " * 20 + ". The end.")
    ('One 1.5 mm wire. Two.', 'A spring.')
    """
    first, *rest = message.split(". ")
    for sentence in rest:
        if len(first) + len(sentence) + 3 > LONGEST:
            return first + "."
        first += ". " + sentence
    return first
