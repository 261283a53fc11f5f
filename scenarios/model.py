"""From a scenario to the models of its teeth and the loads on them."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.bone.directions import from_trade
from gomphosis.bone.library import lookup
from gomphosis.bone.loads import ConstantLoads
from gomphosis.bone.overload import Lag
from gomphosis.bone.rates import DeadZone, Linear, RateLaw, Saturating, Scaled
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.support import (
    Elastic,
    Resolution,
    Support,
    SupportDesign,
    motion_at,
    support,
)
from gomphosis.bone.teeth import Tooth
from gomphosis.bone.wall import SocketWall
from gomphosis.fem.section import Array
from gomphosis.scenarios.arch import places
from gomphosis.scenarios.schema import Force, Ligament, Rate, Scenario, ToothPlace
from gomphosis.scenarios.slots import Bracket


@dataclass(frozen=True)
class ToothModel:
    """One tooth of a scenario, ready to be loaded and moved.

    Attributes
    ----------
    number
        ISO 3950.
    anatomy
        Sizes in mm.
    slot
        Slot centre (x, y, z) in the tooth frame, mm.
    edge_height
        Incisal edge or cusp above the bone crest, mm.
    place
        Arc length along the arch from the midline, mm.
    start
        Tooth out of line at its slot at the start, tooth frame, mm and rad, shape (6,).
    prescription
        Where the bracket's built-in orientation and in-out put an aligned tooth, same frame,
        shape (6,).
    remodelling
        Support, wall and rate law.
    slot_turn
        How re-bonding has turned the slot on the tooth, tooth frame, rad, shape (3,).
    """

    number: int
    anatomy: Tooth
    slot: Array
    edge_height: float
    place: float
    start: Array
    prescription: Array
    remodelling: Remodelling
    slot_turn: Array = field(default_factory=lambda: np.zeros(3))

    @property
    def support(self) -> Support:
        """The tooth's support."""
        return self.remodelling.wall.support

    @property
    def wall(self) -> SocketWall:
        """The sampled socket wall."""
        return self.remodelling.wall

    @property
    def embedded(self) -> float:
        """Embedded root length h, mm."""
        return self.support.design.root.length

    @property
    def centre_of_resistance(self) -> float:
        """Height of the centre of resistance above the crest, mm (negative: in the bone)."""
        return self.support.planar.centre_of_resistance

    @property
    def edge(self) -> Array:
        """Incisal edge in the tooth frame, mm."""
        return np.array([0.0, 0.0, self.edge_height])

    @property
    def apex(self) -> Array:
        """Apex in the tooth frame, mm."""
        return np.array([0.0, 0.0, -self.embedded])

    def on_slot(self, local: Array) -> Array:
        """Return points of the bracket in the tooth frame, mm, shape (..., 3).

        Parameters
        ----------
        local
            From the slot's centre along the axes that the tooth frame had at first, mm.
        """
        return self.slot + local @ Rotation.from_rotvec(self.slot_turn).as_matrix().T

    @property
    def bracket(self) -> Bracket:
        """The slot as the wire sees it."""
        return Bracket(self.place, self.slot, self.start - self.prescription)


def tooth_models(
    scenario: Scenario, law: RateLaw, *, resolution: Resolution | None = None
) -> tuple[ToothModel, ...]:
    """Build the teeth of a scenario in order along the arch, from the patient's right."""
    size = resolution or Resolution()
    along = places([place.anatomy for place in scenario.teeth])
    return tuple(
        _tooth_model(scenario, place, float(u), law=law, size=size)
        for place, u in zip(scenario.teeth, along, strict=True)
    )


def _tooth_model(
    scenario: Scenario, place: ToothPlace, along: float, *, law: RateLaw, size: Resolution
) -> ToothModel:
    anatomy = place.anatomy
    embedded = scenario.embedded_root(place)
    above = anatomy.crown_length + anatomy.root_length - place.root_lost - embedded
    built_in = place.prescription
    weight = scenario.rate.shear_weight
    loss = scenario.crest_loss(place)
    design = support_design(anatomy, embedded, scenario.ligament, crest_loss=loss)
    return ToothModel(
        number=place.number,
        anatomy=anatomy,
        slot=np.array([place.slot_from_axis + built_in.in_out, 0, above - place.bracket_from_edge]),
        edge_height=above,
        place=along,
        start=malposition(place),
        prescription=prescribed(place),
        remodelling=Remodelling(
            SocketWall(_solved(design, size), size.sectors),
            law if place.speed_factor == 1.0 else Scaled(law, place.speed_factor),
            None if weight == "auto" else float(weight),
            scenario.rate.stimulus,
            overload_lag(scenario.rate),
        ),
    )


