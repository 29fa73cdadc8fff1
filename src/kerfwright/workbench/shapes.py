"""What the page and its server say to each other: versioned types beside the records."""

from __future__ import annotations

from typing import Literal

from pydantic import ConfigDict, Field

from kerfwright.workbench.base_shapes import FoundAt, Said, Shape
from kerfwright.workbench.says_shapes import SayingShape
from kerfwright.workbench.space_shapes import SpaceShape
from kerfwright.workbench.stack_shapes import StackCurveShape

Severity = Literal["note", "warning", "refusal"]
What = Literal["draft", "proof", "savings", "stacks", "papers"]
Stage = Literal["open", "quoted", "ordered", "done", "declined"]


class Fault(Shape):
    """Why something was refused."""

    code: str
    message: str
    where: str = ""
    remedy: str = ""
    line: str = ""


class Span(Shape):
    """Low, likely and high."""

    low: float
    likely: float
    high: float


class Line(Shape):
    """One line of the ledger."""

    name: str
    title: str
    asked: str
    is_needed: bool
    hint: str
    answer: Said
    sure: Said
    severity: Severity | None
    noticed: str = Field(
        description="key of the reason of the weightiest finding that speaks of it; empty for none"
    )
    why: list[str]


class FindingShape(Shape):
    """One thing noticed."""

    code: str
    severity: Severity
    message: str
    where: FoundAt
    remedy: str
    data: dict[str, float | int | str]
    why: str = Field("", description="key of its reason; empty where none is kept")
    message_inch: str = Field("", description="the message with its lengths in inches")
    remedy_inch: str = Field("", description="the remedy with its lengths in inches")
    alike: str = Field("", description="shared by findings that say the same of other contours")


class ContourShape(Shape):
    """One contour of the drawing and how it is cut."""

    id: str
    role: Literal["opening", "outline"]
    role_from: Literal["drawing", "layer", "person"]
    use: Literal["opening", "outline", "not-cut", "reference", "start", "stock"] | None = Field(
        description="the person's word on this contour"
    )
    coreless: str = Field(description="the person's word on its inside: empty, or as the line says")
    is_coreless: bool = Field(description="whether its inside is cut away whole, without a slug")
    taper: str = Field(description="how its wall is to lean, as asked; empty for upright")
    leans_deg: float | None = Field(description="greatest angle of its wall to the vertical")
    leans: str = Field(description="how its wall leans, in words; empty where it does not")
    own: dict[str, str] = Field(description="demands of its own, by name")
    shape: int = Field(description="contours of one length and area have the same number")
    layer: str
    parent_id: str | None
    length_mm: float
    bounds_mm: tuple[float, float, float, float]
    is_cut: bool
    start: tuple[float, float, float] | None = Field(
        description="x, y and diameter of the start hole, mm; diameter 0 at an edge"
    )
    lead_in: tuple[float, float] | None = Field(description="where it meets the wall, mm")
    tab: tuple[float, float] | None = Field(description="middle of the tab on the wall, mm")
    tab_end: tuple[float, float] | None = Field(
        default=None, description="where the metal of the tab begins, mm"
    )
    placed: list[Literal["start", "lead-in", "tab", "tab width"]] = Field(
        description="what stands where a person put it"
    )
    tab_mm: float | None
    slug_kg: float | None = Field(description="mass of the piece that the tab holds, as planned")
    cost: str | None = Field(
        None, description="what its time on the machine costs, of one piece, in the currency"
    )


class PassShape(Shape):
    """One pass of the wire."""

    number: int
    kind: Literal["rough", "skim"]
    offset_mm: float
    feed_mm_per_min: Span
    gap_um: float
    stock_um: float
    ra_um: float
    recast_um: float
    tolerance_um: float
    tolerance_range_um: Span = Field(
        description="10 %, likely and 90 % of what it holds; alike where nothing says it"
    )


class PriceLineShape(Shape):
    """One line of a price; money as text, to the cent."""

    item: str
    low: str
    likely: str
    high: str
    basis: str


class PriceShape(Shape):
    """The price at one quantity."""

    quantity: int
    each: str
    low: str
    likely: str
    high: str
    hours: Span
    lines: list[PriceLineShape]
    at_once: int = Field(description="pieces in a stack, 1 where they are cut singly")
    stacked: str = Field(description="how the pieces are cut; empty where no stack is asked")


class StretchShape(Shape):
    """One stretch of the job's time."""

    kind: str
    is_attended: bool
    begin_min: float
    minutes: float
    cut: int | None = Field(description="which cut of the program, from 0")
    contour_id: str | None
    pass_number: int | None
    instruction: str
    first_point: int
    end_point: int


