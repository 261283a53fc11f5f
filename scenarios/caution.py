"""Cautions that travel with every output, and what the model of one run leaves out."""

from collections.abc import Sequence

from gomphosis.bone.library import lookup
from gomphosis.scenarios.alloys import Alloy
from gomphosis.scenarios.schema import Elastic, Scenario, Wire
from gomphosis.scenarios.slice_tables import PlateTable, SliceTable

NOTICE = (
    "This is a simulation for research and teaching. It is not a medical device. Its rates of "
    "movement were fitted to twelve weeks of canine translation; other teeth, intrusion, torque "
    "and longer times are extrapolated. It does not predict root resorption, pain or loss of "
    "vitality. Treatment is decided by a licensed practitioner under local rules."
)
"""The full caution, for files, pages and summaries."""

SHORT = (
    "Research and teaching, not a medical device · rates fitted to 12 weeks of canine "
    "translation, all else extrapolated · root resorption, pain and vitality not predicted · "
    "treatment is decided by a licensed practitioner under local rules"
)
"""The same four points in one line, for figures and films."""

FITTED_DAYS = 84.0
"""Length of the study to which the rates were fitted, day."""


def model_limits(scenario: Scenario) -> tuple[str, ...]:
    """Say what the model of this run leaves out, one sentence each.

    Parameters
    ----------
    scenario
        Of the run; only what bears on it is listed.
    """
    wires = scenario.wires
    loads: Sequence[str] = _wire_limits(wires, scenario.temperature) if wires else _force_limits()
    slices = _slice_limits(scenario.slice) if scenario.slice is not None else ()
    if scenario.elastic:
        loads = (*loads, *_elastic_limits(scenario.elastic))
    return (*loads, *_tooth_limits(scenario), *slices, *_time_limits(scenario))


def _law_limits(alloys: Sequence[Alloy], temperature: float) -> tuple[str, ...]:
    """Say what the laws of some wires leave out, one sentence each.

    Parameters
    ----------
    alloys
        Of the wires; only what bears on their behaviours is listed.
    temperature
        Of the wires, degrees Celsius.
    """
    used = {alloy.behaviour for alloy in alloys}
    limits = [sentence for behaviour, sentence in _LAW_LIMITS.items() if behaviour in used]
    if "superelastic" in used:
        limits.append(
            f"All wires have one temperature, {temperature:.4g} degC, everywhere and at all times."
        )
    return tuple(limits)


_LAW_LIMITS = {
    "elastic": "Wires of elastic behaviour have no plateau, no hysteresis, no permanent bend and "
    "no effect of temperature.",
    "plastic": "Wires of plastic behaviour harden linearly and isotropically: bending back is as "
    "hard as bending on; there is no effect of temperature.",
    "superelastic": "Superelastic wires have one phase fraction and one modulus, symmetric in "
    "tension and compression: no R-phase, no fatigue, no permanent bend. Their default constants "
    "are an engineering choice, not those of a product.",
}


def _wire_limits(wires: tuple[Wire, ...], temperature: float) -> tuple[str, ...]:
    limits = [
        *_law_limits([wire.alloy_constants for wire in wires], temperature),
        "Slots have straight, rigid walls; a wire touches the edges in which they end, and nothing "
        "between the two ends of a slot.",
        "Friction is Coulomb's, the same at rest and in motion, limited along the wire and along "
        "the edge each by itself; it does not act while a wire is being tied in.",
        _friction_words(wires),
    ]
    if any(wire.coefficient == 0.0 for wire in wires):
        limits.append(
            "A wire without friction is kept from sliding along the arch by the middle slot."
        )
    if any(wire.section.is_round for wire in wires):
        limits.append("A round wire's spin about itself starts as the wire is tied in.")
    if any(wire.strands > 1 for wire in wires):
        limits.append(
            "Wires of several strands are equivalent sections: strands that bend each by "
            "itself, softened by one published comparison."
        )
    return tuple(limits)


def _elastic_limits(elastics: Sequence[Elastic]) -> tuple[str, ...]:
    limits = [
        "Elastics, chains and coil springs pull straight from attachment to attachment: they do "
        "not bend round crowns, touch gums or rub on the wire.",
        "Their pull is linear in their length and one factor of time lowers all of it, so what is "
        "stretched later is taken to be as tired as the rest; teeth are placed along the line of "
        "the wire in place.",
    ]
    if any(_takes_default_decay(elastic) for elastic in elastics):
        limits.append(
            "How much pull elastics lose where the scenario does not say so comes from the middle "
            "of wide published ranges, and how fast from memory, unverified: products differ by "
            "more than 100 %."
        )
    if any(elastic.hook or elastic.hooks for elastic in elastics):
        limits.append("Hooks are rigid.")
    return tuple(limits)


