"""What builders report of one blaster, against the model with one plausible set of what they do not report.

All reported figures are *common practice, no source*: a tube of 36 mm bore and 105 mm length, a spring of
15 mm outer diameter cut to 254 mm and lightly preloaded, a barrel of 12.8 mm bore and about 267 mm, short
darts of about 1 g.  With 1.8 mm wire close to 76 m/s; with 1.4 mm wire and nothing else changed a little
under 46 m/s; barrels somewhat longer and somewhat shorter were both slower.

Coil count, stroke, plunger mass and losses are not reported.  `SUPPOSED` is one set that meets all of it,
each value inside the range that `RANGES` gives with its reason.  It shows that the model can, not that the
blaster was so.  What it costs, and how close the model comes otherwise, found by a search over these ranges:

* The set is wanted by the barrel, not by the speeds.  Its spring is stretched long (18 active coils in
  254 mm) and works a tenth above the static limit of EN 13906-1, so it would take a small set; the stroke
  is half of the tube; leak and blow-by are generous; and the speeds lie 3 % above and 3 % below.
* With more active coils the barrel can be met and the speeds cannot: at best the thick wire's lies above and
  the thin wire's below by 5 % each with 22 coils, 7 and 6 % with 24, 8 % each with 28.
* With 38 coils (a spring well below its limit) and hardly a leak both speeds are met again, but then only
  the thin wire has its best barrel near, at about 330 mm; the thick wire's lies beyond 60 cm
  (`CLOSE_WOUND`).

Suspect is what the report leaves out (which wire the barrels were cut with, the stroke, a spring that had
already set) and how leak, blow-by and the friction of foam grow with pressure.  Waves in the gas are not:
with them resolved the speeds move by less than 2 %, and the spring's waves are those of a chain of masses,
as the last tests show.
"""

from __future__ import annotations

import pytest

import blasterlab as bl
from blasterlab import units
from blasterlab.checks.spring_limits import limits
from blasterlab.shot import from_build as pack
from blasterlab.waves.chain_shot import chain_run
from blasterlab.waves.gas_shot import wave_run

THICK, THIN = "1.8 mm", "1.4 mm"
REPORTED = {
    "chamber.bore": "36 mm", "chamber.tube_length": "105 mm", "spring.outer_diameter": "15 mm",
    "spring.free_length": "254 mm", "spring.wire_diameter": THICK, "barrel.bore": "12.8 mm",
    "barrel.length": "267 mm", "dart.diameter": "12.9 mm", "dart.length": "36 mm",
}  # fmt: skip
SUPPOSED = {
    "dart.mass": "1.07 g", "spring.active_coils": 18, "spring.preload": "29.5 mm", "chamber.stroke": "52 mm",
    "chamber.plunger_mass": "62 g", "chamber.dead_volume": "7.8 cm^3", "chamber.port_diameter": "12 mm",
    "barrel.dead_volume": "1.8 cm^3", "losses.port_discharge": 0.75, "losses.seal_friction": "1.5 N",
    "losses.seal_breakaway": "2 N", "losses.seal_friction_per_pressure": "0.003 N/kPa",
    "losses.seal_leak_area": "3.2 mm^2", "losses.dart_friction": "0.3 N", "losses.dart_breakaway": "0.6 N",
    "losses.dart_friction_per_pressure": "0.01 N/kPa", "losses.blowby_area": "3.6 mm^2",
}  # fmt: skip
#: Least and most of each supposed value and why; every one *common practice, no source*.
RANGES = {
    "dart.mass": ("0.95 g", "1.1 g", "about 1 g"),
    "spring.active_coils": (16, 45, "more go solid before the catch, fewer would set at once"),
    "spring.preload": ("5 mm", "30 mm", "lightly preloaded"),
    "chamber.stroke": ("45 mm", "95 mm", "the tube less a plunger head and its guide of 10 to 60 mm"),
    "chamber.plunger_mass": ("25 g", "100 g", "a printed head for a 36 mm bore, to one on a steel rod"),
    "chamber.dead_volume": ("1 cm^3", "8 cm^3", "a pad and a cone: up to 8 mm over the whole bore"),
    "chamber.port_diameter": ("6 mm", "12.8 mm", "up to the full bore of the barrel"),
    "barrel.dead_volume": ("0.3 cm^3", "2 cm^3", "2 to 16 mm of bore behind the dart"),
    "losses.port_discharge": (0.6, 0.85, "a short hole with edges"),
    "losses.seal_friction": ("1 N", "8 N", "a greased O-ring, pulled by hand"),
    "losses.seal_breakaway": ("1 N", "24 N", "up to three times the running friction"),
    "losses.seal_friction_per_pressure": ("0 N/kPa", "0.1 N/kPa", "a tenth of the plunger's area"),
    "losses.seal_leak_area": ("0 mm^2", "4 mm^2", "a gap of 0.035 mm around the seal"),
    "losses.dart_friction": ("0.3 N", "4 N", "a dart that falls through, to one that is pushed"),
    "losses.dart_breakaway": ("0.3 N", "8 N", "the same at rest"),
    "losses.dart_friction_per_pressure": ("0 N/kPa", "0.06 N/kPa", "half of the bore's area at most"),
    "losses.blowby_area": ("0 mm^2", "8 mm^2", "a gap of 0.2 mm around the dart"),
}
CLOSE_WOUND = SUPPOSED | {
    "dart.mass": "0.98 g", "spring.active_coils": 38, "chamber.stroke": "94.5 mm",
    "chamber.plunger_mass": "91 g", "chamber.dead_volume": "7.7 cm^3", "chamber.port_diameter": "12.2 mm",
    "losses.seal_friction": "1 N", "losses.seal_breakaway": "1.3 N",
    "losses.seal_friction_per_pressure": "0.005 N/kPa", "losses.seal_leak_area": "0.04 mm^2",
    "losses.dart_breakaway": "3.9 N", "losses.dart_friction_per_pressure": "0.048 N/kPa",
    "losses.blowby_area": "0.07 mm^2",
}  # fmt: skip


