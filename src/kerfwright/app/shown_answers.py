"""Why the numbers that only a page or a sheet shows have their values."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from kerfwright.app.further_passes import further_answers
from kerfwright.app.pass_reasons import pass_count_answers
from kerfwright.app.records import JobResult
from kerfwright.app.shown_cut import ShownCut
from kerfwright.app.sure_words import READ_BACK
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.findings import Finding
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.process.technology import Technology
from kerfwright.proof.records import Proof

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_READ_BACK: Final = Source(tag=SourceTag.COMPUTED, citation=READ_BACK)


def job_answers(result: JobResult, technology: Technology) -> Iterator[Answer]:
    """Yield why height, wire, passes and lengths are what they are."""
    plan = result.plan
    request = result.request
    yield _asked(
        "height", "plan/height_mm", "height_mm", result.requirement.height_mm, said=request.height
    )
    asked_um = result.requirement.tolerance_um
    if asked_um is not None:
        yield _asked("tolerance asked", "", "tolerance_um", asked_um, said=request.tolerance)
    for one in result.part.contours:
        yield _of(
            one.id,
            "length",
            f"plan/contours/{one.id}/length_mm",
            quantity="length_mm",
            value=one.contour.length_mm,
            formula="sum of the lines and arcs of the contour",
            inputs=(("lines and arcs", float(len(one.contour))), ("layer", one.layer)),
            source=Source(tag=SourceTag.READ, citation=f"the drawing {result.part.name}"),
        )
    if plan.passes:
        choice = plan.choice
        if result.requirement.wire is not None:
            yield _asked(
                "wire",
                "plan/wire_diameter_mm",
                "diameter_mm",
                choice.wire.diameter_mm,
                said=request.wire,
            )
        else:
            yield _of(
                "job",
                "wire",
                "plan/wire_diameter_mm",
                quantity="diameter_mm",
                value=choice.wire.diameter_mm,
                formula="the usual wire, or the next thinner one that gets into every corner and "
                "slot as asked; price does not decide, the what-if says what others cost",
                inputs=(("wire", choice.wire.name),),
            )
        yield from pass_count_answers(result, technology)
        yield from further_answers(result, technology)


def proof_answers(proof: Proof, *, tolerance_um: float, program: str) -> Iterator[Answer]:
    """Yield why the numbers of a verdict are what they are."""
    inputs = (
        ("points compared", float(proof.samples)),
        ("passes_um_at_most", tolerance_um),
        ("program_sha256", proof.program_sha256[:16]),
    )
    for name, value in (
        ("gouge", proof.max_gouge_um),
        ("leftover", proof.max_leftover_um),
    ):
        kinds = {
            "gouge": "largest of kerf radius - distance of the wire's path from the wall",
            "leftover": "largest of distance of the wall from the path - kerf radius, of what the "
            "wire can reach",
        }
        yield _of(
            "proof",
            f"largest {name}",
            f"proof/max_{name}_um",
            quantity=f"{name}_um",
            value=value,
            formula=kinds[name],
            inputs=inputs,
            source=_READ_BACK,
        )
    yield _of(
        "program",
        "lines",
        quantity="lines",
        value=float(len(program.splitlines())),
        formula="count of the lines of the program, comments with them",
        inputs=(("program_sha256", proof.program_sha256[:16]),),
        source=_READ_BACK,
    )


def cut_answers(shown: ShownCut) -> Iterator[Answer]:
    """Yield why the moments, masses and deviations of a cut are what they are."""
    for number, one in enumerate(shown.pieces, start=1):
        event = one.piece.event
        name = f"piece {number}"
        yield _of(
            name,
            "minute it comes free",
            quantity="minute_min",
            value=one.minute,
            formula="end of the move whose kerf closes round the piece, on the clock of the strip",
            inputs=(("line", float(event.line)), ("programmed time_s", event.time_s)),
            source=_READ_BACK,
        )
        yield _of(
            name,
            "mass",
            quantity="mass_kg",
            value=event.mass_kg or 0.0,
            formula="area inside the kerf, less what was cut out before, x height x density",
            inputs=(("contour", event.contour_id or "several"), ("line", float(event.line))),
            source=_READ_BACK,
        )
    for number, worst in enumerate(shown.deviations.worst, start=1):
        reach = "; no wire of this kerf gets there" if worst.is_out_of_reach else ""
        yield _of(
            f"worst place {number}",
            "deviation",
            quantity="deviation_um",
            value=worst.deviation_um,
            formula="distance of the wall from the wire's path - kerf radius, the least of all "
            f"passes; below 0 is cut too deep{reach}",
            inputs=(
                ("contour", worst.contour_id),
                ("pass", float(worst.pass_number)),
                ("line", float(worst.line)),
                ("x_mm", worst.x_mm),
                ("y_mm", worst.y_mm),
            ),
            source=_READ_BACK,
        )


def finding_answers(findings: Sequence[Finding], *, by: str) -> Iterator[Answer]:
    """Yield what the numbers of findings are; one that has none is counted.

    Parameters
    ----------
    findings : sequence of Finding
    by : str
        Who found them; begins their titles.
    """
    for number, one in enumerate(findings, start=1):
        values = [(k, v) for k, v in one.data.items() if not isinstance(v, str)]
        quantity, value = values[0] if values else ("findings", 1.0)
        place = str(one.where)
        yield _of(
            f"{by} {number}",
            one.code.replace("-", " "),
            quantity=quantity,
            value=float(value),
            formula=one.message,
            inputs=(*one.data.items(), *((("place", place),) if place else ())),
            source=Source(tag=SourceTag.COMPUTED, citation=by),
        )


def _asked(name: str, path: str, quantity: str, value: float, *, said: str | None) -> Answer:
    """Return what a job asks, with the text it was asked by: an option or line of its own."""
    line = name.removesuffix(" asked")
    text = f" as {said!r}" if said else ""
    source = Source(
        tag=SourceTag.SHOP, citation=f"asked of the job{text}; kept as {line} in job.toml"
    )
    return _of("job", name, path, quantity=quantity, value=value, formula="as asked", source=source)


def _of(
    about: str,
    name: str,
    path: str = "",
    *,
    quantity: str,
    value: float,
    formula: str,
    inputs: tuple[tuple[str, float | str], ...] = (),
    source: Source = _COMPUTED,
) -> Answer:
    return Answer(
        about=about,
        name=name,
        path=path,
        reason=Reason(
            quantity=quantity, value=value, formula=formula, inputs=inputs, source=source
        ),
    )
