"""The small mappings that steps and documents are made of: limits, choices, branches.

Rules: strict, no key beyond the ones listed, never changed once read. Where an author may write a
short form or a long one, the form of the value decides, and nothing is tried twice.
"""

from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag, model_validator

from runner.flow.fields import Label, Name, QuantityField, fault


class Strict(BaseModel):
    """A mapping of a document: strict types, no unknown key, never changed once read."""

    # The models inside a document are built once, with the whole (`model.Whole`).
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, defer_build=True)


def _by_shape(value: Any) -> str:
    return "=map" if isinstance(value, dict) else "=text"


BY_SHAPE: Final = Discriminator(_by_shape)
"""Chooses between the short form (a text) and the long one (a mapping); tags begin with `=`, which
no key of a document's models does, so that they can be told from places."""


class LimitDoc(Strict):
    """What a reading must satisfy: one bound, or `from` and `to` together, both included."""

    model_config = ConfigDict(
        json_schema_extra={
            "oneOf": [
                {"required": ["below"], "maxProperties": 1},
                {"required": ["above"], "maxProperties": 1},
                {"required": ["at most"], "maxProperties": 1},
                {"required": ["at least"], "maxProperties": 1},
                {"required": ["from", "to"], "maxProperties": 2},
            ]
        }
    )

    below: QuantityField | None = Field(None, description="less than this")
    above: QuantityField | None = Field(None, description="more than this")
    at_most: QuantityField | None = Field(None, alias="at most", description="this or less")
    at_least: QuantityField | None = Field(None, alias="at least", description="this or more")
    from_: QuantityField | None = Field(None, alias="from", description="this or more, with to")
    to: QuantityField | None = Field(None, description="this or less, with from")

    @model_validator(mode="after")
    def _one_form(self) -> "LimitDoc":
        single = [self.below, self.above, self.at_most, self.at_least]
        given = sum(bound is not None for bound in single)
        pair = (self.from_ is not None, self.to is not None)
        if (given, pair) not in ((1, (False, False)), (0, (True, True))):
            raise fault(
                "not a limit",
                allowed="one of below, above, at most, at least; or from and to together",
            )
        return self


class ChoiceDoc(Strict):
    """One answer of a choice, and what it does beside being recorded."""

    answer: Label = Field(description="what is answered")
    also: list[Label] = Field([], description="other words for the same answer")
    back_to: Name | None = Field(
        None, alias="back to", description="an earlier step of this list, asked again from there"
    )
    drill: Name | None = Field(None, description="the drill that this answer opens")
    adds: dict[Name, int] = Field({}, description="counters and what is added to them")


class BranchDoc(Strict):
    """An unmet limit opens a drill."""

    branch: Name = Field(description="the drill")


class PutOffDoc(Strict):
    """A step that may be put off comes back before another one."""

    back_before: Name = Field(
        alias="back before", description="a later step of this list, before which it comes back"
    )


class TurnsDoc(Strict):
    """What is turning once the step is answered."""

    model_config = ConfigDict(json_schema_extra={"minProperties": 1})

    engine: Literal["running", "stopped"] | None = Field(None, description="the engine")
    rotor: Literal["turning", "stopped"] | None = Field(None, description="the rotor")

    @model_validator(mode="after")
    def _something(self) -> "TurnsDoc":
        if self.engine is None and self.rotor is None:
            raise fault("nothing turns or stops", allowed="engine, rotor or both")
        return self


Unmet = Annotated[
    Annotated[Literal["wait", "stop"], Tag("=text")] | Annotated[BranchDoc, Tag("=map")], BY_SHAPE
]
PutOff = Annotated[
    Annotated[Literal[True], Tag("=text")] | Annotated[PutOffDoc, Tag("=map")], BY_SHAPE
]
Choice = Annotated[Annotated[Label, Tag("=text")] | Annotated[ChoiceDoc, Tag("=map")], BY_SHAPE]
