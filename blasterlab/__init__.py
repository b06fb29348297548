"""blasterlab: an engineering kit for spring-powered foam-dart blasters.

Names are loaded when they are first used, so that the import itself stays quick; ``__init__.pyi`` lists
them.  Start with ``bl.demo_build(...)`` and ``bl.simulate(build)``; the notebooks show the rest.
"""

from __future__ import annotations

import lazy_loader

__version__ = "0.1.0"

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
