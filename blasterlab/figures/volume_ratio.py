"""Pictures of the volume ratio: the map with its ridge, the closed form, and what a fixed ratio costs.

What it is for: `volume_chart`, `full_chamber_chart` and `ratio_chart` for a notebook, and `VolumeView`, which
follows a panel.  What it leaves out: every computation; it draws results.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.colors import LinearSegmentedColormap, Normalize
from matplotlib.text import Text
from matplotlib.ticker import MaxNLocator

from blasterlab.closed_forms.prefilled import FullChamber
from blasterlab.figures import lettering, style
from blasterlab.figures.redrawn import Framed, Pen
from blasterlab.figures.style import Drawing, Frame
from blasterlab.report import volume_ratio as words
from blasterlab.report.caps import cap_label
from blasterlab.report.shot import here
from blasterlab.report.volume_ratio import MappedShot
from blasterlab.shot.barrel_sweep import BarrelSweep
from blasterlab.shot.parameters import Floats
from blasterlab.shot.simulate import Shot
from blasterlab.shot.volume_map import VolumeMap
from blasterlab.tables import pd

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


class VolumeView(Framed):
    """Muzzle velocity over barrel length and chamber volume, with the ridge of best lengths.

    Parameters
    ----------
    width, height : int [px]
        Size of the picture.
    """

    _labels = (("barrel length", "length"), ("swept chamber", "volume"))

    def __init__(self, width: int = style.WIDTH, height: int = 384) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, left=52, right=34, top=42, bottom=46)
        self.ax.grid(False)
        self.ax.spines[["top", "right"]].set_visible(True)
        self._colours, self._fills = _colours(), list[Any]()
        self._pen, self._ground = Pen(self.ax, self.ax.transAxes), Pen(self.ax)

    def _word(self, place: tuple[float, float], text: str, name: str, **more: Any) -> Text:
        """A text at a share of the axes' width and height."""
        given = dict[str, Any](ha="center", va="center", fontsize=style.SMALL, bbox=_BOX, gid=f"{name} words")
        return self._pen.words(*place, text, **(given | more))

    def frame(self, result: MappedShot, old: Frame | None) -> Frame:
        """Limits of both axes, the reach of the map [display unit]."""
        found = result.map
        x = style.shown(found.lengths[[0, -1]], "length").tolist()
        return tuple(x), tuple(style.shown(np.array([found.volumes[0], found.highest]), "volume").tolist())

    def draw_full(self, frame: Frame) -> None:
        """Limits, from `frame`, and labels."""
        super().draw_full(frame)
        self.ax.set_title(
            style.label("Muzzle velocity", "speed") + "; dashed: ratio chamber / barrel",
            fontsize=style.SMALL, loc="left", pad=16,
        )  # fmt: skip

    def draw_live(self, result: MappedShot) -> list[Artist]:
        """Fill, solid springs, lines of equal ratio, ridge, this build, in drawing order."""
        pen, found, ((left, right), (low, high)) = self._pen, result.map, self._frame
        x, y = style.shown(found.lengths, "length"), style.shown(found.volumes, "volume")
        best = style.shown(_unbroken(found), "length")
        ridge = np.column_stack([self._share(best, 0), self._share(y, 1)])
        look: dict[str, Any] = {
            "facecolor": "#EDEDED",
            "hatch": "...",
            "edgecolor": "#B0B0B0",
            "linewidth": 0,
        }
        self._ground.box(left, low, right - left, high - low, **look)
        if y[-1] < high:
            self._draw_solid(y[-1])
        self._draw_rays(found)
        pen.line(best, y, color="white", linewidth=4.5)
        pen.line(best, y, color=style.BLACK, linewidth=2.2, gid="ridge")
        taken = self._draw_here(result.shot)
        known = ridge[np.isfinite(best)]
        if len(known) > 4:
            taken.append(tuple(known[int(0.3 * len(known))]))
            self._word(taken[-1], "best length", "ridge", fontweight="bold")
        if found.stays_in.mean() > 0.02:
            self._word((0.98, 0.05), "dart stays in", "inside", ha="right")
            taken.append((0.87, 0.05))
        self._draw_levels(found, x, y, ridge, taken)
        self._draw_cap(result, x, y, ridge, taken)
        return [*self._ground.lift(), *self._fills, *pen.lift()]

    def _share(self, value: Any, axis: int) -> Any:
        """A place in display units as a share of an axis."""
        low, high = self._frame[axis]
        return (value - low) / (high - low)

    def _draw_solid(self, top: float) -> None:
        """From where the spring is solid at the catch."""
        (left, right), (_, high) = self._frame
        look: dict[str, Any] = {"facecolor": "white", "hatch": "////", "edgecolor": "#8C8C8C", "linewidth": 0}
        self._pen.box(left, top, right - left, high - top, gid="solid", **look)
        from_top = 1.0 - self._share(top, 1)
        if from_top > 0.045:
            self._word((0.5, 1.0 - 0.5 * from_top), "spring solid", "solid")

    def _draw_here(self, shot: Shot) -> list[tuple[float, float]]:
        """The build as it is; gives the places taken, as shares of the axes."""
        x = style.shown(shot.build.si["barrel.length"], "length")
        y = style.shown(shot.build.chamber.swept_volume, "volume")
        look: dict[str, Any] = {"color": style.VERMILION, "fontsize": style.FONT, "fontweight": "bold"}
        self._pen.line([x], [y], "o", color=style.VERMILION, markersize=9, markeredgecolor="white",
                       markeredgewidth=1.2, gid="here")  # fmt: skip
        across, up = self._share(x, 0), self._share(y, 1)
        word = self._word((0.0, 0.0), f"this build: {here(shot)}", "here", ha="left", **look)
        wide = lettering.size(word, style.DPI)[0] / self.ax.bbox.width
        left, beside = min(across, 0.99 - wide), up + (0.06 if up < 0.5 else -0.06)
        word.set_position((left, beside))
        return [(across, up), (left + 0.25 * wide, beside), (left + 0.75 * wide, beside)]

    def _draw_levels(self, found: VolumeMap, x: Floats, y: Floats, ridge: Floats, taken: list[Any]) -> None:
        """Bands and lines of equal velocity, each with its number."""
        for old in self._fills:
            old.remove()
        speeds = style.shown(np.nan_to_num(found.velocities, nan=0.0), "speed")
        levels = MaxNLocator(_LINES, steps=[1, 2, 2.5, 5, 10]).tick_values(0.0, float(speeds.max()))
        norm = Normalize(0.0, float(levels[-1]))
        bounds = np.append(1e-3 * levels[1], levels[1:])  # below the first the dart stays in
        bands = self.ax.contourf(x, y, speeds, bounds, cmap=self._colours, norm=norm, zorder=1)
        lines = self.ax.contour(x, y, speeds, levels[1:-1], colors="#404040", linewidths=0.9, zorder=1.5)
        self._fills = [bands, lines]
        for level, pieces in zip(lines.levels, lines.allsegs, strict=True):
            places = np.concatenate([*pieces, np.empty((0, 2))])
            place = _free_place(self._share(places[:, 0], 0), self._share(places[:, 1], 1), ridge, taken)
            if place is not None:
                taken.append(place)
                self._word(place, f"{level:g}", "level")

    def _draw_cap(self, result: MappedShot, x: Floats, y: Floats, ridge: Floats, taken: list[Any]) -> None:
        """The line along which the speed is the cap's, with its word."""
        speeds = np.nan_to_num(result.map.velocities, nan=0.0)
        if result.cap is None or not speeds.min() < result.cap.speed < speeds.max():
            return
        line = self.ax.contour(x, y, speeds, [result.cap.speed], colors=style.VERMILION, linewidths=2.0,
                               linestyles="-.", zorder=1.6)  # fmt: skip
        self._fills.append(line)
        places = np.concatenate([*line.allsegs[0], np.empty((0, 2))])
        place = _free_place(self._share(places[:, 0], 0), self._share(places[:, 1], 1), ridge, taken)
        if place is not None:
            self._word(place, cap_label(result.cap.rules), "cap", color=style.VERMILION)

    def _draw_rays(self, found: VolumeMap) -> None:
        """Lines of one volume ratio, named outside the axes where they leave the map."""
        top, right = style.shown(found.highest, "volume"), self._frame[0][1]
        last = -1.0
        for ratio in RATIOS[::-1]:
            x = style.shown(found.highest / (ratio * found.bore_area), "length")
            above = x <= right  # it leaves through the upper edge, else through the right one
            at = (self._share(x, 0), 1.0) if above else (1.0, self._share(top * right / x, 1))
            way = at[0] if above else 2.0 - at[1]  # along the upper edge, then down the right one
            if min(at) > 0.03 and way - last > 0.075:
                name, last = f"ratio {ratio:g}", way
                self._pen.line([0.0, x], [0.0, top], color=style.BLACK, linewidth=0.8, linestyle=(0, (4, 3)),
                               gid=name)  # fmt: skip
                place, side = ((at[0], 1.012), "center") if above else ((1.012, at[1]), "left")
                self._word(place, f"{ratio:g}", name, bbox=None, ha=side, va="bottom" if above else "center")