def _takes_default_decay(elastic: Elastic) -> bool:
    decay = elastic.decay
    return elastic.lost_share > 0 and (decay.lost_share is None or decay.time_constant is None)


def _friction_words(wires: tuple[Wire, ...]) -> str:
    shares = {wire.released for wire in wires}
    if shares == {0.0}:
        return "Chewing releases no friction."
    texts = ", ".join(f"{100 * share:.3g} %" for share in sorted(shares))
    return f"Chewing releases {texts} of the friction at rest between two steps: an assumption."


def _force_limits() -> tuple[str, ...]:
    return (
        "Prescribed forces are constant: no wire or spring stands behind them, so they do not "
        "fade as the tooth moves.",
    )


def _tooth_limits(scenario: Scenario) -> tuple[str, ...]:
    limits = [
        "The ligament is linear: one modulus in tension and compression, without viscosity.",
        "Each root is a body of revolution, so its labiolingual and mesiodistal stiffness are "
        "averaged.",
        "Rotations are treated as small and added.",
    ]
    if any(not place.anatomy.single_rooted for place in scenario.teeth):
        limits.append("The roots of a tooth with several roots are treated as one.")
    if any(scenario.crest_loss(place) > 0 for place in scenario.teeth):
        limits.append(
            "Where bone is lost at the crest it is lost all around the root, and thickness of "
            "bone known at the crest is taken at the lowered one."
        )
    if any(place.root_lost > 0 for place in scenario.teeth):
        limits.append(
            "A root resorbed at the apex is rounded off like a whole one, as wide at the crest; "
            "the model does not say whether a root is resorbed further."
        )
    if len(scenario.teeth) > 1:
        limits.append("Crowns of neighbouring teeth do not touch, and can pass into each other.")
    return tuple(limits)


def _slice_limits(table: SliceTable) -> tuple[str, ...]:
    limits = [
        "Loads of a slice are those of the run and do not depend on where the slice goes.",
        "The two walls beside the plane of a slice act as springs on the long axis, exact for a "
        "round root and a thin ligament only.",
        "In a slice the tooth drifts as a rigid body, so the bone that it sweeps is not what the "
        "rule asks of each place of the wall; the mismatch is reported.",
        f"Soft tissue of a slice has a modulus of {lookup('bone_layer.soft_young').number:g} MPa, "
        f"and bone just laid down {lookup('new_bone.density').number:g} of full cortical density: "
        "assumptions, not measurements.",
    ]
    if table.law == "bilinear":
        limits.append("In a slice the ligament stiffens with strain; in the run it does not.")
    if _takes_default_plates(table):
        limits.append(_DEFAULT_PLATES[table.plane])
    return tuple(limits)


def _takes_default_plates(table: SliceTable) -> bool:
    if table.outline is not None:
        return False
    sides: tuple[PlateTable, ...] = (table.front, table.back)
    return any(value is None for side in sides for value in side.model_dump().values())


_DEFAULT_PLATES = {
    "labiolingual": "Thickness of bone over the root where none is given: labially the mean of a "
    "cone-beam study of upper front teeth (the upper central incisor's for every other tooth), "
    "lingually from memory, unverified. Persons differ widely: opening of a plate hangs on it.",
    "mesiodistal": "Thickness of bone beside the root where none is given: that over the palatal "
    "side of upper incisors, from memory, unverified.",
}


def _time_limits(scenario: Scenario) -> tuple[str, ...]:
    limits = [
        "Tipping comes out several times faster than the one published measurement of it: a known "
        "disagreement, shown by the command check. Translation is what the rates were fitted to.",
        "Speeds of intrusion and extrusion follow from the rate law and are not validated.",
        "The band from the 10th to the 90th percentile spans differences between persons only; "
        "it leaves out errors of the model and of the tissue constants.",
    ]
    rate = scenario.rate
    if rate.overload_pressure is not None:
        limits.append(
            "Overloaded wall stops and moves again after a delay, because the file asks for it: "
            "published findings on such a lag conflict."
        )
    slowed = [str(p.number) for p in scenario.teeth if p.speed_factor != 1.0]
    if slowed:
        limits.append(
            f"Speeds of teeth {', '.join(slowed)} are multiplied by factors of the file, which no "
            "published measurement supports."
        )
    if rate.stimulus != "traction":
        limits.append(
            "The speed of the wall follows another stimulus than the default, because the file "
            "asks for it: it brings no published measurement into agreement that the default "
            "leaves out."
        )
    if scenario.growing == "unknown":
        limits.append("Growth is unknown: rates are those of growing and grown persons pooled.")
    if scenario.duration > FITTED_DAYS:
        limits.append("Times beyond twelve weeks are extrapolated.")
    return tuple(limits)
