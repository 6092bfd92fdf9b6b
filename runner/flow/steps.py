"""The steps of lists and drills as their authors write them: one model for each kind.

Rules: strict, no key beyond the ones listed; the first key of a step says its kind, and only the
keys that mean something for that kind are allowed. References are checked later, over all
documents together.
"""

from abc import abstractmethod
from typing import Annotated, ClassVar, Final, Literal

from runner.flow.fields import Duration, Expression, Label, Name, Text, UnitName
from runner.flow.forms import BY_FIRST_KEY, Field, Strict
from runner.flow.parts import Choice, LimitDoc, PutOff, TurnsDoc, Unmet

OWN_NAMES: Final = (
    ". Beside what the documents name: flight, first_flight, engine_running, rotor_turning, "
    "airborne, stopped_minutes, open_defects, grounding_defects, open_snags, "
    "accepted_items"
)


class StepDoc(Strict):
    """What every step may have."""

    id: Name | None = Field(None, description="its name; made from its text if absent")
    section: Label | None = Field(None, description="the heading above it")
    when: Expression | None = Field(None, description=f"condition; false: not required{OWN_NAMES}")
    memory: Literal[True] | None = Field(None, description="a memory item of a drill")

    @property
    @abstractmethod
    def words(self) -> str:
        """The text that is called."""


class AnsweredDoc(StepDoc):
    """What every step may have that the crew answers, the closing call among them."""

    who: Literal["handling", "monitoring", "commander", "copilot", "ground", "both"] = Field(
        "handling", description="who answers; both: each on a key of their own"
    )
    turns: TurnsDoc | None = Field(None, description="what is turning once it is answered")
    adds: dict[Name, int] = Field({}, description="counters and what is added to them")
    clears: list[Name] = Field([], description="counters set to zero, open_snags among them")
    notes: list[Name] = Field([], description="moments remembered for a later wait's since")
    ends: list[Name] = Field([], description="by-times that stop")


class AskedDoc(AnsweredDoc):
    """What a step may have beside, if it is not the closing call."""

    critical: Literal[True] | None = Field(None, description="wants a key or a longer phrase")
    meanwhile: Literal[True] | None = Field(
        None, description="offered during the nearest wait before it"
    )
    accept: Literal["commander", "emergency only", "maintenance only"] | None = Field(
        None, description="who may let it go by; absent: nobody"
    )
    put_off: PutOff | None = Field(None, alias="put off", description="may be put off")
    drill: Name | None = Field(None, description="the drill offered if it is not so")


class ChallengeDoc(AskedDoc):
    """An item answered by its state."""

    kind: ClassVar[str] = "challenge"

    challenge: Label = Field(description="what is called")
    answer: Label = Field(description="the actual state, as RELEASED")
    also: list[Label] = Field([], description="other words for the same answer")
    mark: Literal["take-off", "landing"] | None = Field(
        None, description="answered by this flight mark too"
    )

    @property
    def words(self) -> str:
        """The text that is called."""
        return self.challenge


class ReadingDoc(AskedDoc):
    """A reading, and the limit that it must meet."""

    kind: ClassVar[str] = "reading"

    reading: Name = Field(description="a reading of the aircraft")
    challenge: Label | None = Field(None, description="what is called; else the reading's label")
    as_: Name | None = Field(None, alias="as", description="the value's name in conditions")
    limit: LimitDoc | None = Field(None, description="what it must satisfy")
    unmet: Unmet | None = Field(None, description="what an unmet limit does; else it asks again")
    within: Name | None = Field(None, description="the by-time that must still run when it is met")
    drop_from: Name | None = Field(
        None, alias="drop from", description="the value from which a drop is subtracted"
    )

    @property
    def words(self) -> str:
        """The text that is called, empty where the reading's label is."""
        return self.challenge or ""


class ChooseDoc(AskedDoc):
    """A question with several right answers."""

    kind: ClassVar[str] = "choose"

    choose: Label = Field(description="what is called")
    as_: Name = Field(alias="as", description="the answer's name in conditions")
    choices: list[Choice] = Field(min_length=2, max_length=9, description="the answers")

    @property
    def words(self) -> str:
        """The text that is called."""
        return self.choose


