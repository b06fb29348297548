"""What the kit says about a spring in a build: each finding appears where it must and not elsewhere."""

import math
from types import SimpleNamespace

import pytest

from blasterlab import units
from blasterlab.build import demo_build
from blasterlab.checks import prime as prime_check
from blasterlab.checks import spring_findings
from blasterlab.checks.finding import SEVERITIES, Finding
from blasterlab.checks.spring_limits import force_line, limits
from blasterlab.parts import coil
from blasterlab.parts.prime import prime
from blasterlab.parts.spring import Spring

# 1.3 mm SM wire: R_m 1900 N/mm^2 published, so 1064 N/mm^2 uncorrected at solid, 855 N/mm^2 corrected yield
SPRING = {
    "wire_diameter": "1.3 mm", "outer_diameter": "16 mm", "free_length": "180 mm", "active_coils": 24,
    "material": "EN 10270-1 SM", "guide": "in a tube",
}  # fmt: skip


def make(**changes: object) -> Spring:
    return Spring(**(SPRING | changes))  # type: ignore[arg-type]


def said(spring: Spring, length: str) -> list[tuple[str, str]]:
    found = spring_findings.spring_findings(spring, length)
    assert all(f.part == spring.name and f.source for f in found)
    ranks = [SEVERITIES.index(f.severity) for f in found]
    assert ranks == sorted(ranks, reverse=True)
    return [(f.severity, f.message) for f in found]


def one(spring: Spring, length: str, words: str) -> str:
    hits = [severity for severity, message in said(spring, length) if words in message]
    assert len(hits) == 1, said(spring, length)
    return hits[0]


def none(spring: Spring, length: str, words: str) -> None:
    assert not [message for _, message in said(spring, length) if words in message]


def test_a_sound_spring_leaves_a_margin_and_nothing_else() -> None:
    (severity, message) = said(make(), "100 mm")[0]
    assert severity == "info"
    # 80 mm of compression: corrected stress over 0.45 R_m decides
    state = limits(make(), "100 mm")
    corrected = make().shear_stress("100 mm").m_as("MPa")
    assert state.use_of_yield == pytest.approx(corrected / (0.45 * 1900))
    assert f"margin of {100 * (1 - state.use_of_yield):.0f} %" in message
    assert "from memory" not in message


def test_stress_grows_from_margin_to_set_to_overload() -> None:
    spring = make()
    assert one(spring, "100 mm", "leaves a margin") == "info"
    assert one(spring, "50 mm", "expect a set in the first primings") == "caution"
    pressed = 80.0 / limits(spring, "100 mm").use_of_yield  # mm at which a new spring starts to shorten
    assert one(spring, f"{180 - 0.995 * pressed} mm", "leaves a margin") == "info"
    assert one(spring, f"{180 - 1.005 * pressed} mm", "expect a set in the first primings") == "caution"
    hot = make(free_length="320 mm")
    assert one(hot, "70 mm", "will take a set") == "warning"
    none(hot, "70 mm", "never press this spring solid")  # the graver word is enough
    assert one(hot, "200 mm", "never press this spring solid") == "caution"


def test_the_advice_on_an_overstressed_spring_lowers_the_stress() -> None:
    # at one outer diameter and travel the stress goes with G d x / (pi D^2 n), EN 13906-1
    hot = demo_build("workhorse").replace({"spring.wire_diameter": "1.8 mm", "spring.preload": "40 mm"})
    (message,) = [f.message for f in hot.check() if "will take a set" in f.message]
    advice = "Use less travel or preload, more coils, a larger coil diameter, or thinner wire."
    assert advice in message
    assert "If yours has long kept its length, measure wire, coils and lengths again" in message

    def share(**changes: object) -> float:
        at = hot.replace({name.replace("__", "."): value for name, value in changes.items()})
        spring, stroke = at.spring, units.si(at.chamber.stroke, "length")
        catch = spring.si_values().free_length - spring.si_values().preload - stroke
        return limits(spring, units.quantity(catch, "m")).use_at_length or 0.0

    now = share()
    assert now > 1
    better: dict[str, dict[str, object]] = {
        "less travel": {"chamber__stroke": "70 mm"},
        "or preload": {"spring__preload": "30 mm"},
        "more coils": {"spring__active_coils": hot.spring.active_coils + 2},
        "larger coil diameter": {"spring__outer_diameter": hot.spring.outer_diameter * 1.1},
        "thinner wire": {"spring__wire_diameter": "1.6 mm"},
    }
    for words, change in better.items():
        assert words in advice
        assert share(**change) < now - 0.01, words
    assert share(spring__wire_diameter="1.9 mm") > now + 0.01
    assert "thicker wire" not in message


def test_stainless_has_the_lower_share() -> None:
    steel = make(material="stainless 302 / EN 10270-3 1.4310")
    state = limits(steel, "100 mm")
    assert state.yield_allowable.m_as("MPa") == pytest.approx(0.35 * 1800)
    found = [f for f in spring_findings.spring_findings(steel, "60 mm") if "expect a set" in f.message]
    assert len(found) == 1
    assert "from memory" in found[0].source


