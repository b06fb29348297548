"""Plans in words: stock on sale, what a search found and why it refused the rest.

What it is for: the sentences of `Stock`.  What it leaves out: any computing.
"""

from __future__ import annotations

from blasterlab.plan.stock import KINDS, Stock


def stock(found: Stock) -> list[str]:
    """How many parts of each kind, in which currency, and which lines could not be read; no units."""
    counts = [f"{count} {kind}{'s' if count > 1 else ''}" for kind in KINDS if (count := len(found.of(kind)))]
    priced = f", prices in {found.currency}" if found.currency else ", no prices"
    lines = [", ".join(counts) + priced]
    return lines + [f"not read: line {bad.number}: {bad.reason}" for bad in found.unread]
