"""Pictures of the volume ratio: the map with its ridge, the closed form, and what a fixed ratio costs.

What it is for: `volume_chart`, `full_chamber_chart` and `ratio_chart` for a notebook, and `VolumeView`, which
follows a panel.  What it leaves out: every computation; it draws results.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.colors import LinearSegmentedColormap, Normalize
from matplotlib.patches import Rectangle
from matplotlib.ticker import MaxNLocator

from blasterlab import units
from blasterlab.figures import style
from blasterlab.figures.shot import best_words
from blasterlab.figures.style import Drawing, Frame

#: Candidates for lines of one ratio, swept chamber over barrel volume.
RATIOS = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 10.0)
_LINES = 7  # of equal velocity, about
_LEADER = {"arrowstyle": "-", "color": style.VERMILION, "linewidth": 0.8, "relpos": (0.0, 0.5)}
_BOX = {"boxstyle": "square,pad=0.12", "facecolor": "white", "edgecolor": "none", "alpha": 0.85}


def _colours() -> LinearSegmentedColormap:
    """Cividis without its darkest third, so that black lines and words stay legible on it.

    Reference: J. R. Nuñez, C. R. Anderton, R. S. Renslow, *PLoS ONE* 13(7), e0199239 (2018): perceptually
    uniform, and the same to colour-blind readers.
    """
    from matplotlib import colormaps

    return LinearSegmentedColormap.from_list(
        "light cividis", colormaps["cividis"](np.linspace(0.36, 1.0, 128))
    )


@dataclass(frozen=True)
class MappedShot:
    """A map, the shot of the build as it is, and its sweep of barrel lengths: what `VolumeView` draws.

    Parameters
    ----------
    map : VolumeMap [-]
        From `volume_map`.
    shot : Shot [-]
        From `simulate`; its build is the point in the map.
    sweep : BarrelSweep [-]
        From `barrel_sweep`, of that build.
    """

    map: Any
    shot: Any
    sweep: Any


class VolumeView:
    """Muzzle velocity over barrel length and chamber volume, with the ridge of best lengths.

    Parameters
    ----------
    width, height : int [px]
        Size of the picture.
    """

    def __init__(self, width: int = 440, height: int = 400) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, left=52, right=34, top=42, bottom=46)
        ax = self.ax
        ax.grid(False)
        ax.spines[["top", "right"]].set_visible(True)
        self._colours = _colours()
        self._fills: list[Any] = []
        self._inside = Rectangle((0, 0), 1, 1, transform=ax.transAxes, facecolor="#EDEDED", hatch="...",
                                 edgecolor="#B0B0B0", linewidth=0)  # fmt: skip
        self._solid = Rectangle(
            (0, 0), 1, 0, facecolor="white", hatch="////", edgecolor="#8C8C8C", linewidth=0, gid="solid"
        )
        ax.add_patch(self._inside)
        ax.add_patch(self._solid)
        self._rays = [
            ax.plot([], [], color=style.BLACK, linewidth=0.8, linestyle=(0, (4, 3)), gid=f"ratio {ratio:g}")[
                0
            ]
            for ratio in RATIOS[::-1]
        ]
        self._ray_words = [
            ax.text(0, 0, "", fontsize=style.SMALL, gid=f"ratio {ratio:g} words") for ratio in RATIOS[::-1]
        ]
        self._level_words = [self._word("center", style.SMALL, gid=f"level {row}") for row in range(16)]
        (self._under,) = ax.plot([], [], color="white", linewidth=4.5)
        (self._ridge,) = ax.plot([], [], color=style.BLACK, linewidth=2.2, gid="ridge")
        self._ridge_word = self._word("center", style.SMALL, fontweight="bold", gid="ridge words")
        self._inside_word = self._word("right", style.SMALL, gid="inside words")
        self._solid_word = self._word("center", style.SMALL, gid="solid words")
        (self._here,) = ax.plot([], [], color=style.VERMILION, marker="o", markersize=9, linestyle="none",
                                markeredgecolor="white", markeredgewidth=1.2, gid="here")  # fmt: skip
        self._here_word = self._word(
            "left", style.FONT, color=style.VERMILION, fontweight="bold", gid="here words"
        )
        self._frame: Frame = ((0.0, 1.0), (0.0, 1.0))

    def _word(self, side: str, size: float, **more: Any) -> Any:
        return self.ax.text(0, 0, "", ha=side, va="center", fontsize=size, bbox=dict(_BOX), **more)

    def frame(self, result: MappedShot, old: Frame | None) -> Frame:
        """Limits of both axes: the reach of the map.

        Parameters
        ----------
        result : MappedShot [-]
            What is to be drawn.
        old : tuple or None [display unit]
            The limits in use.

        Returns
        -------
        tuple
            The limits of x and of y [display unit].
        """
        found = result.map
        x = units.display(found.lengths[[0, -1]], "length")
        y = units.display(np.array([found.volumes[0], found.highest]), "volume")
        return (float(x[0]), float(x[1])), (float(y[0]), float(y[1]))

    def draw_full(self, frame: Frame) -> None:
        """Limits and labels.

        Parameters
        ----------
        frame : tuple [display unit]
            From `frame`.
        """
        self._frame = frame
        self.ax.set_xlim(*frame[0])
        self.ax.set_ylim(*frame[1])
        style.dress(self.ax, style.label("barrel length", "length"), style.label("swept chamber", "volume"))
        self.ax.set_title(
            style.label("Muzzle velocity", "speed") + "; dashed: ratio chamber / barrel",
            fontsize=style.SMALL, loc="left", pad=16,
        )  # fmt: skip

    def draw_live(self, result: MappedShot) -> list[Artist]:
        """Fill, lines of equal velocity and ratio, ridge, regions without a shot, and the build.

        Parameters
        ----------
        result : MappedShot [-]
            What is to be drawn.

        Returns
        -------
        list of Artist
            In drawing order [-].
        """
        found = result.map
        x, y = units.display(found.lengths, "length"), units.display(found.volumes, "volume")
        best = units.display(_unbroken(found), "length")
        self._draw_solid(y[-1])
        taken = self._draw_here(result)
        self._under.set_data(best, y)
        self._ridge.set_data(best, y)
        self._ridge_word.set_text("")
        known = np.flatnonzero(np.isfinite(best))
        if known.size > 4:
            at = known[int(0.3 * known.size)]
            self._set(self._ridge_word, best[at], y[at], "best length")
            taken.append((best[at], y[at]))
        stuck = found.stays_in
        shown = stuck.mean() > 0.02
        self._inside_word.set_text("dart stays in" if shown else "")
        self._inside_word.set_position((self._at(0.98, 0), self._at(0.05, 1)))
        if shown:
            taken.append((self._at(0.87, 0), self._at(0.05, 1)))
        self._draw_levels(found, x, y, best, taken)
        self._draw_rays(found)
        return [
            self._inside, *self._fills, self._solid, *self._rays, self._under, self._ridge,
            *self._level_words, self._ridge_word, self._inside_word, self._solid_word, self._here,
            self._here_word, *self._ray_words,
        ]  # fmt: skip

    def _at(self, share: float, axis: int) -> float:
        """A place along an axis, 0 to 1, in display units."""
        low, high = self._frame[axis]
        return float(low + share * (high - low))

    def _share(self, value: float, axis: int) -> float:
        low, high = self._frame[axis]
        return float((value - low) / (high - low))

    @staticmethod
    def _set(text: Any, x: float, y: float, words: str) -> None:
        text.set_position((x, y))
        text.set_text(words)

    def _draw_solid(self, top: float) -> None:
        """The volumes at which the spring's coils touch."""
        (left, right), (_, high) = self._frame
        self._solid.set_bounds(left, top, right - left, max(0.0, high - top))
        room = self._share(high, 1) - self._share(top, 1)
        place = (0.5 * (left + right), 0.5 * (top + high))
        self._set(self._solid_word, *place, "spring solid" if room > 0.045 else "")

    def _draw_here(self, result: MappedShot) -> list[tuple[float, float]]:
        """The build as it is; gives where it and its words stand."""
        si = result.shot.build.si
        here = float(units.display(si["barrel.length"], "length"))
        volume = float(units.display(result.shot.build.chamber.swept_volume.m_as("m^3"), "volume"))
        self._here.set_data([here], [volume])
        speed = units.show(result.shot.muzzle_velocity, "speed", 3) if result.shot.exited else "stays in"
        right = self._share(here, 0) < 0.63
        up = 0.06 if self._share(volume, 1) < 0.5 else -0.06
        self._here_word.set_horizontalalignment("left" if right else "right")
        y = volume + self._at(up, 1) - self._at(0, 1)
        self._set(self._here_word, here, y, f"this build {speed}")
        aside = (self._at(0.2, 0) - self._at(0, 0)) * (1 if right else -1)
        return [(here, volume), (here + aside, y)]

    def _draw_levels(self, found: Any, x: Any, y: Any, best: Any, taken: list[tuple[float, float]]) -> None:
        """Bands and lines of equal velocity, each with its number."""
        for old in self._fills:
            old.remove()
        speeds = units.display(np.nan_to_num(found.velocities, nan=0.0), "speed")
        levels = MaxNLocator(_LINES, steps=[1, 2, 2.5, 5, 10]).tick_values(0.0, float(speeds.max()))
        norm = Normalize(0.0, float(levels[-1]))
        least = 1e-3 * levels[1]  # below it the dart stays in
        bands = self.ax.contourf(
            x, y, speeds, np.append(least, levels[1:]), cmap=self._colours, norm=norm, zorder=1
        )
        lines = self.ax.contour(x, y, speeds, levels[1:-1], colors="#404040", linewidths=0.9, zorder=1.5)
        self._fills = [bands, lines]
        words = iter(self._level_words)
        for level, pieces in zip(lines.levels, lines.allsegs, strict=True):
            place = self._label_place(pieces, best, y, taken)
            if place is not None:
                taken.append(place)
                self._set(next(words), *place, f"{level:g}")
        for text in words:
            text.set_text("")

    def _label_place(
        self, pieces: list[Any], best: Any, y: Any, taken: list[tuple[float, float]]
    ) -> tuple[float, float] | None:
        """A point of a line of equal velocity where its number stands free, rather beyond the ridge."""
        if not pieces:
            return None
        line = np.concatenate(pieces)
        if not len(line):
            return None
        ridge = np.interp(line[:, 1], y, np.where(np.isfinite(best), best, self._frame[0][1]))
        across, up = (self._share_all(line[:, axis], axis) for axis in (0, 1))
        beyond = across - self._share_all(ridge, 0)
        away = np.full(len(line), 1.0)
        for other in taken:
            wide = np.abs(across - self._share(other[0], 0)) / 0.22
            tall = np.abs(up - self._share(other[1], 1)) / 0.07
            away = np.minimum(away, np.maximum(wide, tall))
        free = (away >= 1.0) & (across > 0.05) & (across < 0.95) & (up > 0.04) & (up < 0.96)
        if not free.any():
            return None
        chosen = np.argmin(np.where(free, np.abs(beyond - 0.22), np.inf))
        return float(line[chosen, 0]), float(line[chosen, 1])

    def _share_all(self, values: Any, axis: int) -> Any:
        low, high = self._frame[axis]
        return (np.asarray(values) - low) / (high - low)

    def _draw_rays(self, found: Any) -> None:
        """Lines of one volume ratio, named outside the axes where they leave the map."""
        (left, right), (low, high) = self._frame
        top = found.highest
        last = -1.0
        for ratio, line, text in zip(RATIOS[::-1], self._rays, self._ray_words, strict=True):
            ends = np.array([0.0, top / (ratio * found.bore_area)])
            x = units.display(ends, "length")
            y = units.display(np.array([0.0, top]), "volume")
            line.set_data(x, y)
            slope = (y[1] - y[0]) / (x[1] - x[0])
            out_top = x[1] <= right
            at = (x[1], high) if out_top else (right, slope * right)
            # along the upper edge, then down the right one, in widths of the axes
            way = self._share(at[0], 0) if out_top else 2.0 - self._share(at[1], 1)
            fits = at[0] > self._at(0.03, 0) and at[1] > self._at(0.03, 1) and way - last > 0.075
            text.set_text(f"{ratio:g}" if fits else "")
            line.set_visible(fits)
            if not fits:
                continue
            text.set_position((at[0], at[1] + self._at(0.012, 1) - low) if out_top else
                              (at[0] + self._at(0.012, 0) - left, at[1]))  # fmt: skip
            text.set_horizontalalignment("center" if out_top else "left")
            text.set_verticalalignment("bottom" if out_top else "center")
            last = way


