r"""Bone resorbed and laid down as a tooth travels, its mineralisation, and the books of both.

What the advancing ligament sweeps is resorbed; what it leaves behind within the jaw's outline is
filled with new, soft bone, which matures over weeks:

.. math:: d\rho/dt = (\rho_m - \rho)/\tau \quad\text{or}\quad (\rho_m - \rho_0)/T
"""

from dataclasses import dataclass, fields, replace

import numpy as np

from gomphosis.bone.coverage import area_within, overlay
from gomphosis.bone.density_map import CORTICAL, LEAST, ROUND_OFF, DensityMap
from gomphosis.fem.section import Array

BALANCE = 1e-6  # accepted residual per swept area


class BooksError(ArithmeticError):
    """Raised when the books of area or mineral do not balance."""


@dataclass(frozen=True)
class Books:
    """Account for one step or, added up, for many; areas in mm^2.

    Mineral is counted as the area of full cortical bone that holds it.

    Attributes
    ----------
    swept, vacated
        Area that tooth and ligament moved into, and out of.
    resorbed, deposited
        Area of bone removed and laid down.
    mineral_removed, mineral_deposited, mineral_matured, mineral_turned_over, mineral_adapted
        Mineral lost with the bone resorbed; gained with new bone, by its mineralisation, by
        turnover of old bone (negative) and by adaptation to load.
    area_residual, bone_residual, mineral_residual
        Change of the outline's area, of the map's bone and of its mineral, less what the entries
        say.
    """

    swept: float = 0.0
    vacated: float = 0.0
    resorbed: float = 0.0
    deposited: float = 0.0
    mineral_removed: float = 0.0
    mineral_deposited: float = 0.0
    mineral_matured: float = 0.0
    mineral_turned_over: float = 0.0
    mineral_adapted: float = 0.0
    area_residual: float = 0.0
    bone_residual: float = 0.0
    mineral_residual: float = 0.0

    def __add__(self, other: "Books") -> "Books":
        """Return the books of both."""
        names = [field.name for field in fields(self)]
        return Books(**{name: getattr(self, name) + getattr(other, name) for name in names})

    @property
    def mineral_change(self) -> float:
        """Mineral gained by all entries together, mm^2."""
        gained = self.mineral_deposited + self.mineral_matured
        return gained + self.mineral_turned_over + self.mineral_adapted - self.mineral_removed


@dataclass(frozen=True)
class Exponential:
    """Mineralise at a rate in proportion to what is missing.

    Parameters
    ----------
    time_constant
        tau, days.
    """

    time_constant: float

    def __post_init__(self) -> None:
        _positive("mineralisation time constant", self.time_constant)

    def gained(self, missing: Array, mature: Array, days: float) -> Array:
        """Return the density gained over some days, exact in time."""
        return -np.expm1(-days / self.time_constant) * missing


@dataclass(frozen=True)
class Linear:
    """Mineralise at a constant rate until mature.

    Parameters
    ----------
    duration
        T from new to mature, days.
    start
        Density of new bone, 0 to 1.
    """

    duration: float
    start: float

    def __post_init__(self) -> None:
        _positive("mineralisation duration", self.duration)
        _density("density of new bone", self.start)

    def gained(self, missing: Array, mature: Array, days: float) -> Array:
        """Return the density gained over some days, exact in time."""
        return np.minimum(missing, np.maximum(mature - self.start, 0.0) * days / self.duration)


