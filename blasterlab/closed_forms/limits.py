"""Closed forms that the shot model must give back, and that teach what it does: all of them, by name.

What it is for: ``bl.limits``: a charged chamber, a spring without gas, a port that chokes, a chamber that
empties, a wave before its first echo; all units in, all units out.  What it leaves out: everything between
these limits, which is what the model is for, and humid air.
"""

from blasterlab.closed_forms.compression import compression_work
from blasterlab.closed_forms.gas_waves import FirstEcho, lagrange_problem, piston_shock
from blasterlab.closed_forms.hole_flow import orifice_flow
from blasterlab.closed_forms.reservoir_gun import best_length, reservoir_build, reservoir_velocity
from blasterlab.closed_forms.springs import moving_fraction

__all__ = [
    "FirstEcho", "best_length", "compression_work", "lagrange_problem", "moving_fraction", "orifice_flow",
    "piston_shock", "reservoir_build", "reservoir_velocity",
]  # fmt: skip