def _unbroken(found: Any) -> Any:
    """Best lengths of a map, with a gap where they jump from one top to another, or lie at an end [m]."""
    best = np.where(found.at_end, np.nan, found.best_lengths)
    jump = np.abs(np.diff(best)) > 0.1 * (found.lengths[-1] - found.lengths[0])
    best[1:][jump] = np.nan
    return best


def volume_words(result: MappedShot) -> str:
    """The key numbers of a map in one line.

    Parameters
    ----------
    result : MappedShot [-]
        Map, shot and sweep.

    Returns
    -------
    str
        The build's own point and the best barrel for its chamber, as ratios [-].
    """
    shot, build = result.shot, result.shot.build
    here = units.show(shot.muzzle_velocity, "speed", 3) if shot.exited else "the dart stays in"
    words = f"ratio {build.volume_ratio:.2f}: {here}; {best_words(result.sweep)}"
    if result.sweep.at_end:
        return words
    best, low, high = own_ratios(result)
    return f"{words}, ratio {best:.2f}; within 1 %: {low:.2f} to {high:.2f}"


def own_ratios(result: MappedShot) -> tuple[float, float, float]:
    """The build's best volume ratio for its own chamber, and the ratios within 1 % of that velocity.

    Parameters
    ----------
    result : MappedShot [-]
        Map, shot and sweep.

    Returns
    -------
    tuple of float
        Best, lowest, highest [-].
    """
    build, sweep = result.shot.build, result.sweep
    one = build.volume_ratio * build.si["barrel.length"]
    short, long = (end.m_as("m") for end in sweep.flat_range(0.01))
    return one / sweep.best_length.m_as("m"), one / long, one / short


