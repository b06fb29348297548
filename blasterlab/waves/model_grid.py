"""How far off the shot model is: a designed grid of builds, shot in every model, as kept with the kit.

What it is for: read the table ``data/computed/model_grid.csv`` (``tests/bench/make_model_grid.py`` makes it),
and work out by how much the shot model's muzzle velocity, best barrel length and peak pressure differ from
those with gas waves, with and without its two corrections for gas; by how much from those with each spring
as a chain of masses; and what a third of the spring's mass on the plunger would miss.  `validation` reads
what those models make of problems with a known answer.
What it leaves out: the truth.  All models share the port law, the friction and the leaks; only a chronograph
tells about those.
"""

from __future__ import annotations

from blasterlab import tables
from blasterlab.tables import pd

#: The shot model's variants: name, Lagrange's gas inertia, air ahead of the dart (1 on, 0 off).
VARIANTS = {"neither": (0.0, 0.0), "gas_inertia": (1.0, 0.0), "air_ahead": (0.0, 1.0), "both": (1.0, 1.0)}
#: From this size an error in muzzle velocity is called large, percent (own choice).
LARGE = 2.0


def model_grid() -> pd.DataFrame:
    """The grid's table as kept with the kit, with the errors worked out.

    Error = shot model / waves − 1 in percent

    Returns
    -------
    DataFrame
        One row a build: the table's columns, and an error [%] of the velocity for each variant, of the peak
        pressure, of the best length; ``chain_error`` and ``chain_best_error`` against the chain in place of
        gas waves; ``third_error`` of a third of the spring's mass on the plunger; ``over_long`` is the barrel
        over its best length.

    Examples
    --------
    >>> len(model_grid()) >= 60
    True
    """
    table = tables.read("computed/model_grid").copy()
    for name in VARIANTS:
        table[f"{name}_error"] = 100.0 * (table[f"{name}_m_s"] / table.wave_m_s - 1.0)
    table["peak_error"] = 100.0 * (table.model_peak_kPa / table.wave_peak_kPa - 1.0)
    table["best_error"] = 100.0 * (table.model_best_mm / table.wave_best_mm - 1.0)
    table["chain_error"] = 100.0 * (table.both_m_s / table.chain_m_s - 1.0)
    table["chain_best_error"] = 100.0 * (table.model_best_mm / table.chain_best_mm - 1.0)
    table["third_error"] = 100.0 * (table.third_m_s / table.chain_m_s - 1.0)
    table["over_long"] = table.barrel_mm / table.wave_best_mm
    return table


def model_grid_summary(table: pd.DataFrame | None = None) -> pd.DataFrame:
    """What each correction buys: the error in muzzle velocity over the grid, in percent.

    Parameters
    ----------
    table : DataFrame or None [-]
        From `model_grid`, or a part of it; None for all of it.

    Returns
    -------
    DataFrame
        One row a variant, named by what is switched on (``both`` is the default): mean, middle and largest
        size of the error, mean with its sign [%], and how many builds are beyond 2 %.

    Raises
    ------
    ValueError
        A table without rows.
    """
    table = model_grid() if table is None else table
    if len(table) == 0:
        raise ValueError("table: no builds in it; the likely cause is a choice that none of them meets")
    error = pd.DataFrame({name: table[f"{name}_error"] for name in VARIANTS})
    summary = {
        "mean_size_percent": error.abs().mean(),
        "median_size_percent": error.abs().median(),
        "largest_percent": error.abs().max(),
        "mean_percent": error.mean(),
        "beyond_2_percent": (error.abs() > LARGE).sum(),
    }
    return pd.DataFrame(summary).rename_axis("switched_on")


def validation() -> pd.DataFrame:
    """The models with waves against answers from outside, as kept with the kit.

    Returns
    -------
    DataFrame
        One row a case: the answer from outside, the model's, the difference [%], the source.

    Notes
    -----
    ``tests/bench/make_validation.py`` makes the table ``data/computed/validation.csv``; a test makes it anew.

    References
    ----------
    E. F. Toro, *Riemann Solvers and Numerical Methods for Fluid Dynamics*, 3rd ed., 2009, Table 4.3.
    A. E. H. Love and F. B. Pidduck, *Phil. Trans. R. Soc. A* 222, 167 (1922).
    H. W. Liepmann and A. Roshko, *Elements of Gasdynamics*, 1957, ch. 3.
    Z. J. Rohrbach, T. R. Buresh and M. J. Madsen, *Am. J. Phys.* 80, 24 (2012), eq. 3.
    K. F. Graff, *Wave Motion in Elastic Solids*, 1975, ch. 2.

    Examples
    --------
    >>> bool((validation().off_percent.abs() < 0.1).all())
    True
    """
    table = tables.read("computed/validation").set_index("case")
    table.insert(2, "off_percent", 100.0 * (table.model / table.outside - 1.0))
    return table
