"""Spheres against the package fluids 1.3.1 (C. Bell and contributors), at several Reynolds numbers."""

import math

import fluids.drag
import numpy as np
import pytest
from spheres import sphere_drag, sphere_table

from blasterlab.air import Air
from blasterlab.flight.equations import NO_GROUND, VY, FlightParameters, Y, at_time, fly_dense


@pytest.mark.parametrize("reynolds", [0.1, 1.0, 10.0, 100.0, 1e3, 1e4, 5e4, 1e5, 2e5])
def test_clift_gauvin1970(reynolds):
    # R. Clift, W. H. Gauvin, Proc. Chemeca, 14, 1970, as in fluids.drag.Clift_Gauvin.
    assert sphere_drag(reynolds) == pytest.approx(fluids.drag.Clift_Gauvin(reynolds), rel=1e-12)


@pytest.mark.parametrize("reynolds", [1.0, 10.0, 100.0, 1e3, 1e4, 5e4, 1e5])
def test_other_correlations_agree_within_their_own_scatter(reynolds):
    # F. A. Morrison, An Introduction to Fluid Mechanics, 2013; R. Barati et al., Powder Technology 257, 2014.
    for other in (fluids.drag.Morrison, fluids.drag.Barati):
        assert sphere_drag(reynolds) == pytest.approx(other(reynolds), rel=0.15)


def test_sphere_table_between_its_points():
    table = sphere_table()
    for reynolds in np.geomspace(0.11, 1.9e5, 50):
        assert table.value(0.0, float(reynolds)) == pytest.approx(sphere_drag(float(reynolds)), rel=1e-2)


@pytest.mark.parametrize(("diameter", "density"), [(0.002, 900.0), (0.0127, 100.0), (0.04, 60.0)])
def test_falling_sphere(diameter, density):
    # fluids.drag.integrate_drag_sphere: the same fall, with buoyancy, which goes into the weight here.
    air = Air()
    rho, mu = air.density.m_as("kg/m^3"), air.viscosity.m_as("Pa*s")
    speed, fallen = fluids.drag.integrate_drag_sphere(
        D=diameter, rhop=density, rho=rho, mu=mu, t=1.5, V=10.0, Method="Clift_Gauvin", distance=True
    )
    mass = density * math.pi * diameter**3 / 6
    weight = -9.80665 * (1 - rho / density)
    factor = rho * math.pi * diameter**2 / (8 * mass)
    machs, logs, coefficients = sphere_table().arrays
    falling = FlightParameters(
        factor, 0.0, weight, 0.0, 0.0, 0.0, 1 / 343.8, rho * diameter / mu, 10.0, -math.pi / 2, 0.0,
        machs, logs, coefficients,
    )  # fmt: skip
    _, end, times, pieces = fly_dense(falling, 1e9, NO_GROUND, 1.5, 1e-10, 0.0)
    state = at_time(times, pieces, end)
    assert -state[VY] == pytest.approx(speed, rel=2e-3)
    assert -state[Y] == pytest.approx(fallen, rel=2e-3)
