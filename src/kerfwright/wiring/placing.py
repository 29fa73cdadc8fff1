"""What places of start holes, lead-ins and tabs are held to, with the shop's tables."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.app.drawn_sizes import with_drawn_sizes
from kerfwright.app.records import JobRequest
from kerfwright.app.requirements import read_requirement
from kerfwright.app.set_up import rules_of
from kerfwright.planning.ground import ground_among
from kerfwright.planning.leaning import leaning_walls
from kerfwright.planning.limits import Ground
from kerfwright.planning.memory import Memory
from kerfwright.planning.planner import stock_of
from kerfwright.planning.wires import choose_wire
from kerfwright.trade.part import Part
from kerfwright.wiring import technology_of
from kerfwright.wiring.stacks import as_stacked


def grounds_of(
    request: JobRequest, part: Part, *, memory: Memory
) -> Callable[[str], Ground | None]:
    """Return what gives, by contour, all that decides where start, lead-in and tab may stand.

    Wire and passes are chosen, and nothing else of the job is planned: a hand waits for it.  Of a
    contour that the wire cannot get round there is none.

    Parameters
    ----------
    request : JobRequest
        In one layer; of a leaning wall that section counts in which the wire has least room.
    part : Part
        Its drawing.
    memory : Memory
        What plans of the same part and request had.
    """
    tables, technology = load_tables(request.tables_used), technology_of(request)
    requirement, _ = read_requirement(
        with_drawn_sizes(request, part, table=load_fits()),
        catalogue=tables.catalogue,
        machine=load_machine(request.machine_used),
        fits=load_fits(),
    )
    if request.stack is not None:
        first = replace(request, quantities=request.quantities[:1])
        requirement = as_stacked(first, requirement, part, memory=memory)[0]
    if requirement.walls:
        part = leaning_walls(part, requirement, top=None).part
    rules = rules_of(request, tables.rules, law=technology.flushing)
    passes, _, _ = choose_wire(part, requirement, technology, tables.catalogue, rules, memory)
    stock = stock_of(part, requirement)

    def ground(contour_id: str) -> Ground | None:
        return ground_among(
            part,
            passes,
            contour_id,
            requirement=requirement,
            stock=stock,
            technology=technology,
            rules=rules,
        )

    return ground