def travelled(
    before: DensityMap, old: Array, new: Array, *, new_density: float
) -> tuple[DensityMap, Books]:
    """Carry the outline of tooth and ligament from old to new through the map.

    Parameters
    ----------
    old, new
        Closed outlines, shape (2, n), mm, in the frame of the jaw.
    new_density
        Density of bone just laid down, 0 to 1.

    Raises
    ------
    ValueError
        If the old outline is not where the map has its tooth, or the density not in [0, 1].
    BooksError
        If area or mineral do not balance to 1e-6 of the swept area.
    """
    _density("density of new bone", new_density)
    shares = overlay(before.raster, old, new)
    vacated, swept = shares.first_only, shares.second_only
    apart = float(np.abs(shares.both + vacated - before.covered).max())
    if apart > ROUND_OFF:
        raise ValueError(f"the old outline covers other cells than the map's tooth, by {apart:.2g}")
    room = 1.0 - before.covered
    # what is swept of a cell takes bone and soft tissue in the proportion in which they fill it
    gone = np.where(room > LEAST, np.minimum(swept / np.maximum(room, LEAST), 1.0), 1.0)
    resorbed, lost = gone * before.bone, gone * before.mineral
    deposited = vacated * before.envelope
    added = new_density * deposited
    after = replace(
        before,
        bone=before.bone - resorbed + deposited,
        mineral=before.mineral - lost + added,
        covered=shares.both + swept,
    )
    cell = before.raster.cell_area
    sums = [cell * float(part.sum()) for part in (swept, vacated, resorbed, deposited, lost, added)]
    outlines = area_within(before.raster, new) - area_within(before.raster, old)
    return after, closed(before, after, Books(*sums), covered=outlines)


def mineralised(
    before: DensityMap, law: Exponential | Linear, *, days: float
) -> tuple[DensityMap, Books]:
    """Let bone that is short of its mature density gain mineral for some days."""
    density = before.density
    missing = np.maximum(before.mature - density, 0.0)
    gain = before.bone * law.gained(missing, before.mature, days)
    after = replace(before, mineral=before.mineral + gain)
    return after, closed(before, after, Books(mineral_matured=_area(before, gain)))


def turned_over(
    before: DensityMap, *, per_day: float, new_density: float, days: float
) -> tuple[DensityMap, Books]:
    """Replace a share of the cortical plates' bone by new bone, as slow turnover does.

    Parameters
    ----------
    per_day
        Share of the plates' bone replaced, 1/day.

    Raises
    ------
    ValueError
        If the rate is negative or the density not in [0, 1].
    """
    if not 0 <= per_day < np.inf:
        raise ValueError(f"turnover must be >= 0 per day, got {per_day}")
    _density("density of new bone", new_density)
    share = -np.expm1(-per_day * days)
    plate = before.kind == CORTICAL
    change = share * plate * np.minimum(new_density * before.bone - before.mineral, 0.0)
    after = replace(before, mineral=before.mineral + change)
    return after, closed(before, after, Books(mineral_turned_over=_area(before, change)))


def closed(before: DensityMap, after: DensityMap, books: Books, *, covered: float = 0.0) -> Books:
    """Return the books with their residuals, found from the maps and outlines, not the entries.

    Parameters
    ----------
    covered
        Change of the outline's area within the raster, mm^2, from its corners.

    Raises
    ------
    BooksError
        If a residual exceeds 1e-6 of the swept area (and round-off over the whole map).
    """
    found = replace(
        books,
        area_residual=covered - (books.swept - books.vacated),
        bone_residual=after.bone_area - before.bone_area - (books.deposited - books.resorbed),
        mineral_residual=after.mineral_area - before.mineral_area - books.mineral_change,
    )
    residuals = (found.area_residual, found.bone_residual, found.mineral_residual)
    round_off = 1e-13 * before.covered.size * before.raster.cell_area
    accepted = BALANCE * books.swept + round_off
    # written so that nan fails
    if not all(abs(residual) <= accepted for residual in residuals):
        raise BooksError(
            f"books do not balance: area {residuals[0]:.3g}, bone {residuals[1]:.3g}, mineral "
            f"{residuals[2]:.3g} mm^2 against {accepted:.3g} accepted"
        )
    return found


def _area(bones: DensityMap, cells: Array) -> float:
    return float(cells.sum()) * bones.raster.cell_area


def _positive(name: str, value: float) -> None:
    if not 0 < value < np.inf:
        raise ValueError(f"{name} must be > 0 days, got {value}")


def _density(name: str, value: float) -> None:
    if not 0 <= value <= 1:
        raise ValueError(f"{name} must lie in [0, 1], got {value}")
