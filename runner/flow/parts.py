"""The small mappings that steps and documents are made of: limits, choices, branches.

Rules: strict, no key beyond the ones listed, never changed once read. Where an author may write a
short form or a long one, the form of the value decides, and nothing is tried twice.
"""

from typing import Annotated, ClassVar, Literal

from runner.flow.fields import Expression, Label, Name, QuantityField, fault
from runner.flow.forms import BY_SHAPE, Field, FieldFault, Strict


class LimitDoc(Strict):
    """What a reading must satisfy: one bound, or `from` and `to` together, both included."""

    schema_extra: ClassVar = {
        "oneOf": [
            {"required": ["below"], "maxProperties": 1},
            {"required": ["above"], "maxProperties": 1},
            {"required": ["at most"], "maxProperties": 1},
            {"required": ["at least"], "maxProperties": 1},
            {"required": ["from", "to"], "maxProperties": 2},
        ]
    }

    below: QuantityField | None = Field(None, description="less than this")
    above: QuantityField | None = Field(None, description="more than this")
    at_most: QuantityField | None = Field(None, alias="at most", description="this or less")
    at_least: QuantityField | None = Field(None, alias="at least", description="this or more")
    from_: QuantityField | None = Field(None, alias="from", description="this or more, with to")
    to: QuantityField | None = Field(None, description="this or less, with from")

    def rule(self) -> FieldFault | None:
        """One of the five forms."""
        single = [self.below, self.above, self.at_most, self.at_least]
        given = sum(bound is not None for bound in single)
        pair = (self.from_ is not None, self.to is not None)
        if (given, pair) not in ((1, (False, False)), (0, (True, True))):
            return fault(
                "not a limit",
                allowed="one of below, above, at most, at least; or from and to together",
            )
        return None


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

    schema_extra: ClassVar = {"minProperties": 1}

    engine: Literal["running", "stopped"] | None = Field(None, description="the engine")
    rotor: Literal["turning", "stopped"] | None = Field(None, description="the rotor")

    def rule(self) -> FieldFault | None:
        """Something turns or stops."""
        if self.engine is None and self.rotor is None:
            return fault("nothing turns or stops", allowed="engine, rotor or both")
        return None


class ChoiceDoc(Strict):
    """One answer of a choice, and what it does beside being recorded."""

    answer: Label = Field(description="what is answered")
    also: list[Label] = Field([], description="other words for the same answer")
    back_to: Name | None = Field(
        None, alias="back to", description="an earlier step of this list, asked again from there"
    )
    drill: Name | None = Field(None, description="the drill that this answer opens")
    adds: dict[Name, int] = Field({}, description="counters and what is added to them")
    when: Expression | None = Field(
        None, description="condition; unless it holds, this is refused as an answer"
    )
    turns: TurnsDoc | None = Field(
        None,
        description="what is found turning; against what is known it is read back, wants affirm",
    )


Unmet = Annotated[Literal["wait", "stop"] | BranchDoc, BY_SHAPE]
PutOff = Annotated[Literal[True] | PutOffDoc, BY_SHAPE]
Choice = Annotated[Label | ChoiceDoc, BY_SHAPE]