def volume_chart(found: Any, shot: Any, sweep: Any) -> Drawing:
    """Muzzle velocity over barrel length and chamber volume, with lines of one ratio and the best lengths.

    Parameters
    ----------
    found : VolumeMap [-]
        From `volume_map`.
    shot : Shot [-]
        From `simulate`; its build is the point in the map.
    sweep : BarrelSweep [-]
        From `barrel_sweep`, of that build.

    Returns
    -------
    Drawing
        The figure; `caption` has the numbers [-].
    """
    result = MappedShot(found, shot, sweep)
    caption = f"Velocity over barrel length and chamber volume; this build: {volume_words(result)}"
    return style.still(VolumeView(), result, caption)


def full_chamber_chart(cases: Mapping[str, Any]) -> Drawing:
    """Why there is a best ratio: gas that expands until it pushes no harder than air and friction.

    Parameters
    ----------
    cases : mapping of str to FullChamber [-]
        By what sets them apart, such as the friction; of one pressure.

    Returns
    -------
    Drawing
        Pressure against barrel volume in chamber volumes; `caption` has the best ratios [-].
    """
    figure, (ax,) = style.new_figure(440, 320)
    most = 1.5 * max(1.0 / case.filled for case in cases.values())
    barrel = np.linspace(0.0, most, 200)
    case = next(iter(cases.values()))
    inside = units.display(case.pressure_at(barrel).m_as("Pa"), "pressure")
    outside, top = float(units.display(case.ambient.m_as("Pa"), "pressure")), float(inside[0])
    for where, colour in ((inside > outside, style.SKY), (inside < outside, style.ORANGE)):
        ax.fill_between(barrel, inside, outside, where=where, color=colour, alpha=0.4, linewidth=0)
    ax.plot(barrel, inside, color=style.BLUE, linewidth=2.2)
    ax.axhline(outside, color=style.BLACK, linewidth=0.9)
    best = []
    for place, ((words, one), (_, line, marker)) in enumerate(zip(cases.items(), style.CYCLE, strict=False)):
        at, level = 1.0 / one.filled, float(units.display(one.resistance.m_as("Pa"), "pressure"))
        ax.plot([0.0, at], [level, level], color=style.GREY, linestyle=line, linewidth=1.0)
        ax.plot([at], [level], color=style.VERMILION, marker=marker, markersize=8)
        free = (at + 0.02 * most, (0.52 + 0.12 * place) * top)  # above the curve, one by one
        ax.annotate(
            f"{words}: ratio {one.filled:.2f}", (at, level), xytext=free, fontsize=style.FONT,
            color=style.VERMILION, fontweight="bold", arrowprops=_LEADER,
        )  # fmt: skip
        best.append(f"{words}, ratio {one.filled:.2f}")
    ax.text(0.03 * most, 0.48 * top, "gas speeds\nthe dart up", fontsize=style.SMALL)
    ax.text(0.03 * most, outside - 0.02 * top, "outside air", va="top", fontsize=style.SMALL)
    ax.text(0.99 * most, float(inside[-1]) - 0.02 * top, "gas holds it back", ha="right", va="top",
            fontsize=style.SMALL)  # fmt: skip
    ax.set_xlim(0.0, most)
    ax.set_ylim(0.0, 1.05 * top)
    style.dress(ax, "barrel volume passed, in chamber volumes", style.label("pressure", "pressure"))
    ax.set_title("Best barrel: where the gas pushes no more", fontsize=style.FONT, loc="left", pad=6)
    figure.caption = f"Best chamber / barrel at {units.show(case.pressure, 'pressure', 3)}: {'; '.join(best)}"
    return figure