class WaitDoc(AskedDoc):
    """A minimum time during which conditions stay met."""

    kind: ClassVar[str] = "wait"

    wait: Label = Field(description="what is called")
    for_: Duration = Field(alias="for", description="the least time")
    since: Name | None = Field(None, description="the moment it counts from; else the step")
    while_: dict[Name, LimitDoc] = Field(
        {}, alias="while", description="readings and the limits that they keep"
    )
    ask_every: Duration | None = Field(
        None, alias="ask every", description="how often they are asked; else as the reading says"
    )

    @property
    def words(self) -> str:
        """The text that is called."""
        return self.wait


class ByTimeDoc(AskedDoc):
    """Starts a maximum time that runs beside the list."""

    kind: ClassVar[str] = "by-time"

    by_time: Label = Field(alias="by-time", description="what is called")
    answer: Label = Field(description="the actual state that starts the time")
    also: list[Label] = Field([], description="other words for the same answer")
    timer: Name = Field(description="a timer of the aircraft")

    @property
    def words(self) -> str:
        """The text that is called."""
        return self.by_time


class ComputeDoc(StepDoc):
    """A value that comes by itself."""

    kind: ClassVar[str] = "compute"

    compute: Name = Field(description="the value's name in conditions")
    challenge: Label = Field(description="what is called")
    formula: Expression = Field(description="its formula; numbers with a point, as 0.0")
    unit: UnitName = Field(description="its unit")
    decimals: int = Field(0, ge=0, le=6, description="the decimals it is rounded to")
    limit: LimitDoc | None = Field(None, description="what it must satisfy")
    unmet: Unmet | None = Field(None, description="what an unmet limit does; else it waits")
    accept: Literal["commander", "emergency only", "maintenance only"] | None = Field(
        None, description="who may let it go by; absent: nobody"
    )
    drill: Name | None = Field(None, description="the drill offered if it is not met")

    @property
    def words(self) -> str:
        """The text that is called."""
        return self.challenge


class CautionDoc(AskedDoc):
    """A caution, answered by roger or one of its key words."""

    kind: ClassVar[str] = "caution"

    caution: Text = Field(description="what is called")
    key_words: list[Label] = Field([], alias="key words", description="words that answer it too")

    @property
    def words(self) -> str:
        """The text that is called."""
        return self.caution


class RemarkDoc(StepDoc):
    """Text that is only shown."""

    kind: ClassVar[str] = "remark"

    remark: Text = Field(description="what is shown")

    @property
    def words(self) -> str:
        """The text that is shown."""
        return self.remark


class TickDoc(AskedDoc):
    """An item of a station."""

    kind: ClassVar[str] = "tick"

    tick: Label = Field(description="what is called")
    answer: Label = Field("SECURE", description="the state that the tick means")
    also: list[Label] = Field([], description="other words for the same answer")

    @property
    def words(self) -> str:
        """The text that is called."""
        return self.tick


class CloseDoc(AnsweredDoc):
    """The end of a list or drill, asked for by its name and answered CLOSED.

    It is required whenever its list is: nobody lets it go by, and it waits for everything else.
    """

    kind: ClassVar[str] = "close"

    close: Label = Field(description="the name of the list or drill")

    @property
    def words(self) -> str:
        """The name that is called."""
        return self.close


KINDS: Final[dict[str, type[StepDoc]]] = {
    model.kind: model
    for model in (
        ChallengeDoc,
        ReadingDoc,
        ChooseDoc,
        WaitDoc,
        ByTimeDoc,
        ComputeDoc,
        CautionDoc,
        RemarkDoc,
        TickDoc,
        CloseDoc,
    )
}
"""The model of each kind, by the first key of the step."""

AnyStep = Annotated[
    ChallengeDoc
    | ReadingDoc
    | ChooseDoc
    | WaitDoc
    | ByTimeDoc
    | ComputeDoc
    | CautionDoc
    | RemarkDoc
    | TickDoc
    | CloseDoc,
    BY_FIRST_KEY,
]
"""A step of any kind."""