def _free_place(across: Floats, up: Floats, ridge: Floats, taken: list[Any]) -> tuple[float, float] | None:
    """A point of a line of equal velocity where its number stands free, rather beyond the ridge [shares]."""
    beyond = across - np.interp(up, ridge[:, 1], np.nan_to_num(ridge[:, 0], nan=1.0))
    places = np.column_stack([across, up])
    away = np.abs(places[:, None] - np.array(taken)) / (0.22, 0.07)  # in widths and heights of a word
    free = (away.max(axis=2) >= 1.0).all(axis=1) & (np.abs(places - 0.5) < (0.45, 0.46)).all(axis=1)
    if not free.any():
        return None
    x, y = places[np.argmin(np.where(free, np.abs(beyond - 0.22), np.inf))]
    return float(x), float(y)


def _unbroken(found: VolumeMap) -> Floats:
    """Best lengths of a map, with a gap where they jump from one top to another, or lie at an end [m]."""
    best = np.where(found.at_end, np.nan, found.best_lengths)
    jump = np.abs(np.diff(best)) > 0.1 * (found.lengths[-1] - found.lengths[0])
    best[1:][jump] = np.nan
    return best


def volume_chart(found: VolumeMap, shot: Shot, sweep: BarrelSweep) -> Drawing:
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
    caption = words.map_caption(found, shot, sweep)
    return style.still(VolumeView(), MappedShot(shot, sweep, map=found), caption)


