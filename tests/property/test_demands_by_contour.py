"""What one contour asks changes that contour, and never for the dearer where it asks less."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.conftest import box
from tests.soak import tries

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.costing.estimate import estimate
from kerfwright.geometry.contour import Contour
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import Plan
from kerfwright.planning.planner import make_plan
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.part import LengthUnit, Part, PartContour, Role
from kerfwright.trade.placement import Placement
from kerfwright.trade.requirement import Demand, Requirement
from kerfwright.wirepath.builder import build_path
from kerfwright.wirepath.trailing import trailing_findings

TABLES, PHYSICS = load_tables(), load_wire_physics()
SHAPES = (
    ("P1", Role.OUTLINE, box(0, 0, 60, 30)),
    ("H1", Role.OPENING, Contour.circle((12, 15), radius_mm=5).reversed()),
    ("H2", Role.OPENING, Contour.circle((45, 15), radius_mm=8).reversed()),
)
PART = Part(
    name="plate.dxf",
    sha256="0" * 64,
    drawing_unit=LengthUnit.MILLIMETRE,
    contours=tuple(
        PartContour(
            id=name,
            role=role,
            contour=contour,
            layer="0",
            entities=("LINE 1",),
            parent_id=None if name == "P1" else "P1",
        )
        for name, role, contour in SHAPES
    ),
    given_starts=(),
    stock=None,
    construction=(),
    left_out={},
    findings=(),
)
WANTED = Requirement(
    material=TABLES.catalogue.material("D2"), height_mm=20.0, machine=load_machine()
)
TOLERANCES = st.sampled_from([2.5, 3.0, 4.0, 5.0, 8.0, 10.0, 25.0, 60.0])
FINISHES = st.sampled_from([None, 0.2, 0.3, 0.5, 0.8, 1.5, 3.0])
DEMANDS = st.builds(Demand, tolerance_um=TOLERANCES, ra_um=FINISHES)
few = settings(max_examples=tries(20), deadline=None)


def planned(
    wanted: Requirement, memory: Memory | None = None, *, physics: WirePhysics | None = None
) -> Plan:
    return make_plan(
        PART,
        wanted,
        technology=TABLES.technology,
        catalogue=TABLES.catalogue,
        rules=TABLES.rules,
        physics=physics,
        memory=memory,
    )


def price(wanted: Requirement, memory: Memory | None = None) -> Decimal:
    plan = planned(wanted, memory)
    return estimate(plan, build_path(plan, memory=memory), rates=TABLES.rates).prices[0].each


@few
@given(
    own=st.dictionaries(st.sampled_from(["P1", "H1", "H2"]), DEMANDS),
    name=st.sampled_from(["P1", "H1", "H2"]),
    factor=st.sampled_from([1.2, 2.0, 5.0]),
)
def test_a_contour_that_asks_less_never_makes_the_job_dearer(
    own: dict[str, Demand], name: str, factor: float
) -> None:
    wanted = replace(WANTED, tolerance_um=5.0, ra_um=0.8, contours=own)
    now = wanted.demand_on(name)
    assert now.tolerance_um is not None
    assert now.ra_um is not None
    less = Demand(tolerance_um=now.tolerance_um * factor, ra_um=now.ra_um * factor)
    assert price(replace(wanted, contours={**own, name: less})) <= price(wanted)


@few
@given(job=DEMANDS, own=DEMANDS)
def test_a_demand_on_every_contour_is_the_demand_of_the_job(job: Demand, own: Demand) -> None:
    said = Demand(tolerance_um=own.tolerance_um, ra_um=own.ra_um or job.ra_um)
    everywhere = replace(
        WANTED,
        tolerance_um=job.tolerance_um,
        ra_um=job.ra_um,
        contours=dict.fromkeys(("P1", "H1", "H2"), own),
    )
    alone = replace(WANTED, tolerance_um=said.tolerance_um, ra_um=said.ra_um)
    assert planned(everywhere).passes == planned(alone).passes
    assert price(everywhere) == price(alone)


@few
@given(ways=st.lists(st.tuples(DEMANDS, DEMANDS), min_size=2, max_size=4))
def test_what_plans_have_in_common_may_be_remembered(ways: list[tuple[Demand, Demand]]) -> None:
    memory = Memory()
    for job, own in ways:
        wanted = replace(
            WANTED, tolerance_um=job.tolerance_um, ra_um=job.ra_um, contours={"H1": own}
        )
        assert price(wanted, memory) == price(wanted)


def steered(wanted: Requirement, memory: Memory | None = None) -> list[object]:
    """Return every cut of a job as it is driven, number by number, and what is found."""
    plan = planned(wanted, memory, physics=PHYSICS)
    path = build_path(plan, physics=PHYSICS, memory=memory)
    moves = [
        (
            *(cut.contour_id, cut.pass_number, cut.threads, cut.offset_mm),
            *(field.tobytes() for field in (m.start_mm, m.end_mm, m.centre_mm)),
            *(field.tobytes() for field in (m.turn, m.purpose, m.feed_mm_per_min)),
        )
        for cut in path.cuts
        for m in (cut.moves, *([] if cut.nominal is None else [cut.nominal]))
    ]
    return [moves, plan.findings, trailing_findings(plan, path, physics=PHYSICS, memory=memory)]


MATERIALS = ("D2", "C270 brass", "6061 aluminium")
WIRES = tuple(TABLES.catalogue.wire(text) for text in ("0.25 mm", "0.2 mm", "0.25 zinc coated"))
JOBS = st.builds(
    replace,
    st.just(WANTED),
    material=st.sampled_from([TABLES.catalogue.material(name) for name in MATERIALS]),
    height_mm=st.sampled_from([6.0, 20.0, 60.0]),
    wire=st.sampled_from([None, *WIRES]),
    tolerance_um=TOLERANCES,
    ra_um=FINISHES,
    quantities=st.sampled_from([(1,), (7, 20)]),
)


@few
@given(jobs=st.lists(JOBS, min_size=2, max_size=4))
def test_lines_that_jobs_in_other_materials_have_in_common_may_be_remembered(
    jobs: list[Requirement],
) -> None:
    # As the page does: a memory for each material, what knows none is common to all.
    shapes = Memory()
    memories = {id(one.material): Memory(shapes) for one in jobs}
    for one in jobs:
        assert steered(one, memories[id(one.material)]) == steered(one)


def test_each_thing_that_is_changed_is_seen_by_a_plan_that_remembers() -> None:
    shapes = Memory()
    first = Memory(shapes)
    asked = replace(WANTED, tolerance_um=5.0)
    before = steered(asked, first)[0]
    changed = {
        "height": replace(asked, height_mm=21.0),
        "wire": replace(asked, wire=WIRES[1]),
        # Of the same diameter: the same lines, at other feeds.
        "kind of wire": replace(asked, wire=WIRES[2]),
        "tolerance": replace(asked, tolerance_um=2.5),
        "finish": replace(asked, ra_um=0.2),
        "start": replace(asked, placements={"H2": Placement(start_mm=(46.0, 15.0))}),
        "contour": replace(asked, contours={"H1": Demand(tolerance_um=60.0)}),
    }
    for name, wanted in changed.items():
        assert steered(wanted, first)[0] != before, name
        assert steered(wanted, first) == steered(wanted), name
    brass = replace(asked, material=TABLES.catalogue.material("C270 brass"))
    assert steered(brass, Memory(shapes))[0] != before
    assert steered(asked, first)[0] == before


def test_the_lines_of_another_material_are_not_drawn_again() -> None:
    shapes = Memory()
    drawn = [
        build_path(plan, memory=memory).cuts
        for name in ("D2", "C270 brass")
        for memory in [Memory(shapes)]
        for plan in [planned(replace(WANTED, material=TABLES.catalogue.material(name)), memory)]
    ]
    ends = [[cut.moves.end_mm for cut in cuts if cut.kind.value == "rough"] for cuts in drawn]
    # The very arrays: not only equal ones.
    assert any(a is b for a, b in zip(*ends, strict=True))
