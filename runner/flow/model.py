"""The documents of an aircraft as their authors write them: aircraft, list, drill.

Rules: strict, no key beyond the ones listed; what a single document can be wrong in is refused
here, what needs another document or the engine's units in `meaning`.
"""

from typing import Annotated, ClassVar, Literal

from runner.flow.fields import (
    Duration,
    Expression,
    Label,
    Name,
    QuantityField,
    StepPlace,
    Text,
    UnitName,
    fault,
)
from runner.flow.forms import BY_SHAPE, Field, FieldFault, Strict
from runner.flow.parts import LimitDoc
from runner.flow.steps import AnyStep


class PlausibleDoc(Strict):
    """The range outside which a reading is never taken."""

    from_: QuantityField = Field(alias="from", description="the lowest that can be read")
    to: QuantityField = Field(description="the highest that can be read")


class PlateauDoc(Strict):
    """When a value has stopped moving short of its limit."""

    less_than: QuantityField = Field(alias="less than", description="got better by less than this")
    over: Duration = Field(description="over this time")


class InstrumentDoc(Strict):
    """A measured value of the aircraft."""

    label: Label = Field(description="its name as it is called")
    unit: UnitName = Field(description="the unit it is read in")
    decimals: int = Field(0, ge=0, le=6, description="its decimals")
    plausible: PlausibleDoc = Field(description="the range outside which it is never taken")
    near: QuantityField | None = Field(
        None, description="how close to a limit it is asked to be affirmed"
    )
    ask_every: Duration | None = Field(
        None, alias="ask every", description="how often it is asked while something waits for it"
    )
    plateau: PlateauDoc | None = Field(None, description="when it counts as no longer moving")
    notice_after: Duration | None = Field(
        None, alias="notice after", description="when waiting for it is remarked on in any case"
    )
    fresh_for: Duration | None = Field(
        None, alias="fresh for", description="older than this it is asked again"
    )


class TimerDoc(Strict):
    """A maximum time that runs beside the list and calls unasked."""

    label: Label = Field(description="its name as it is called")
    within: Duration = Field(description="the most time")
    call_at: list[Duration] = Field([], alias="call at", description="when the seconds are called")
    say: Text | None = Field(None, description="what is said when it has run out")
    drill: Name | None = Field(None, description="the drill whose first line is then shown")


class DiscontinueDoc(Strict):
    """The list that discontinuing leads to, by what is turning."""

    airborne: Name = Field(description="in the air")
    rotor: Name = Field(description="rotor turning on the ground")
    engine: Name = Field(description="engine running, rotor stopped")
    nothing: Name = Field(description="nothing turning")


class SettingsDoc(Strict):
    """The operator's times."""

    long_standby: Duration | None = Field(
        None, alias="long standby", description="after this the section is offered from its top"
    )
    quiet_after_take_off: Duration | None = Field(
        None, alias="quiet after take-off", description="how long nothing is said after take-off"
    )


class NeedDoc(Strict):
    """What must hold before a step, judged by an independent monitor."""

    before: StepPlace = Field(description="the step")
    reading: Name | None = Field(None, description="a reading that must lie within limit")
    limit: LimitDoc | None = Field(None, description="the limit of the reading")
    within: Duration | None = Field(None, description="how old the reading may be")
    step: StepPlace | None = Field(None, description="a step that must be passed")

    def rule(self) -> FieldFault | None:
        """One of the two forms."""
        if self.step is not None and not (self.reading or self.limit or self.within):
            return None
        if self.step is None and self.reading and self.limit:
            return None
        return fault("not a need", allowed="before with reading and limit, or before with step")


class CopyDoc(Strict):
    """One entry of the copy page for the paper technical log."""

    schema_extra: ClassVar = {"oneOf": [{"required": ["figure"]}, {"required": ["value"]}]}

    figure: (
        Literal[
            "engine start", "engine stop", "rotor start", "rotor stop", "take-off", "landing",
            "engine minutes", "rotor minutes", "flight minutes", "landings", "starts", "defects",
            "snags",
        ]
        | None
    ) = Field(None, description="a figure that the program keeps by itself")  # fmt: skip
    value: Name | None = Field(None, description="a value that a step gives, or a counter")
    label: Label | None = Field(None, description="its name on the page; absent: its own")

    def rule(self) -> FieldFault | None:
        """One of the two forms."""
        if (self.figure is None) is not (self.value is None):
            return None
        return fault("not an entry of the copy page", allowed="figure, or value")