def full_chamber_chart(cases: Mapping[str, FullChamber]) -> Drawing:
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
    inside = style.shown(case.pressure_at(barrel), "pressure")
    outside, top = float(style.shown(case.ambient, "pressure")), float(inside[0])
    for where, colour in ((inside > outside, style.SKY), (inside < outside, style.ORANGE)):
        ax.fill_between(barrel, inside, outside, where=where, color=colour, alpha=0.4, linewidth=0)
    ax.plot(barrel, inside, color=style.BLUE, linewidth=2.2)
    ax.axhline(outside, color=style.BLACK, linewidth=0.9)
    for place, ((name, one), (_, line, marker)) in enumerate(zip(cases.items(), style.CYCLE, strict=False)):
        at, level = 1.0 / one.filled, float(style.shown(one.resistance, "pressure"))
        ax.plot([0.0, at], [level, level], color=style.GREY, linestyle=line, linewidth=1.0)
        ax.plot([at], [level], color=style.VERMILION, marker=marker, markersize=8)
        free = (at + 0.02 * most, (0.52 + 0.12 * place) * top)  # above the curve, one by one
        ax.annotate(
            f"{name}: ratio {one.filled:.2f}", (at, level), xytext=free, fontsize=style.FONT,
            color=style.VERMILION, fontweight="bold", arrowprops=_LEADER,
        )  # fmt: skip
    ax.text(0.03 * most, 0.48 * top, "gas speeds\nthe dart up", fontsize=style.SMALL)
    ax.text(0.03 * most, outside - 0.02 * top, "outside air", va="top", fontsize=style.SMALL)
    ax.text(0.99 * most, float(inside[-1]) - 0.02 * top, "gas holds it back", ha="right", va="top",
            fontsize=style.SMALL)  # fmt: skip
    ax.set_xlim(0.0, most)
    ax.set_ylim(0.0, 1.05 * top)
    style.dress(ax, "barrel volume passed, in chamber volumes", style.label("pressure", "pressure"))
    ax.set_title("Best barrel: where the gas pushes no more", fontsize=style.FONT, loc="left", pad=6)
    figure.caption = words.full_chamber_caption(cases)
    return figure


def ratio_chart(table: pd.DataFrame, ratio: float) -> Drawing:
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
    figure.caption = words.rule_caption(table, ratio)
    return figure