class StripShape(Shape):
    """The job's time from left to right."""

    total_min: float
    attended_min: float
    stretches: list[StretchShape]


class ReasonShape(Shape):
    """Why a number has its value."""

    title: str
    quantity: str
    value: float
    formula: str
    inputs: list[tuple[str, float | str]]
    in_inches: dict[str, str] = Field(description="texts of it with lengths, in inches instead")
    source: str
    range: Span | None
    range_why: str = Field(description="why there is no range; empty where there is one")
    shares: list[tuple[str, float]]


class Draft(Shape):
    """Everything computed for one revision of a job, short of the program."""

    drawing_unit: Literal["mm", "in"]
    is_solid: bool = Field(description="whether a solid came in, with a height of its own")
    geometry_key: str = Field(description="changes when the drawing is read in another way")
    contours: list[ContourShape]
    shape_key: str = Field(
        description="the same for a part that is moved, turned or mirrored; empty for none"
    )
    stock_is_drawn: bool
    ledger: list[Line]
    passes: list[PassShape]
    decided_by: str
    wire_mm: float | None
    currency: str
    prices: list[PriceShape] = Field(description="empty where nothing is offered")
    not_offered: str = Field(
        description="why the job is not offered as it is asked, so that it has no price"
    )
    left_out: list[str] = Field(description="contours to be cut that cannot be, not in the price")
    strip: StripShape | None
    findings: list[FindingShape]
    says: list[SayingShape]
    is_refused: bool


class FreedShape(Shape):
    """A piece that comes free."""

    contour_id: str | None
    minute: float
    line: int
    mass_kg: float
    is_attended: bool
    is_heavy: bool
    caution: str
    message: str
    x_mm: float
    y_mm: float
    first_chain: int = Field(description="its edge among the chains of the pieces")
    end_chain: int


class WorstShape(Shape):
    """One of the places farthest from the drawing."""

    contour_id: str
    x_mm: float
    y_mm: float
    deviation_um: float = Field(description="above 0 where stock is left, below 0 cut too deep")
    is_out_of_reach: bool
    pass_number: int
    line: int


class Verdict(Shape):
    """What came of writing and proving the program."""

    is_proved: bool
    gouge_um: float | None
    leftover_um: float | None
    lines: int
    findings: list[FindingShape]
    files: list[str]
    passes_um: float | None = Field(description="largest deviation that passes the proof")
    program_sha256: str
    pieces: list[FreedShape]
    contours: list[str] = Field(description="contours of the deviations, in their order")
    leaning: list[str] = Field(
        description="those whose walls lean: path and pieces are those of the plane of X and Y, "
        "and no deviation is sent"
    )
    asked_um: dict[str, float] = Field(description="tolerance asked of each contour")
    worst: list[WorstShape]
    space: SpaceShape | None = Field(description="null where no wall leans")


class Asked(Shape):
    """What a price promises of the walls; null where nothing is asked."""

    tolerance_um: float | None
    ra_um: float | None
    max_recast_um: float | None


class Offer(Shape):
    """What one way of cutting the job costs."""

    each: str
    machine_minutes_each: float
    passes: int
    wire_mm: float
    wire_name: str
    tolerance_um: float
    ra_um: float
    recast_um: float
    asked: Asked
    asks: dict[str, str]


class Alternative(Shape):
    """The job with one demand changed."""

    demand: str
    asked: str
    instead: str
    instead_inch: str = Field("", description="the same with its lengths in inches")
    saved_each: str
    sentence: str
    sentence_inch: str = Field("", description="the sentence with its lengths in inches")
    asks: dict[str, str]
    like: int | None = Field(
        description="place, from 0, of a better one of its kind at nearly the same price"
    )
    offer: Offer


class Savings(Shape):
    """What each demand costs."""

    currency: str
    quantity: int
    is_refused: bool = Field(
        description="whether something of the job as asked is refused: each alternative lifts all "
        "that is, its price is that of the whole job, and nothing is saved from a price"
    )
    as_asked: Offer | None = Field(description="null where nothing can be planned as asked")
    alternatives: list[Alternative]
    front: list[Offer]
    front_remarks: list[Said] = Field(description="why there is nothing, where there is nothing")


class Work(Shape):
    """A computation that runs for a job."""

    what: What
    step: str
    share: float


class Begun(Shape):
    """What is being computed for a job."""

    work: list[Work]


