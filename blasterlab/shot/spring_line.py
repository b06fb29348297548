"""The spring as a line along which waves run: exact, from the past speed of its end, without a state more.

What it is for: a spring presses on the plunger with what its own coils let through.  Its end has the speed
v = g + f: g(t) is the wave that runs away from the plunger, f(t) = -g(t - 2T) is back from the fixed end::

    Z = sqrt(k m)     T = sqrt(m / k)     N = F_c - Z (g - f)
    on the plunger:  v = u       g = u - f            N = F_c - Z (u - 2 f)
    off it:          N = 0       g = f + F_c / Z      v = 2 f + F_c / Z       until the end catches up

k is the rate, m the mass of the active coils, F_c the force at the catch, u the plunger's speed.  Slow motion
gives back N = F_c - k s with a third of m on the plunger.  So the past of g is all that is kept, in pieces.
SI floats.  What it leaves out: coils that touch, friction in the spring, springs too light to tell (see
``from_build``).

A piece is a polynomial of degree 4 that has g and its slope at both ends and, between them, the way that the
wave went (the integral of g): so the end of the spring stays where the plunger is.

References
----------
K. F. Graff, *Wave Motion in Elastic Solids*, 1975, ch. 2 (d'Alembert's waves, St Venant's struck rod).
F. N. Fritsch, R. E. Carlson, *SIAM J. Numer. Anal.* 17, 238 (1980): slopes of a cubic that rises all the way.
"""

from __future__ import annotations

import math

import numpy as np

from blasterlab.compiled import compiled, compiled_bare, compiled_inline
from blasterlab.shot.parameters import Floats, Parameters
from blasterlab.shot.rules import NEAR

# A row of `coils` is a spring: numbers, then times of kinks, then pieces, both as rings.
# Wave impedance, time there and back, speed F_c / Z of its end if it were let go, force at the catch, length
# of the shortest piece; 1 while it presses; now: place of its end, way of the wave that is back
IMPEDANCE, ECHO, LOOSE, CATCH, SHORTEST, PRESSES, PLACE, BACK = range(8)
# the wave that is back at the end of the step at work: its way, itself, its slope; the same of the wave that
# runs away, where the open piece starts, and when; newest piece, last one looked at; first kink, how many
BACK_WAY, BACK_WAVE, BACK_SLOPE, WAY, WAVE, SLOPE, SINCE, NEWEST, LOOK, FIRST, COUNT = range(8, 19)
KINK = 19
KINKS = 32  # times kept that come back as a kink
PIECE = KINK + KINKS
PIECES = 256  # kept of each spring's past
# of a piece: start, length, way at the start, and g = a + b x + c x^2 + d x^3 + e x^4 with x from 0 to 1
START, LENGTH, GONE, A, B, C, D, E = range(8)
SIZE = E + 1
FINEST = 160.0  # the shortest regular piece is this share of the time there and back
SIDE = 1e-9  # of the time there and back: so far to one side of a jump is beside it
LONG_AGO = -1e30  # s


@compiled_inline
def _at(piece: float) -> int:
    """The column where a piece begins."""
    return PIECE + SIZE * (int(piece) % PIECES)


@compiled_inline
def _open(coils: Floats, n: int, t: float, way: float, wave: float, slope: float) -> None:
    """Open a piece of spring n's past at time t; over one that is as good as empty where room is short."""
    long = t - coils[n, SINCE] >= coils[n, SHORTEST]
    if t > coils[n, SINCE] and (long or coils[n, NEWEST] - coils[n, LOOK] < PIECES - 4):
        coils[n, NEWEST] += 1.0
    coils[n, SINCE] = t
    coils[n, WAY] = way
    coils[n, WAVE] = wave
    coils[n, SLOPE] = slope
    at = _at(coils[n, NEWEST])
    coils[n, at + START] = t
    coils[n, at + LENGTH] = 1.0
    coils[n, at + GONE] = way
    coils[n, at + A] = wave
    coils[n, at + B] = slope
    coils[n, at + C] = coils[n, at + D] = coils[n, at + E] = 0.0


@compiled_inline
def _find(coils: Floats, n: int, t: float) -> int:
    """The column where the piece of spring n's past begins that holds time t."""
    look = coils[n, LOOK]
    while look < coils[n, NEWEST] and coils[n, _at(look + 1.0) + START] <= t:
        look += 1.0
    while coils[n, _at(look) + START] > t:
        look -= 1.0
    coils[n, LOOK] = look
    return _at(look)