def malposition(place: ToothPlace) -> Array:
    """Return how far a tooth stands out of line at its slot, tooth frame, shape (6,)."""
    moved = (place.vertical, place.labial, place.mesial)
    turned = (place.angulation, place.inclination, place.rotation)
    return from_trade(place.number, np.array([*moved, *turned]))


def prescribed(place: ToothPlace) -> Array:
    """Return where a bracket puts its tooth when its slot is aligned, tooth frame, shape (6,)."""
    built_in = place.prescription
    # a thicker base holds the slot out, so the line holds the tooth in
    moved = (0.0, -built_in.in_out, 0.0)
    turned = (built_in.tip, built_in.torque, built_in.rotation)
    return from_trade(place.number, np.array([*moved, *turned]))


@lru_cache(maxsize=64)
def _solved(design: SupportDesign, size: Resolution) -> Support:
    return support(design, size)


def support_design(
    anatomy: Tooth, embedded: float, ligament: Ligament, *, crest_loss: float = 0.0
) -> SupportDesign:
    """Return what supports a tooth: geometry, ligament, dentine and bone of the library.

    Parameters
    ----------
    embedded
        Root within bone, mm.
    crest_loss
        How far the crest has sunk, mm: the root is narrower there than at the normal crest.
    """
    exponent = lookup("root.profile_exponent").number
    return SupportDesign(
        root=RootProfile(anatomy.cervical_radius, embedded + crest_loss, exponent).below(
            crest_loss
        ),
        thickness=ThicknessProfile(
            ligament.thickness_crest, ligament.thickness_middle, ligament.thickness_apex
        ),
        ligament=Elastic(ligament.young, ligament.poisson),
        dentine=Elastic(lookup("tooth_tissue.young").number, lookup("tooth_tissue.poisson").number),
        bone=Elastic(lookup("bone_tissue.young").number, lookup("bone_tissue.poisson").number),
    )


def rate_law(rate: Rate, fitted: Saturating | None) -> RateLaw:
    """Return the scenario's rate law; where it gives no numbers, the fitted one."""
    if rate.law == "linear":
        return Linear(_given(rate.constant))
    if rate.law == "dead-zone":
        return DeadZone(_given(rate.constant), _given(rate.threshold))
    if rate.max_speed is None or rate.half_stress is None:
        if fitted is None:
            raise RuntimeError("a rate law without its numbers needs the fitted one")
        return fitted
    return Saturating(rate.max_speed, rate.half_stress)


def overload_lag(rate: Rate) -> Lag | None:
    """Return how overloaded wall stops; None where the scenario does not ask for it."""
    if rate.overload_pressure is None or rate.overload_delay is None:
        return None
    return Lag(rate.overload_pressure, rate.overload_delay)


def _given(value: float | None) -> float:
    if value is None:
        raise RuntimeError("a rate law without its constant passed the scenario's checks")
    return value


def force_loads(forces: Sequence[Force], teeth: Sequence[ToothModel]) -> ConstantLoads:
    """Return the wrenches about the crest of prescribed forces that act together."""
    wrenches = np.zeros((len(teeth), 6))
    for index, tooth in enumerate(teeth):
        for force in forces:
            if force.tooth == tooth.number:
                at_slot = from_trade(tooth.number, np.array(_with_moment(force, tooth)))
                wrenches[index] += motion_at(tooth.slot).T @ at_slot
    return ConstantLoads(wrenches)


def _with_moment(force: Force, tooth: ToothModel) -> tuple[float, ...]:
    """Return components in trade words with the counter-tipping moment of M/F."""
    words = list(force.components)
    if force.direction in ("labial", "lingual", "mesial", "distal"):
        ratio = force.moment_to_force
        if isinstance(ratio, str):
            ratio = tooth.slot[2] - tooth.centre_of_resistance
        across, about = (1, 4) if force.direction in ("labial", "lingual") else (2, 3)
        # the crown follows the force, so the moment that holds it back has the other sign
        words[about] -= ratio * words[across]
    return tuple(words)
