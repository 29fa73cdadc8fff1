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
from kerfwright.costing.estimate import estimate
from kerfwright.geometry.contour import Contour
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import Plan
from kerfwright.planning.planner import make_plan
from kerfwright.trade.part import LengthUnit, Part, PartContour, Role
from kerfwright.trade.requirement import Demand, Requirement
from kerfwright.wirepath.builder import build_path

TABLES = load_tables()
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


def planned(wanted: Requirement, memory: Memory | None = None) -> Plan:
    return make_plan(
        PART,
        wanted,
        technology=TABLES.technology,
        catalogue=TABLES.catalogue,
        rules=TABLES.rules,
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
