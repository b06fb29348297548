"""Invented builds for tests of pages and posts: two from callipers alone, and losses that strings told."""

from __future__ import annotations

from blasterlab.parts.loss_uncertainty import LossUncertainty

CALLIPERS = """
title = "From callipers"
[spring]
wire_diameter = "1.3 mm"
outer_diameter = "16 mm"
free_length = "180 mm"
[chamber]
bore = "32 mm"
tube_length = "110 mm"
[barrel]
bore = "13 mm"
[dart]
mass = "1 g"
"""
#: The same kind of build as a post writes it, on a line a part.
SHORT = """title = "From callipers"
spring = { wire_diameter = "1.5 mm", outer_diameter = "16 mm", free_length = "200 mm" }
chamber = { bore = "35 mm", tube_length = "110 mm" }
barrel = { bore = "12.9 mm" }
dart = { mass = "1 g" }
"""
LEARNED = LossUncertainty(
    ("dart_friction", "seal_friction"), ("0.2 N", "0.5 N"), ((1.0, -0.3), (-0.3, 1.0)), 0.01, 9, 0.005
)
#: The same with the chronograph's own error, and a loss that no usual range names.
WITH_CHRONOGRAPH = LossUncertainty(
    ("dart_friction", "dart_breakaway", "chronograph"), ("0.2 N", "0.4 N", 0.01),
    ((1.0, -0.3, 0.5), (-0.3, 1.0, 0.0), (0.5, 0.0, 1.0)), 0.01, 9, 0.004, 1.01,
)  # fmt: skip
#: A spring outside the tables of tolerances; with a thinner wire it lies within.
TIGHT = {"spring.wire_diameter": "1.8 mm", "spring.outer_diameter": "7 mm"}
