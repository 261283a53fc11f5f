"""Slender rods in space: large rotations, a section law that may have a history, C1 centre line.

Shear of the section is left out (Kirchhoff). Every element carries its strain as the mean stretch
of its centre line, linear curvatures from the slopes at its ends, and one twist, all against the
stress-free shape (`fem.rod_element`, `fem.rod_strain`); section forces are summed at Gauss points.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.fem.chain import FREEDOMS, Chain
from gomphosis.fem.rod_element import Elements, measure, second_derivative
from gomphosis.fem.rod_strain import STRAINS, StrainMap, strain_map
from gomphosis.fem.section import Array
from gomphosis.fem.section_response import SectionLaw

POINTS = 2  # Gauss points of an element
_GAUSS = np.polynomial.legendre.leggauss(POINTS)
_XI, _SHARE = 0.5 * (1.0 + _GAUSS[0]), 0.5 * _GAUSS[1]


@dataclass(frozen=True)
class RodPlace:
    """Where a rod's nodes are.

    Parameters
    ----------
    nodes
        In mm, shape (n, 3).
    triads
        Columns are the tangent and the section's second and third axis, shape (n, 3, 3).
    """

    nodes: Array
    triads: Array

    def moved(self, motion: Array) -> "RodPlace":
        """Return the place after displacements and spins, shape (n, 6), mm and rad."""
        turn = Rotation.from_rotvec(motion[:, 3:]).as_matrix()
        return RodPlace(self.nodes + motion[:, :3], turn @ self.triads)


@dataclass(frozen=True)
class RodShape:
    """A rod without stress.

    Parameters
    ----------
    place
        Nodes and triads; triads follow the shape's tangent unless `kinks` say otherwise.
    lengths
        Arc length of every element, mm, shape (n - 1,).
    kinks
        Turn from a node's triad to the triad of the element's end there, shape (n - 1, 2, 3, 3);
        None for a smooth shape.
    origin
        Station of the first node on the material, mm, so that meshes of one wire can be compared.

    Raises
    ------
    ValueError
        If sizes do not fit or a length is not above 0.
    """

    place: RodPlace
    lengths: Array
    kinks: Array | None = None
    origin: float = 0.0

    def __post_init__(self) -> None:
        count = len(self.place.nodes)
        if count < 2 or self.place.triads.shape != (count, 3, 3):
            raise ValueError(f"a rod needs at least 2 nodes with triads, got {count} nodes")
        if len(self.lengths) != count - 1 or not np.all(self.lengths > 0):
            raise ValueError(f"{count} nodes need {count - 1} lengths above 0 mm")

    @cached_property
    def stations(self) -> Array:
        """Place of every node on the material, mm, shape (n,)."""
        return self.origin + np.concatenate([[0.0], np.cumsum(self.lengths)])

    def elements(self, place: RodPlace) -> Elements:
        """Return the elements' ends at a place."""
        first, last = place.triads[:-1], place.triads[1:]
        if self.kinks is not None:
            first, last = first @ self.kinks[:, 0], last @ self.kinks[:, 1]
        return Elements(place.nodes[:-1], place.nodes[1:], first, last)


@dataclass(frozen=True)
class RodState:
    """A rod in equilibrium: its place, and the history of its sections at the Gauss points."""

    place: RodPlace
    history: Array


@dataclass(frozen=True)
class RodResponse:
    """Internal forces of a rod.

    Attributes
    ----------
    force
        On the nodes, N and N·mm, shape (n, 6): what holds the rod in place.
    stiffness
        Derivative by displacements and spins.
    history
        Of the sections after this trial, shape (fields, points, fibres).
    strain, resultant
        At the Gauss points: stretch, two curvatures, twist and N, two moments, torque, (points, 4).
    """

    force: Array
    stiffness: Chain
    history: Array
    strain: Array
    resultant: Array


@dataclass(frozen=True)
class Rod:
    """A rod: stress-free shape and law of its sections.

    Parameters
    ----------
    shape
        Without stress.
    section
        From stretch, curvatures and twist to forces.
    """

    shape: RodShape
    section: SectionLaw

    @cached_property
    def _strains(self) -> StrainMap:
        return strain_map(self.shape.lengths, _XI)

    @cached_property
    def _rest(self) -> Array:
        values = measure(self.shape.elements(self.shape.place)).values
        return self._strains.at(values)[0]

    @cached_property
    def _weights(self) -> Array:
        """Lengths that the Gauss points stand for, mm, shape (points,)."""
        return (self.shape.lengths[:, None] * _SHARE).ravel()

    @property
    def point_stations(self) -> Array:
        """Place of every Gauss point on the material, mm, shape (points,)."""
        return (self.shape.stations[:-1, None] + _XI * self.shape.lengths[:, None]).ravel()

    def at_rest(self) -> RodState:
        """Return the stress-free state."""
        return RodState(self.shape.place, self.section.start(POINTS * len(self.shape.lengths)))

    def respond(self, place: RodPlace, history: Array) -> RodResponse:
        """Return the forces of a trial place from a history of the sections."""
        measured = measure(self.shape.elements(place))
        strain, slope = self._strains.at(measured.values)
        strain = (strain - self._rest).reshape(-1, STRAINS)
        answer = self.section.respond(strain, history)
        weight, shape = self._weights[:, None], slope.shape[:3]
        pull = (weight * answer.resultant).reshape(shape)
        tangent = (weight[..., None] * answer.tangent).reshape(*shape, STRAINS)
        # by the measures
        force = np.einsum("epsk,eps->ek", slope, pull)
        curve = np.sum(np.swapaxes(slope, 2, 3) @ tangent @ slope, axis=1)
        curve += self._strains.curve(pull)
        # by displacements and spins of the nodes
        nodal = np.einsum("ekf,ek->ef", measured.slope, force)
        block = np.swapaxes(measured.slope, 1, 2) @ curve @ measured.slope
        block += second_derivative(measured, force)
        total = np.zeros((len(place.nodes), FREEDOMS))
        total[:-1] = nodal[:, :FREEDOMS]
        total[1:] += nodal[:, FREEDOMS:]
        stiffness = Chain.assembled(block)
        return RodResponse(total, stiffness, answer.state, strain, answer.resultant)


def straight_shape(length: float, count: int) -> RodShape:
    """Return a straight rod along x of count equal elements, second axis y."""
    stations = np.linspace(0.0, length, count + 1)
    nodes = stations[:, None] * [1.0, 0.0, 0.0]
    triads = np.broadcast_to(np.eye(3), (count + 1, 3, 3)).copy()
    return RodShape(RodPlace(nodes, triads), np.diff(stations))
