"""Which files of a run its user wants."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Wanted:
    """What is written of a run beside tables, fields, figures as PNG, and report.

    Parameters
    ----------
    also
        Formats of the figures beside PNG: ``svg``, ``pdf``.
    films
        Whether films are made; they take most of the time of a short run.
    """

    also: tuple[str, ...] = ()
    films: bool = True


ALL = Wanted()
"""What a run writes unless it is told otherwise."""