class AircraftDoc(Strict):
    """What all lists and drills of an aircraft share (`aircraft.yaml`)."""

    aircraft: Name = Field(description="the name of the aircraft's folder of documents")
    title: Label = Field(description="the type as it is called")
    operator: Label = Field(description="who flies it")
    revision: Label = Field(description="the revision of the documents and the card, in quotes")
    readings: dict[Name, InstrumentDoc] = Field(description="the measured values")
    fit: dict[Name, Label] = Field({}, description="equipment that may be fitted")
    counters: dict[Name, Label] = Field({}, description="numbers carried from run to run")
    timers: dict[Name, TimerDoc] = Field({}, description="the by-times")
    reasons: list[Text] = Field(
        min_length=5, max_length=5, description="the five reasons for an acceptance"
    )
    happenings: list[Label] = Field([], description="what may end the validity of a list")
    day: list[Name] = Field(min_length=1, description="the lists in the order of the day")
    drills: list[Name] = Field([], description="the drills in the order of their page")
    discontinue: DiscontinueDoc = Field(description="where discontinuing leads")
    settings: SettingsDoc | None = Field(None, description="the operator's times")
    needs: list[NeedDoc] = Field(
        [], max_length=200, description="what must hold, judged by a monitor"
    )
    copy: list[CopyDoc] = Field(
        [], max_length=60, description="the figures for the paper technical log, in its order"
    )


class ListDoc(Strict):
    """One procedure: an ordered list of steps (`lists/NAME.yaml`)."""

    list_: Name = Field(alias="list", description="its name, the same as the file's")
    title: Label = Field(description="its title as it is called")
    method: Literal["challenge and response", "read and do"] = Field(
        "challenge and response", description="how it is worked"
    )
    phase: Label | None = Field(None, description="the phase it belongs to")
    group: Label | None = Field(None, description="lists beside it that are open with it")
    flights: Literal["every", "first", "later"] = Field(
        "every", description="the flights of a day that have it"
    )
    valid_until: list[Label] = Field(
        [], alias="valid until", description="skipped by the next flight until one of these"
    )
    only_when: Expression | None = Field(
        None, alias="only when", description="condition; false: the list is not required"
    )
    next_flight: Literal[True] | None = Field(
        None, alias="next flight", description="after it the next flight may begin"
    )
    any_order: Literal[True] | None = Field(
        None, alias="any order", description="a station: ticked in any order"
    )
    steps: list[AnyStep] = Field(min_length=1, max_length=200, description="its steps")

    @property
    def name(self) -> str:
        """Its name."""
        return self.list_


class RestartDoc(Strict):
    """The end of a drill that restarts a list."""

    restart: Name = Field(description="the list, from its first line")


LeadsTo = Annotated[Literal["continue here", "discontinue", "unserviceable"] | RestartDoc, BY_SHAPE]


class EndDoc(Strict):
    """One way a drill may end."""

    end: Label = Field(description="its name as it is offered")
    when: Expression | None = Field(None, description="condition; absent: always offered")
    leads_to: LeadsTo = Field(alias="leads to", description="where the run goes on")
    voids: list[Name] = Field([], description="values made unknown and asked again")
    defect: Text | None = Field(None, description="the defect that it opens")
    grounds: Literal[True] | None = Field(
        None, description="the defect grounds the aircraft; unserviceable always does"
    )


class DrillDoc(Strict):
    """An abnormal or emergency list (`drills/NAME.yaml`)."""

    drill: Name = Field(description="its name, the same as the file's")
    title: Label = Field(description="its title as it is called")
    method: Literal["challenge and response", "read and do"] = Field(
        "challenge and response", description="how it is worked"
    )
    phase: Label | None = Field(None, description="the phase it belongs to")
    likely: list[Label] = Field([], description="phases in which it stands first")
    mutes: list[Name] = Field([], description="by-times that it silences")
    ends: list[EndDoc] = Field(min_length=1, max_length=9, description="the ways it may end")
    steps: list[AnyStep] = Field(min_length=1, max_length=200, description="its steps")

    @property
    def name(self) -> str:
        """Its name."""
        return self.drill
