"""The drag of a smooth sphere, whose falls and flights are known.

References
----------
R. Clift, W. H. Gauvin, *The motion of particles in turbulent gas streams*, Proc. Chemeca, 14, 1970, with the
constants of R. Barati et al., Powder Technology 257, 11, 2014, table 1.
"""

import numpy as np

from blasterlab.flight.drag_table import DragTable


def sphere_drag(reynolds: float) -> float:
    """Drag coefficient between Reynolds numbers of 0 and 2e5, on the diameter."""
    return 24.0 / reynolds * (1.0 + 0.152 * reynolds**0.677) + 0.417 / (1.0 + 5070.0 * reynolds**-0.94)


def sphere_table() -> DragTable:
    """The same as a table, 20 points a decade."""
    numbers = np.geomspace(0.1, 2e5, 127)
    return DragTable([0.0], [sphere_drag(float(one)) for one in numbers], [float(one) for one in numbers])
