"""Panels: one widget panel a bench task; state goes through a pure function into pictures and words.

Two lines in a notebook show one::

    from blasterlab import panels
    panels.barrel_panel(build)

Names are loaded when they are first used.  Leaves out: physics and plotting, which live in lower rooms.
"""

from __future__ import annotations

import lazy_loader

from blasterlab import units
from blasterlab.bench import kept

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)

if chosen := kept.recall("units", units.UNIT_SETS):
    units.use_units(chosen)