@pytest.fixture(scope="module")
def build() -> bl.Build:
    return bl.demo_build("workhorse").replace(REPORTED | SUPPOSED)


def speed(build: bl.Build, wire: str) -> float:
    shot = bl.simulate(build.replace({"spring.wire_diameter": wire}))
    assert shot.exited
    return float(shot.muzzle_velocity.m_as("m/s"))


@pytest.mark.parametrize("changes", [SUPPOSED, CLOSE_WOUND], ids=["supposed", "close wound"])
def test_every_supposed_value_lies_in_its_range(changes: dict[str, object]) -> None:
    assert set(changes) == set(RANGES)
    for name, (low, high, reason) in RANGES.items():
        least, value, most = (float(units.ureg.Quantity(v).to_base_units().m) for v in
                              (low, changes[name], high))  # fmt: skip
        assert reason
        assert least <= value * (1 + 1e-12), name
        assert value <= most * (1 + 1e-12), name


def test_thick_wire_is_close_to_76_metres_a_second(build: bl.Build) -> None:
    assert speed(build, THICK) == pytest.approx(76.0, rel=0.05)


def test_thin_wire_with_the_same_losses_is_a_little_under_46(build: bl.Build) -> None:
    assert speed(build, THIN) == pytest.approx(45.7, rel=0.05)
    assert speed(build, THIN) < 46.0


@pytest.mark.parametrize("wire", [THICK, THIN])
def test_the_reported_barrel_is_within_two_percent_of_the_best(build: bl.Build, wire: str) -> None:
    sweep = bl.barrel_sweep(build.replace({"spring.wire_diameter": wire}), "10 cm", "60 cm", points=101)
    low, high = sweep.flat_range(0.02)
    assert not sweep.at_end
    assert low < build.barrel.length < high
    for longer_or_shorter in ("20 cm", "33.5 cm"):
        assert sweep.velocity_at(longer_or_shorter) < sweep.velocity_at("267 mm")


@pytest.mark.parametrize(("wire", "least", "most"), [(THICK, 1.0, 1.12), (THIN, 0.7, 0.85)])
def test_the_spring_clears_solid_and_works_where_it_is_said_to(
    build: bl.Build, wire: str, least: float, most: float
) -> None:
    spring = build.replace({"spring.wire_diameter": wire}).spring
    assert build.si["spring0.catch_compression"] == pytest.approx(0.0815)
    at_catch = limits(spring, "172.5 mm")
    assert at_catch.travel_to_solid > at_catch.minimum_gaps
    assert least < at_catch.use_at_length < most


def test_a_close_wound_spring_meets_the_speeds_but_not_the_barrel() -> None:
    build = bl.demo_build("workhorse").replace(REPORTED | CLOSE_WOUND)
    assert limits(build.spring, "130.5 mm").use_at_length < 0.8
    assert speed(build, THICK) == pytest.approx(76.0, rel=0.05)
    assert speed(build, THIN) == pytest.approx(45.7, rel=0.05)
    sweep = bl.barrel_sweep(build, "10 cm", "60 cm", points=101)
    assert sweep.at_end
    assert sweep.velocity_at("267 mm") < 0.98 * sweep.best_velocity


@pytest.mark.parametrize("wire", [THICK, THIN])
def test_waves_in_the_gas_and_a_chain_for_the_spring_do_not_change_the_picture(
    build: bl.Build, wire: str
) -> None:
    changed = build.replace({"spring.wire_diameter": wire})
    p, model = pack.parameters(changed.si), speed(build, wire)
    waves = wave_run(p, cell=4e-3).outcome.muzzle_velocity
    chain, _ = chain_run(p, (p.wave_mass1,), elements=20)
    assert waves == pytest.approx(model, rel=0.02)
    assert chain.muzzle_velocity == pytest.approx(model, rel=1e-3)
