"""What happened to the bone of a slice since its start: resorbed, and laid down."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gomphosis.bone.slice_run import Frame
from gomphosis.fem.section import Array


@dataclass(frozen=True)
class BoneChange:
    """Hold shares of each cell of the density map, arrays of the raster's shape.

    Attributes
    ----------
    resorbed
        Bone of the start that is missing now.
    laid_down
        Bone now where tooth or ligament have been.
    """

    resorbed: Array
    laid_down: Array


def bone_changes(frames: Sequence[Frame]) -> tuple[BoneChange, ...]:
    """Return the change since the first of some frames in each of them, in order.

    Bone laid down and resorbed again between the start and a frame is in neither array; the
    books count it twice. A place that the tooth reached and left between two frames counts as
    old bone.
    """
    if not frames:
        return ()
    start = frames[0].bones
    reached = start.covered
    changes = []
    for frame in frames:
        bones = frame.bones
        reached = np.maximum(reached, bones.covered)
        left = reached - bones.covered
        changes.append(
            BoneChange(
                resorbed=np.maximum(start.bone - bones.bone, 0.0),
                laid_down=np.minimum(bones.bone, left),
            )
        )
    return tuple(changes)
