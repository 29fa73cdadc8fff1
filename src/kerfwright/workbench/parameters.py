"""What stands in addresses: each parameter described once, for every address that has it."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import File, Path, Query, UploadFile

from kerfwright.workbench.shapes import What

JOB_SAYS: Final = "id of the job, as its card and the list of jobs have it, such as `escape-wheel`"

JobId = Annotated[str, Path(description=JOB_SAYS)]
QuotedJob = Annotated[
    str, Path(description="id of the job that was quoted, as the list of quotes has it")
]
RemovedName = Annotated[
    str, Path(description="`name` of the job in `/api/removed`, which is not the id that it had")
]
NestId = Annotated[str, Path(description="id of the nest, as `POST /api/nests` answered it")]
JobFile = Annotated[
    str,
    Path(
        description="one of `program.nc`, `job.toml`, `plan.json`, `proof.json`, `estimate.json`, "
        "`plan.svg`"
    ),
]
PaperName = Annotated[
    str,
    Path(
        description="one of `quote.pdf`, `set-up.pdf`, `inspection.pdf`, `holes.pdf`, `path.dxf`, "
        "`path.svg`; those that were made are named in `files` of the papers"
    ),
]
NestFile = Annotated[
    str,
    Path(
        description="`nest.svg`, `nest.json`, or a drawing of one sheet; what a nest does not have "
        "is refused with the names that it has"
    ),
]
VersionFileName = Annotated[
    str, Path(description="name of the file, as `files` of the version has it")
]
PageNumber = Annotated[int, Path(description="number of the page, from 1 on")]
PassNumber = Annotated[
    int, Path(ge=1, le=99, description="number of the pass, from 1 for the rough pass to 99")
]
Batch = Annotated[
    str, Path(description="`batch` of the measured cut, as recording it answered and `cuts` has it")
]
Mark = Annotated[str, Path(description="`id` of the mark, as marking answered it")]
MOST_VERSION: Final = 999_999_999
VersionNumber = Annotated[
    int,
    Path(ge=1, le=MOST_VERSION, description="number of the version, from 1 for the first one made"),
]
OtherVersion = Annotated[
    int, Path(ge=1, le=MOST_VERSION, description="number of the version that is compared with it")
]
ReasonKey = Annotated[
    str,
    Query(
        description="key of one number, as `why` of a line or of a finding has it; empty for the "
        "reasons of all numbers"
    ),
]
TableName = Annotated[
    str, Path(description="`name` of the table in `/api/tables`, such as `rates` or `materials`")
]
ValueKey = Annotated[
    str,
    Path(
        description="`key` of the value in its table, with its slashes, such as "
        "`hour/machine_unattended_per_h`"
    ),
]
RowId = Annotated[
    str, Path(description="`id` of the row in its table, with its slash: `material/our-d2`")
]
SeatName = Annotated[str, Path(description="name by which somebody logs in")]
Computation = Annotated[
    What,
    Path(
        description="which computation: `draft` the plan and price, `proof` the program and its "
        "proof, `savings` what each demand costs, `stacks` the price by stack, `papers` the papers"
    ),
]
MOST_DRAWING_BYTES: Final = 64 * 1024 * 1024
"""A larger drawing is no drawing of one job."""
MOST_DRAWINGS: Final = 50
Drawings = Annotated[
    list[UploadFile],
    File(
        description="drawings as DXF or solids as STEP, told apart by the end of their names (.dxf,"
        f" .step, .stp), up to {MOST_DRAWINGS} at a time with up to {MOST_DRAWING_BYTES // 2**20}"
        " MB each; each becomes a job of its own"
    ),
]
