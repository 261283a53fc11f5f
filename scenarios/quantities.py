"""Field types of the scenario file: quantities with units, within bounds."""

from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler, PlainSerializer, PlainValidator, WithJsonSchema

from gomphosis.scenarios.refusal import Refused, listed
from gomphosis.scenarios.units import NUMBER, Kind, quantity, written

PATTERN = rf"^\s*{NUMBER}\s*[A-Za-zµμ°].*$"
"""What editors check before the program does: a number and a unit."""


@dataclass(frozen=True)
class Bounded:
    """Annotation of a number that a scenario file writes as a quantity with a unit.

    The number in the model is in the inside unit of the kind; written back it is a quantity again.

    Parameters
    ----------
    kind
        Kind of quantity.
    above
        Bound that must be exceeded, as a quantity; None for no such bound.
    least, most
        Least and greatest value accepted, as quantities; None for no such bound.
    example
        A quantity that is accepted; None for that of the kind.
    """

    kind: Kind
    above: str | None = None
    least: str | None = None
    most: str | None = None
    example: str | None = None

    @property
    def shown_example(self) -> str:
        """A quantity as a user would write it."""
        return self.kind.example if self.example is None else self.example

    @property
    def accepted(self) -> str:
        """What a user may write, as a phrase."""
        bounds = {"above": self.above, "at least": self.least, "at most": self.most}
        limits = [f"{word} {bound}" for word, bound in bounds.items() if bound is not None]
        limits.insert(0, f"{self.kind.noun} in {listed(self.kind.units)}")
        return ", ".join([*limits, f'such as "{self.shown_example}"'])

    @cached_property
    def _limits(self) -> tuple[float | None, float | None, float | None]:
        above, least, most = (
            None if bound is None else quantity(bound, self.kind)
            for bound in (self.above, self.least, self.most)
        )
        return above, least, most

    def parse(self, text: object) -> float:
        """Return the quantity as a number in the inside unit.

        Raises
        ------
        Refused
            If it is not a quantity of the kind or lies outside the bounds.
        """
        try:
            value = quantity(text, self.kind)
        except Refused as refused:
            raise Refused(text, refused.problem, accepted=self.accepted) from None
        above, least, most = self._limits
        low = (above is not None and value <= above) or (least is not None and value < least)
        if low or (most is not None and value > most):
            raise Refused(text, f"is too {'small' if low else 'large'}", accepted=self.accepted)
        return value

    def text(self, value: float) -> str:
        """Return the number as a quantity that `parse` reads back unchanged."""
        return written(value, self.kind)

    def json_schema(self) -> dict[str, Any]:
        """Return the schema of the quantity for editors."""
        return {
            "type": "string",
            "pattern": PATTERN,
            "examples": [self.shown_example],
            "accepted": self.accepted,
        }

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> Any:  # noqa: ANN401 - the signature that pydantic calls
        return handler.generate_schema(
            Annotated[
                float,
                PlainValidator(self.parse),
                PlainSerializer(self.text),
                WithJsonSchema(self.json_schema()),
            ]
        )