def test_doubtful_and_missing_strengths_are_said() -> None:
    assert one(make(material="EN 10270-1 SH"), "100 mm", "from memory or inferred") == "info"
    assert one(make(wire_diameter="0.7 mm", outer_diameter="10 mm"), "100 mm", "not judged") == "caution"
    state = limits(make(wire_diameter="0.7 mm", outer_diameter="10 mm"), "100 mm")
    assert state.strength is None
    assert state.use_at_length is None


def test_solid_gaps_and_the_standards_longer_solid_length() -> None:
    spring = make()
    assert one(spring, "34 mm", "is solid 1.1 mm before the catch") == "danger"
    # 27 d = 35.1 mm, EN 27.5 d = 35.75 mm
    assert one(spring, "35.5 mm", "the standard allows them to touch earlier") == "warning"
    assert one(spring, "40 mm", "the gaps between the coils add up to") == "caution"
    none(spring, "100 mm", "gaps")


@pytest.mark.parametrize("chosen", units.UNIT_SETS)
def test_a_solid_spring_names_the_largest_stroke_and_that_stroke_fits(chosen: str) -> None:
    units.use_units(chosen)
    for changes in ({"preload": "30 mm"}, {"preload": "12.34 mm"}, {"gap": "7.77 mm"}):
        spring = make(**changes)
        (message,) = [m for _, m in said(spring, "34 mm") if "before the catch" in m]
        most = message.partition("The stroke may be at most ")[2].partition(" with this preload")[0]
        force_line(spring, most)
        hair = "0.0011 in" if chosen == "US customary" else "0.11 mm"
        more = units.si(most, "length") + units.si(hair, "length")
        with pytest.raises(units.UnitError, match=f"at most {most} with this preload .* before the catch"):
            force_line(spring, units.quantity(more, "m"))


def test_buckling_depends_on_the_guide() -> None:
    assert one(make(guide="free"), "100 mm", "bows out sideways") == "warning"
    assert one(make(guide="not said"), "100 mm", "say which in the build") == "info"
    none(make(guide="in a tube"), "100 mm", "bows out")
    none(make(guide="on a rod"), "100 mm", "bows out")
    none(make(guide="free"), "175 mm", "bows out")
    stubby = make(guide="free", free_length="40 mm", active_coils=3)
    none(stubby, "12 mm", "bows out")
    assert limits(stubby, "12 mm").buckling_compression is None


def test_guide_room() -> None:
    pitch = (180 - 3 * 1.3) / 24
    grown = math.sqrt(14.7**2 + (pitch**2 - 1.3**2) / math.pi**2) + 1.3
    assert limits(make(), "100 mm").grown_diameter.m_as("mm") == pytest.approx(grown)
    assert grown == pytest.approx(16.18, abs=0.01)
    assert one(make(guide_diameter="16.1 mm"), "100 mm", "it binds") == "danger"
    assert one(make(guide_diameter="17 mm"), "100 mm", "clear.") == "info"
    assert one(make(guide="on a rod", guide_diameter="13.5 mm"), "100 mm", "it binds") == "danger"
    assert one(make(guide="on a rod", guide_diameter="13 mm"), "100 mm", "0.4 mm clear") == "info"
    none(make(guide="free", guide_diameter="13 mm"), "100 mm", "clear.")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"outer_diameter": "5 mm", "free_length": "80 mm"}, "outside 4 to 20: hard to coil"),
        ({"outer_diameter": "30 mm"}, "outside 4 to 20: soft"),
        ({"active_coils": 1.5}, "1.5 active coils; with fewer than 2"),
    ],
)
def test_springs_out_of_scope_warn(changes: dict, words: str) -> None:
    assert one(make(**changes), "79 mm", words) == "warning"


def test_a_measured_rate_that_the_dimensions_cannot_explain() -> None:
    computed = make().rate.m_as("N/m")
    none(make(measured_rate=f"{1.03 * computed} N/m"), "100 mm", "measured rate")
    assert one(make(measured_rate=f"{1.3 * computed} N/m"), "100 mm", "differs by +30 %") == "caution"
    assert one(make(measured_rate=f"{0.7 * computed} N/m"), "100 mm", "differs by -30 %") == "caution"
    # outside the tolerance tables there is nothing to compare with
    thin = make(outer_diameter="30 mm", measured_rate="400 N/m")
    none(thin, "100 mm", "measured rate")


def test_limits_refuse_what_cannot_be() -> None:
    with pytest.raises(units.UnitError, match="there spring is solid"):
        limits(make(), "30 mm")
    with pytest.raises(units.UnitError, match="both ends held flat"):
        limits(make(), "100 mm", seating=3)


def shock_of(spring: Spring, speed: float) -> float:
    """Stress in MPa that a sudden stop adds."""
    return coil.impact_stress(speed, spring.wire.shear_modulus(spring.si_wire), spring.wire.density) / 1e6


def build(*springs: Spring, bore: str = "30 mm", mass: str = "30 g") -> SimpleNamespace:
    """As much of a build as these checks look at."""
    chamber = SimpleNamespace(bore=bore, plunger_mass=mass, stroke="80 mm")
    return SimpleNamespace(springs=springs, chamber=chamber, losses=SimpleNamespace(seal_friction="3 N"))