def ratio_chart(table: Any, ratio: float) -> Drawing:
    """What a fixed ratio costs: each build's best ratio, its 1 % range, and the rule.

    Parameters
    ----------
    table : DataFrame [-]
        From `ratio_rule`.
    ratio : float [-]
        The rule.

    Returns
    -------
    Drawing
        A row a build; `caption` has the reach of the best ratios and the dearest build [-].
    """
    figure, (ax,) = style.new_figure(440, 76 + 26 * len(table), left=140, right=86, top=30, bottom=42)
    places = range(len(table))[::-1]
    most = 1.12 * max(float(table.high_ratio.max()), ratio)
    for place, (_, row) in zip(places, table.iterrows(), strict=True):
        inside = row.low_ratio <= ratio <= row.high_ratio
        colour = style.BLUE if inside else style.VERMILION
        ax.plot([row.low_ratio, row.high_ratio], [place, place], color=colour, linewidth=5, alpha=0.45,
                solid_capstyle="butt")  # fmt: skip
        ax.plot([row.best_ratio], [place], color=colour, marker="o" if inside else "D", markersize=7)
        ax.text(1.02, place, f"{row.lost_percent:.1f} % lost", transform=ax.get_yaxis_transform(),
                va="center", fontsize=style.SMALL, color=colour,
                fontweight="normal" if inside else "bold")  # fmt: skip
    ax.axvline(ratio, color=style.BLACK, linestyle="--", linewidth=1.2)
    ax.text(ratio, 1.01, f"rule {ratio:.2f}", transform=ax.get_xaxis_transform(), ha="center", va="bottom",
            fontsize=style.SMALL, fontweight="bold")  # fmt: skip
    ax.set_yticks(list(places), list(table.index))
    ax.set_ylim(-0.6, len(table) - 0.4)
    ax.set_xlim(0.0, most)
    ax.grid(False, axis="y")
    style.dress(ax, "chamber / barrel volume; bars: within 1 %")
    worst = table.lost_percent.idxmax()
    figure.caption = (
        f"Best ratios from {table.best_ratio.min():.2f} to {table.best_ratio.max():.2f}; the rule of "
        f"{ratio:.2f} costs most for {worst}: {table.lost_percent.max():.1f} % of the speed"
    )
    return figure
