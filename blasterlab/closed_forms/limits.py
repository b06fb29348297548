"""Closed forms that the shot model must give back, and that teach what it does: all of them, by name.

What it is for: ``bl.limits``: a charged chamber, a blocked port, a hole that chokes; all units in, all units
out.  What it leaves out: everything between these limits, which is what the model is for, and humid air.
"""

from blasterlab.closed_forms.compression import compression_work
from blasterlab.closed_forms.hole_flow import orifice_flow
from blasterlab.closed_forms.reservoir_gun import best_length, reservoir_build, reservoir_velocity

__all__ = ["best_length", "compression_work", "orifice_flow", "reservoir_build", "reservoir_velocity"]