@compiled
def spring_lines(p: Parameters) -> Floats:
    """The springs that carry waves, one a row, at rest at the catch."""
    rate = (p.rate1, p.rate2, p.rate3)
    squeeze = (p.catch_compression1, p.catch_compression2, p.catch_compression3)
    mass = (p.wave_mass1, p.wave_mass2, p.wave_mass3)
    count = 0
    for c in range(3):
        if mass[c] > 0.0 and squeeze[c] > 0.0 and p.charge == 0.0:
            count += 1
    coils = np.empty((count, PIECE + SIZE * PIECES if count > 0 else 0))
    n = 0
    for c in range(3):
        if mass[c] > 0.0 and squeeze[c] > 0.0 and p.charge == 0.0:
            for m in range(PIECE):
                coils[n, m] = 0.0
            coils[n, IMPEDANCE] = math.sqrt(rate[c] * mass[c])
            coils[n, ECHO] = 2.0 * math.sqrt(mass[c] / rate[c])
            coils[n, CATCH] = rate[c] * squeeze[c]
            coils[n, LOOSE] = coils[n, CATCH] / coils[n, IMPEDANCE]
            coils[n, SHORTEST] = coils[n, ECHO] / FINEST
            coils[n, PRESSES] = 1.0
            coils[n, SINCE] = LONG_AGO
            _open(coils, n, LONG_AGO, 0.0, 0.0, 0.0)
            n += 1
    return coils


@compiled_inline
def press(coils: Floats, t: float, side: float) -> tuple[float, float]:
    """The springs' force on a plunger of speed u at time t as (a, b): a - b u, N."""
    force = drag = 0.0
    for n in range(coils.shape[0]):
        if coils[n, PRESSES] == 1.0:
            force += coils[n, CATCH]
            drag += coils[n, IMPEDANCE]
            echo = coils[n, ECHO]
            if t > (1.0 - side * SIDE) * echo:
                at = _find(coils, n, t - (1.0 - side * SIDE) * echo)
                x = (t - echo - coils[n, at + START]) / coils[n, at + LENGTH]
                wave = coils[n, at + D] + x * coils[n, at + E]
                wave = coils[n, at + A] + x * (coils[n, at + B] + x * (coils[n, at + C] + x * wave))
                force -= 2.0 * coils[n, IMPEDANCE] * wave
    return force, drag


@compiled_bare
def look(coils: Floats, t: float, side: float) -> None:
    """Note the waves that are back at time t; `side` is -1 before a jump there, 1 behind it."""
    for n in range(coils.shape[0]):
        echo = coils[n, ECHO]
        coils[n, BACK_WAY] = coils[n, BACK_WAVE] = coils[n, BACK_SLOPE] = 0.0
        if t > (1.0 - side * SIDE) * echo:
            at = _find(coils, n, t - (1.0 - side * SIDE) * echo)
            a, b, c, d, e = (
                coils[n, at + A], coils[n, at + B], coils[n, at + C], coils[n, at + D], coils[n, at + E],
            )  # fmt: skip
            h = coils[n, at + LENGTH]
            x = (t - echo - coils[n, at + START]) / h
            coils[n, BACK_WAVE] = a + x * (b + x * (c + x * (d + x * e)))
            coils[n, BACK_SLOPE] = (b + x * (2.0 * c + x * (3.0 * d + x * 4.0 * e))) / h
            way = a + x * (b / 2.0 + x * (c / 3.0 + x * (d / 4.0 + x * e / 5.0)))
            coils[n, BACK_WAY] = coils[n, at + GONE] + h * x * way


@compiled_inline
def pressed(coils: Floats, u: float) -> float:
    """The springs' force on a plunger of speed u, with the waves that `look` has noted, N."""
    force = 0.0
    for n in range(coils.shape[0]):
        if coils[n, PRESSES] == 1.0:
            force += coils[n, CATCH] - coils[n, IMPEDANCE] * (u + 2.0 * coils[n, BACK_WAVE])
    return force


@compiled_inline
def _draw(
    coils: Floats, n: int, t: float, taken: float, moved: float, u: float, acceleration: float, way: float,
    wave: float, slope: float,
) -> None:  # fmt: skip
    """Draw the wave that runs away on to time t, from what is back there; open a piece if this is long."""
    if coils[n, PRESSES] == 1.0:
        coils[n, PLACE] += moved
        wave += u
        slope += acceleration
    else:
        coils[n, PLACE] += coils[n, LOOSE] * taken - 2.0 * (way - coils[n, BACK])
        wave = coils[n, LOOSE] - wave
        slope = -slope
    coils[n, BACK] = way
    way += coils[n, PLACE]
    at = _at(coils[n, NEWEST])
    h = t - coils[n, SINCE]
    start = h * coils[n, SLOPE]
    stop = h * slope
    rise = wave - coils[n, WAVE]
    # degree 3 through values and slopes, and the bump x^2 (1 - x)^2 of the area that is missing
    bump = 0.0
    if coils[n, COUNT] == KINKS:  # up to three times the mean slope a cubic has no top and no dip
        low, high = 3.0 * min(rise, 0.0), 3.0 * max(rise, 0.0)
        start, stop = min(max(start, low), high), min(max(stop, low), high)
    elif h > 1e-5 * coils[n, ECHO]:
        bump = (way - coils[n, WAY]) / h - 0.5 * (coils[n, WAVE] + wave) - (start - stop) / 12.0
        bump *= 30.0
    coils[n, at + LENGTH] = h
    coils[n, at + B] = start
    coils[n, at + C] = 3.0 * rise - 2.0 * start - stop + bump
    coils[n, at + D] = start + stop - 2.0 * (rise + bump)
    coils[n, at + E] = bump
    if h >= coils[n, SHORTEST] and coils[n, NEWEST] - coils[n, LOOK] < PIECES - 8:
        _open(coils, n, t, way, wave, slope)


