"""Table of the scenario file that makes a lesson of it: aim, question and captions."""

from typing import Annotated

from pydantic import Field, model_validator

from gomphosis.scenarios.quantities import Bounded
from gomphosis.scenarios.refusal import Refused
from gomphosis.scenarios.tables import Table, optional
from gomphosis.scenarios.tooth_tables import ToothNumber
from gomphosis.scenarios.units import DURATION

# Bounds are engineering choices: a caption has two lines under a film.
CaptionDay = Annotated[float, Bounded(DURATION, least="0 days", most="260 weeks")]
Sentence = Annotated[str, Field(min_length=1, max_length=400, pattern=r"^[^\x00-\x1f\x7f]*$")]
CaseName = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[^\x00-\x1f\x7f]+$")]
CaptionText = Annotated[str, Field(min_length=1, max_length=200, pattern=r"^[^\x00-\x1f\x7f]*$")]


class Caption(Table):
    """What a film says from a time on."""

    at: CaptionDay = Field(description="Time from the start")
    text: CaptionText = Field(description="One or two short sentences, in plain words")
    case: CaseName | None = optional(
        "Case of which it speaks, whose pictures then stand beside it; default: all"
    )


class Lesson(Table):
    """What a class is to see in a scenario."""

    aim: Sentence = Field(description="What one can explain after the lesson")
    question: Sentence = Field(description="To the class")
    free_body: ToothNumber | None = optional(
        "Tooth that is drawn free of its socket; default: the one with the largest first force"
    )
    captions: Annotated[tuple[Caption, ...], Field(strict=False)] = Field(
        default=(),
        alias="caption",
        max_length=30,
        description="What the films say, in order of time; default: what happens in the run",
    )

    @model_validator(mode="after")
    def _check(self) -> "Lesson":
        for index in range(1, len(self.captions)):
            if self.captions[index].at <= self.captions[index - 1].at:
                raise Refused(
                    f"{self.captions[index].at:g} days",
                    "is not after the caption before it",
                    accepted="captions in order of time",
                    key=("caption", index, "at"),
                )
        return self
