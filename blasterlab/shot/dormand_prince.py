"""The Dormand-Prince pair 5(4): the table of its stages, for flights and for a spring as a chain of masses.

What it is for: one copy of the coefficients, all pure numbers.  What it leaves out: the steps themselves.

References
----------
J. R. Dormand and P. J. Prince, *J. Comput. Appl. Math.* 6, 19-26 (1980), Table 2.
"""

from __future__ import annotations

import numpy as np

A = np.zeros((7, 6))
A[1, 0] = 1 / 5
A[2, :2] = 3 / 40, 9 / 40
A[3, :3] = 44 / 45, -56 / 15, 32 / 9
A[4, :4] = 19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729
A[5, :5] = 9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656
A[6, :6] = 35 / 384, 0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84  # the step itself
#: When each stage is, as a share of the step, and what the step and its check differ by.
C = np.array([0, 1 / 5, 3 / 10, 4 / 5, 8 / 9, 1, 1])
E = np.array([71 / 57600, 0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40])