@compiled_bare
def remember(
    coils: Floats, begin: float, taken: float, moved: float, u: float, acceleration: float, held: bool
) -> None:
    """Keep what a step of length `taken` from time `begin` on sent into the springs.

    moved is how far the plunger went, u and acceleration what it has at the end, before anything happens
    there; `look` has noted what is back then.  Where the plunger does not stir a spring's end, the past
    repeats itself, and does so piece by piece.
    """
    t = begin + taken
    for n in range(coils.shape[0]):
        since = begin
        if held or coils[n, PRESSES] == 0.0:
            last = t - (1.0 + SIDE) * coils[n, ECHO]
            _find(coils, n, begin - (1.0 - SIDE) * coils[n, ECHO])
            piece = coils[n, LOOK] + 1.0
            while piece <= coils[n, NEWEST] and coils[n, _at(piece) + START] < last:
                at = _at(piece)
                then = coils[n, at + START] + coils[n, ECHO]
                slope = coils[n, at + B] / coils[n, at + LENGTH]
                _draw(
                    coils, n, then, then - since, 0.0, 0.0, 0.0, coils[n, at + GONE], coils[n, at + A], slope
                )
                since = then
                piece += 1.0
        _draw(
            coils, n, t, t - since, moved, u, acceleration,
            coils[n, BACK_WAY], coils[n, BACK_WAVE], coils[n, BACK_SLOPE],
        )  # fmt: skip


@compiled_bare
def turn(coils: Floats, t: float, u: float, acceleration: float, event: bool) -> None:
    """Begin anew at time t, where the plunger's speed or acceleration has jumped, or a wave that is back.

    Where an `event` did it, or an older kink is back, the kink will be back again 2T later.  With no room
    for one more the jump is smeared over a piece, and no piece goes beyond its ends: nothing can swing up.
    """
    for n in range(coils.shape[0]):
        kink = event
        first = int(coils[n, FIRST])
        while coils[n, COUNT] > 0.0 and coils[n, KINK + first] <= t - (1.0 - SIDE) * coils[n, ECHO]:
            first = (first + 1) % KINKS
            coils[n, COUNT] -= 1.0
            kink = True
        coils[n, FIRST] = first
        if coils[n, COUNT] == KINKS:
            continue
        way = coils[n, PLACE] + coils[n, BACK_WAY]
        wave, slope = coils[n, BACK_WAVE], coils[n, BACK_SLOPE]
        if coils[n, PRESSES] == 1.0:
            _open(coils, n, t, way, u + wave, acceleration + slope)
        else:
            _open(coils, n, t, way, coils[n, LOOSE] - wave, -slope)
        if kink:
            coils[n, KINK + (first + int(coils[n, COUNT])) % KINKS] = t
            coils[n, COUNT] += 1.0


@compiled_inline
def until_kink(coils: Floats, t: float, h: float) -> tuple[float, bool]:
    """The step in s that looks at nothing but the past and runs over no kink; True where it ends on one."""
    when = math.inf
    for n in range(coils.shape[0]):
        echo = coils[n, ECHO]
        h = min(h, echo)
        if coils[n, COUNT] > 0.0:
            when = min(when, max(coils[n, KINK + int(coils[n, FIRST])] + echo, t + SIDE * echo))
    left = when - t
    if h >= left * (1.0 - NEAR):
        return left, True
    return (0.5 * left if 2.0 * h > left else h), False


@compiled_inline
def watch_ends(coils: Floats, taken: float, s: float, u: float, stroke: float, g: Floats, first: int) -> None:
    """Event functions into g, above 0 once a spring has left the plunger, or one that is off it is back.

    At the end of a step of length `taken`, for which `look` has noted what is back, with the plunger at s and
    of speed u.
    """
    for n in range(coils.shape[0]):
        if coils[n, PRESSES] == 1.0:
            g[first + n] = (u + 2.0 * coils[n, BACK_WAVE]) / coils[n, LOOSE] - 1.0
        else:
            place = coils[n, PLACE] + coils[n, LOOSE] * taken - 2.0 * (coils[n, BACK_WAY] - coils[n, BACK])
            g[first + n] = (place - s) / stroke - 2.0 * NEAR


@compiled_inline
def meet(coils: Floats, s: float, after: Floats, first: int) -> bool:
    """Springs that have come free, or that are back on the plunger, by their event functions; any?"""
    met = False
    for n in range(coils.shape[0]):
        if after[first + n] > -NEAR:
            coils[n, PRESSES] = 1.0 - coils[n, PRESSES]
            coils[n, PLACE] = s
            met = True
    return met


@compiled_inline
def lift(coils: Floats, u: float) -> bool:
    """Springs that a jump has taken off the plunger; any?"""
    met = False
    for n in range(coils.shape[0]):
        if coils[n, PRESSES] == 1.0 and u + 2.0 * coils[n, BACK_WAVE] > (1.0 + NEAR) * coils[n, LOOSE]:
            coils[n, PRESSES] = 0.0
            met = True
    return met
