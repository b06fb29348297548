"""Laws of the shot that fit on a line: a fixed reservoir, a chamber filled first, limits."""

from blasterlab.closed_forms import limits as limits
