"""Smooth outer shape of a tooth for pictures: the model's root below a stylised crown.

The root is the body of revolution that the model computes with. The crown widens from the cervix
to the catalogue's diameters and closes to an edge or a table; its outline is drawn, not measured,
and no result depends on it.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.bone.root import RootProfile
from gomphosis.bone.teeth import Tooth
from gomphosis.fem.section import Array
from gomphosis.scenarios.model import ToothModel

ROOT_ROWS, NECK_ROWS, CROWN_ROWS = 18, 3, 16
WIDEST = 0.55  # share of the crown's length at which it reaches its full diameter


@dataclass(frozen=True)
class Closing:
    """Round a half width off towards the crown's end: (1 - t^power)^(1/power) from a share on."""

    begin: float
    power: float

    def at(self, share: Array) -> Array:
        """Return the factor, 1 to 0, at shares of the crown's length, 0 cervix to 1 edge."""
        t = np.clip((share - self.begin) / (1.0 - self.begin), 0.0, 1.0)
        return (1.0 - t**self.power) ** (1.0 / self.power)


# an incisor is blunt seen from the front and a wedge seen from the side; a canine is pointed
BLUNT, WEDGE, POINT = Closing(0.86, 2.4), Closing(0.45, 1.45), Closing(0.5, 1.35)
TABLE = Closing(0.72, 2.6)


@dataclass(frozen=True)
class ToothShape:
    """Half widths of a tooth along its long axis, tooth frame.

    Parameters
    ----------
    anatomy
        Sizes in mm.
    root
        The embedded root.
    edge_height
        Incisal edge or cusp above the bone crest, mm.
    """

    anatomy: Tooth
    root: RootProfile
    edge_height: float

    @classmethod
    def of(cls, tooth: ToothModel) -> "ToothShape":
        """Return the shape of a tooth of a run."""
        return cls(tooth.anatomy, tooth.support.design.root, tooth.edge_height)

    def half_widths(self) -> tuple[Array, Array, Array]:
        """Return heights and the labiolingual and mesiodistal half widths, mm, apex to edge."""
        # denser towards the apex, where the outline turns
        from_apex = 1.0 - np.cos(np.linspace(0.0, 0.5 * np.pi, ROOT_ROWS))
        root = self.root.surface(from_apex)[0]
        tooth = self.anatomy
        cervix = self.edge_height - tooth.crown_length
        rise = _smooth(np.linspace(0.0, 1.0, NECK_ROWS + 1)[1:])
        neck = [
            self.root.radius + rise * (0.5 * width - self.root.radius)
            for width in (tooth.cervix_labiolingual, tooth.cervix_mesiodistal)
        ]
        # denser towards the edge, where the outline turns
        share = np.sin(np.linspace(0.0, 0.5 * np.pi, CROWN_ROWS + 1)[1:])
        crown = self._crown(share)
        return (
            np.concatenate(
                [
                    root[1],
                    cervix * np.linspace(0.0, 1.0, NECK_ROWS + 1)[1:],
                    cervix + share * tooth.crown_length,
                ]
            ),
            np.concatenate([root[0], neck[0], crown[0]]),
            np.concatenate([root[0], neck[1], crown[1]]),
        )

    def points(self, sectors: int) -> Array:
        """Return the surface, mm, shape (rows, sectors, 3), sector 0 labial, towards +y."""
        height, labial, mesial = self.half_widths()
        angle = 2 * np.pi * np.arange(sectors) / sectors
        return np.stack(
            [
                labial[:, None] * np.cos(angle),
                mesial[:, None] * np.sin(angle),
                np.repeat(height[:, None], sectors, axis=1),
            ],
            axis=-1,
        )

    def _crown(self, share: Array) -> tuple[Array, Array]:
        tooth = self.anatomy
        across, along = self._closings()
        rise = _smooth(share / WIDEST)
        return (
            0.5
            * (
                tooth.cervix_labiolingual
                + rise * (tooth.crown_labiolingual - tooth.cervix_labiolingual)
            )
            * across.at(share),
            0.5
            * (
                tooth.cervix_mesiodistal
                + rise * (tooth.crown_mesiodistal - tooth.cervix_mesiodistal)
            )
            * along.at(share),
        )

    def _closings(self) -> tuple[Closing, Closing]:
        position = self.anatomy.number % 10
        if position <= 2:
            return WEDGE, BLUNT
        if position == 3:
            return POINT, POINT
        return TABLE, TABLE


def _smooth(t: Array) -> Array:
    t = np.clip(t, 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)
