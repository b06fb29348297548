"""Pictures: matplotlib figures that take results and draw them; nothing is computed here but the layout.

A figure made here shows itself in a notebook with alternative text, carries a `caption` line with its key
numbers, and uses neither pyplot nor any global state.  Names are loaded when they are first used.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
