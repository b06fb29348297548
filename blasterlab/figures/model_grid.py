"""Pictures of how far off the shot model is: its errors over the grid of builds.

What it is for: `grid_error_curves`, `grid_error_map` and `spring_error_map` for a notebook, each with its
numbers in words.  What it leaves out: every computation; it draws results.
"""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from blasterlab.figures import style
from blasterlab.figures.style import Drawing
from blasterlab.report import waves as words
from blasterlab.tables import pd
from blasterlab.waves.model_grid import LARGE

_EDGE = 7.0  # percent, at which larger errors are drawn


def grid_error_curves(table: pd.DataFrame) -> Drawing:
    """For each variant of the shot model, the share of builds whose velocity error stays below a size.

    Parameters
    ----------
    table : DataFrame [-]
        From `model_grid`.

    Returns
    -------
    Drawing
        One step curve a variant; `caption` has the shares within 2 % [-].
    """
    figure, (ax,) = style.new_figure(480, 330, right=20)
    share = 100.0 * np.arange(1, len(table) + 1) / len(table)
    for (name, called), (colour, line, marker) in zip(words.VARIANT_NAMES.items(), style.CYCLE, strict=False):
        error = np.sort(np.abs(table[f"{name}_error"].to_numpy()))
        ax.plot(error, share, linestyle=line, color=colour, marker=marker, markevery=12, markersize=5,
                linewidth=1.6, label=called)  # fmt: skip
    ax.axvline(LARGE, color=style.BLACK, linestyle="--", linewidth=1.0)
    ax.text(LARGE, 2.0, f" {LARGE:g} %", fontsize=style.SMALL, va="bottom")
    ax.set_xlim(0.0, 5.0)
    ax.set_ylim(0.0, 102.0)
    ax.legend(loc="lower right", frameon=False, fontsize=style.SMALL, handlelength=3.2)
    style.dress(ax, "size of the error in muzzle velocity, %", "builds with no larger error, %")
    figure.caption = words.grid_error_curves(table)
    return figure


def _dots(ax: Axes, x: np.ndarray, y: np.ndarray, colour: str, marker: str, called: str) -> None:
    """A cloud of hollow dots."""
    ax.plot(x, y, linestyle="none", marker=marker, markersize=5.2, markeredgewidth=1.2, color=colour,
            markerfacecolor="none", label=called)  # fmt: skip


def _band(ax: Axes) -> None:
    """Shade what is not a large error."""
    ax.axhspan(-LARGE, LARGE, facecolor=style.PALE, alpha=0.6, linewidth=0)
    ax.axhline(0.0, color=style.BLACK, linewidth=0.8)


def grid_error_map(table: pd.DataFrame) -> Drawing:
    """The shot model's error in muzzle velocity against how over-long the barrel is.

    Parameters
    ----------
    table : DataFrame [-]
        From `model_grid`.

    Returns
    -------
    Drawing
        One dot a build, with and without the corrections; `caption` has the worst builds in words [-].
    """
    figure, (ax,) = style.new_figure(480, 340, top=44, right=20)
    x = table.over_long.to_numpy()
    neither, both = table.neither_error.to_numpy(), table.both_error.to_numpy()
    _band(ax)
    for error, colour, marker, name in (
        (neither, style.VERMILION, "x", "neither"),
        (both, style.BLUE, "o", "both"),
    ):
        _dots(ax, x, np.clip(error, -_EDGE, _EDGE), colour, marker, words.VARIANT_NAMES[name])
    for at, value in zip(x, both, strict=True):
        if abs(value) > _EDGE:
            ax.annotate(f"{value:.0f} %", (at, np.sign(value) * _EDGE), (0, -12), ha="center",
                        textcoords="offset points", fontsize=style.SMALL)  # fmt: skip
    ax.set_ylim(min(-4.0, 1.1 * max(both.min(), neither.min(), -_EDGE)), _EDGE + 0.6)
    ax.set_xlim(0.0, max(1.05 * x.max(), 2.0))
    style.key(ax)
    style.dress(ax, "barrel over its best length", "shot model over gas waves, error in %")
    figure.caption = words.grid_error_map(table, _EDGE)
    return figure


def spring_error_map(table: pd.DataFrame) -> Drawing:
    """What waves along the spring, and a third of its mass, miss, against the wave's time over the shot's.

    Parameters
    ----------
    table : DataFrame [-]
        From `model_grid`.

    Returns
    -------
    Drawing
        Two dots a build; `caption` has the errors in words [-].
    """
    figure, (ax,) = style.new_figure(480, 330, right=20)
    x = (table.transit_ms / table.exit_ms).to_numpy()
    _band(ax)
    _dots(ax, x, table.third_error.to_numpy(), style.VERMILION, "x", "a third of the spring's mass moves")
    _dots(ax, x, table.chain_error.to_numpy(), style.BLUE, "o", "waves along the spring (the default)")
    ax.legend(loc="upper left", frameon=False, fontsize=style.SMALL)
    ax.set_xlim(0.0, 1.05 * x.max())
    style.dress(ax, "wave's time along the spring over the shot's", "shot model over chain, error in %")
    figure.caption = words.spring_error_map(table)
    return figure