def test_the_springs_of_a_build_at_their_catch() -> None:
    spring = make(preload="30 mm")
    found = spring_findings.check_springs(build(spring))
    expected = spring_findings.spring_findings(spring, "70 mm")
    assert expected
    assert [f.message for f in found[: len(expected)]] == [f.message for f in expected]


def test_a_spring_too_wide_for_the_plunger_tube() -> None:
    words = "cannot run inside the tube"
    narrow = spring_findings.check_springs(build(make(), bore="16.1 mm"))
    assert [f.severity for f in narrow if words in f.message] == ["warning"]
    for sound in (build(make()), build(make(guide="on a rod"), bore="16.1 mm")):
        assert not [f for f in spring_findings.check_springs(sound) if words in f.message]


def test_firing_empty_is_cautioned_where_the_shock_passes_the_limit() -> None:
    words = "do not fire it empty"
    strong = make(preload="60 mm", measured_rate="900 N/m")
    hits = [f for f in spring_findings.check_springs(build(strong, mass="10 g")) if words in f.message]
    assert len(hits) == 1
    m = 0.010 + strong.mass.m_as("kg") / 3
    speed = math.sqrt(900 * (0.14**2 - 0.06**2) / m)
    shock = shock_of(strong, speed) + strong.shear_stress("120 mm", corrected=False).m_as("MPa")
    assert hits[0].value.m_as("MPa") == pytest.approx(shock)
    assert hits[0].limit.m_as("MPa") == pytest.approx(0.56 * 1900)
    assert not [f for f in spring_findings.check_springs(build(make(), mass="200 g")) if words in f.message]
    unknown = make(wire_diameter="0.7 mm", outer_diameter="10 mm", preload="60 mm", measured_rate="900 N/m")
    assert not [f for f in spring_findings.check_springs(build(unknown, mass="10 g")) if words in f.message]


def test_other_advice_helps_too() -> None:
    # "cushion the front stop": a slower stop adds less stress
    assert shock_of(make(), 5.0) < 0.6 * shock_of(make(), 10.0)
    # "check the wire diameter, the count of coils and the material": each of them moves the computed rate
    rate = make().computed_rate
    for change in (
        {"wire_diameter": "1.25 mm"}, {"active_coils": 25}, {"material": "stainless 302 / EN 10270-3 1.4310"}
    ):  # fmt: skip
        assert abs((make(**change).computed_rate / rate).m_as("dimensionless") - 1) > 0.02


def test_nested_springs_fit_or_not() -> None:
    inner = make(wire_diameter="1 mm", outer_diameter="12 mm", name="springs[1]", preload="10 mm")
    found = spring_findings.check_springs(build(make(name="springs[0]"), inner))
    assert [f.part for f in found if "opposite hands" in f.message] == ["springs[1]"]
    fat = make(wire_diameter="1 mm", outer_diameter="13.3 mm", name="springs[1]")
    found = spring_findings.check_springs(build(make(name="springs[0]"), fat))
    assert [f.severity for f in found if "does not fit into springs[0]" in f.message] == ["danger"]


@pytest.mark.parametrize(
    ("rate", "severity", "words"),
    [
        ("400 N/m", "info", "not a limit"),
        (
            "1600 N/m",
            "caution",
            "179 N, past the guideline force for starting to move a load by hand of 150 N for women and "
            "below that of 200 N for men: tiring",
        ),
        ("1900 N/m", "caution", "past that of 200 N for men: tiring"),
        ("2600 N/m", "caution", "many people cannot"),
    ],
)
def test_the_pull_beside_handling_figures(rate: str, severity: str, words: str) -> None:
    spring = make(measured_rate=rate, preload="30 mm")
    peak, held = prime_check.prime_findings(prime(spring, "80 mm", "3 N"))
    assert peak.severity == severity
    assert words.lower() in peak.message.lower()
    assert held.severity == "caution"
    assert "eye protection" in held.message
    assert "the spring holds" in held.message
    assert prime_check.check_prime(build(spring)) == [peak, held]
    assert prime(spring, "80 mm", "3 N", ratio=2).peak_force.m_as("N") == pytest.approx(
        peak.value.m_as("N") / 2
    )


def test_findings_have_known_severities_only() -> None:
    with pytest.raises(ValueError, match="severity: got 'fatal'; must be one of info, caution"):
        Finding("fatal", "spring", "words")


def test_a_build_is_asked_about_its_springs_and_its_pull() -> None:
    whole = demo_build("two_springs")
    found = whole.check()
    assert any("At the catch the springs hold" in item.message for item in found)
    for item in (*spring_findings.check_springs(whole), *prime_check.check_prime(whole)):
        assert item in found
    ranks = [SEVERITIES.index(item.severity) for item in found]
    assert ranks == sorted(ranks, reverse=True)
    assert whole.prime.peak_force.m_as("N") == pytest.approx(
        prime(whole.springs, whole.chamber.stroke, whole.losses.seal_friction).peak_force.m_as("N")
    )