class Card(Shape):
    """A job as the list shows it."""

    id: str
    title: str
    added: str
    stage: Stage
    customer: str
    due: str
    material: str
    quantity: str
    each: str = Field(description="empty where there is no price, or none that is offered")
    currency: str
    not_offered: str = Field(description="why there is no price to offer")
    is_of_before: bool = Field(
        description="whether the price was computed before the shop's tables or measured cuts "
        "changed last, of a job whose price follows them"
    )
    attention: list[str]
    trouble: str = Field(description="why it could not be computed, in full; empty where it could")
    is_proved: bool
    same_drawing: list[str] = Field(description="other jobs with the very same drawing")
    same_shape: list[str] = Field(
        description="other jobs whose part has the same shapes: the drawing under another name, "
        "turned or mirrored, most likely"
    )
    is_late: bool
    revision: int


class Unreadable(Shape):
    """A job folder that cannot be read."""

    message: str
    where: str


class ListWanted(Shape):
    """Which jobs are to be listed, and how."""

    search: str = Field("", description="words that must stand in title, name, stage or lines")
    stage: list[Stage] = Field([], description="only jobs at these stages; none for all")
    by: Literal["added", "title", "customer", "due", "material", "stage", "each", "attention"] = (
        Field(
            "added",
            description="what is sorted by; jobs that say nothing of it come last. `attention` is "
            "how many reasons there are to look at a job: that looks at all that fit",
        )
    )
    rising: bool = Field(default=False, description="the first, earliest or cheapest on top")
    most: int | None = Field(None, ge=1, le=100_000, description="how many; all where not said")
    skip: int = Field(0, ge=0, le=1_000_000_000, description="how many of the first are left out")


class JobList(Shape):
    """Jobs, as many as were wanted."""

    folder: str
    jobs: list[Card]
    total: int = Field(description="how many there are that fit, with those that were not wanted")
    by_stage: dict[str, int] = Field(description="how many jobs there are at each stage")
    unreadable: list[Unreadable]


class Job(Shape):
    """One job as its view shows it."""

    card: Card
    revision: int
    drawing_sha256: str
    asked: dict[str, str] = Field(description="every line that is asked, by its name")
    draft: Draft | None = Field(description="null while it is computed, or where it cannot be")
    fault: Fault | None = Field(description="why nothing could be computed")
    verdict: Verdict | None
    proof_fault: Fault | None = Field(description="why no program could be written and proved")
    savings: Savings | None
    savings_fault: Fault | None = Field(description="why the demands could not be priced")
    stacks: StackCurveShape | None = Field(
        description="cost of a piece by the number in a stack; null until it was asked for"
    )
    stacks_fault: Fault | None = Field(description="why no stack could be priced")
    work: list[Work]
    stopped: list[What] = Field(description="what a person stopped, and nobody began again")
    can_undo: bool
    can_redo: bool


class OwnDemands(Shape):
    """What some contours ask of their own."""

    contours: list[str] = Field(
        min_length=1, max_length=10_000, description="ids of the contours: H1, H2, OUTER"
    )
    demands: dict[str, str] = Field(
        description="texts of tolerance, finish or recast by these names; an empty text leaves "
        "it to the job",
        max_length=3,
    )


class Change(Shape):
    """Lines to set; an empty text takes a line away."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={"examples": [{"lines": {"tolerance": "±5 µm", "finish": "N6"}}]},
    )

    lines: dict[str, str] = Field(
        default_factory=dict,
        max_length=20,
        description="texts of lines of the ledger by the names of the lines; a value is written "
        "with its unit, an empty text takes the line away, and one that cannot be read refuses all",
    )
    stage: Stage | None = Field(None, description="how far the job has come; null for as it is")
    own: list[OwnDemands] = Field(
        default_factory=list,
        max_length=100,
        description="demands of single contours, in turn, each over those before it",
    )


class Added(Shape):
    """What became of one file."""

    name: str
    job: Card | None
    fault: Fault | None


class Names(Shape):
    """What a line may name."""

    material: list[str]
    wire: list[str]
    machine: list[str]


class MovedPrice(Shape):
    """A job whose price is another now; texts to the cent, empty where there is none."""

    id: str
    title: str
    stage: Stage
    currency: str
    before: str
    after: str


class Moved(Shape):
    """What a change of the shop's figures moved."""

    why: str = Field(description="what changed; empty before anything did")
    count: int = Field(description="jobs that are priced anew: those open or quoted")
    left: int = Field(description="jobs of them that are not priced yet")
    is_stopped: bool = Field(description="whether a person stopped it with jobs left")
    jobs: list[MovedPrice]


class About(Shape):
    """Who answers."""

    version: str
    jobs_folder: str
