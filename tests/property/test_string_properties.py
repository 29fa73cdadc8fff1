"""Whatever outlines lie side by side: what is strung is proved, with nothing loose unattended."""

from __future__ import annotations

import math

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.conftest import PartMaker
from tests.part_strings import click, planned, row
from tests.soak import tries

from kerfwright.adapters.tables import Tables
from kerfwright.app.plan_job import claim_of
from kerfwright.geometry.contour import Contour
from kerfwright.nc.writer import write_program
from kerfwright.planning.strings import with_strings
from kerfwright.proof.prove import prove_program
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

shapes = st.one_of(
    st.builds(click, st.floats(9.0, 16.0), st.floats(12.0, 22.0)),
    st.builds(lambda r: Contour.circle((0.0, 0.0), radius_mm=r), st.floats(5.0, 11.0)),
    st.builds(
        lambda r, n, turn: Contour.from_rows(
            [
                (r * math.cos(turn + math.tau * k / n), r * math.sin(turn + math.tau * k / n))
                for k in range(n)
            ]
        ),
        st.floats(7.0, 11.0),
        st.integers(3, 6),
        st.floats(0.0, 1.0),
    ),
)


@settings(
    max_examples=tries(10),
    deadline=None,
    derandomize=True,
)
@given(
    st.lists(shapes, min_size=2, max_size=4),
    st.floats(1.6, 6.0),
    st.booleans(),
    st.sampled_from([30.0, 10.0, 5.0]),
)
def test_whatever_is_strung_passes_its_proof(
    make_part: PartMaker,
    tables: Tables,
    drawn: list[Contour],
    web_mm: float,
    bores: bool,
    tolerance_um: float,
) -> None:
    from kerfwright.adapters.machines import load_machine

    wanted = Requirement(
        material=tables.catalogue.material("C270"),
        height_mm=8.0,
        machine=load_machine(),
        tolerance_um=tolerance_um,
    )
    part = row(make_part, drawn, web_mm=web_mm, bores=bores)
    alone = planned(part, wanted, tables)
    plan = with_strings(alone, technology=tables.technology)
    if plan is None:
        return
    path = build_path(plan, programs_wall=False)
    proof = prove_program(
        write_program(path, machine=wanted.machine, title="STRING"), claim_of(plan)
    )
    assert [f.message for f in proof.findings] == []
    assert proof.passed
    # No more holes and threadings than alone; the same parts, each with its passes.
    plain = build_path(alone, programs_wall=False)
    assert sum(c.threads for c in path.cuts) < sum(c.threads for c in plain.cuts)
    assert len(plan.operations) == len(alone.operations)
    assert sorted((o.contour_id, o.kind, o.pass_number, o.span) for o in plan.operations) == sorted(
        (o.contour_id, o.kind, o.pass_number, o.span) for o in alone.operations
    )
