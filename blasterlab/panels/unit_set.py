"""The unit set, chosen once at the top of a notebook for every panel, picture and printed number.

What it is for: `units_panel`.  What it leaves out: the sets themselves (`blasterlab.units`).
"""

from __future__ import annotations

from blasterlab import units
from blasterlab.panels.base import Panel
from blasterlab.report.asked import unit_set


def units_panel() -> Panel:
    """The list of unit sets alone; the choice is remembered for other notebooks.

    Returns
    -------
    Panel
        The panel; show it as the last line of a cell [-].
    """
    panel = Panel("Units", [], lambda _: units.use_units(), unit_set)
    panel.children = [*panel.children, panel._unit_row.box]
    return panel
