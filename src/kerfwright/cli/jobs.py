"""``kerfwright jobs``: the jobs that a shop keeps, listed from their index."""

from __future__ import annotations

from pathlib import Path

import click

from kerfwright.app.enquiries import Enquiry, Stage
from kerfwright.cli import removed, sealed
from kerfwright.cli.store_options import store_of, store_options

_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
_ORDERS = ("added", "title", "customer", "due", "material", "stage", "each")


@click.group("jobs")
def command() -> None:
    """List and search the jobs that a shop keeps, remove, bring back, seal and open them."""


@command.command("list")
@click.argument("search", nargs=-1)
@store_options
@click.option(
    "--stage",
    "stages",
    multiple=True,
    type=click.Choice([stage.value for stage in Stage]),
    help="Only jobs at this stage; may be given again.",
)
@click.option("--by", "order", type=click.Choice(_ORDERS), default="added", show_default=True)
@click.option("--rising", is_flag=True, help="The first, the earliest or the cheapest on top.")
@click.option("--most", type=click.IntRange(1), default=50, show_default=True)
@click.option("--skip", type=click.IntRange(0), default=0, help="Leave out so many of the first.")
@_json
def listing(
    search: tuple[str, ...],
    jobs: Path | None,
    index_url: str | None,
    stages: tuple[str, ...],
    order: str,
    rising: bool,  # noqa: FBT001 a flag of the command line
    most: int,
    skip: int,
    as_json: bool,  # noqa: FBT001
) -> int:
    """List jobs, the newest first; those in which every word of SEARCH stands.

    The words are looked for in title, name, stage and what is asked.
    """
    from kerfwright.adapters.index.query import Order, Query

    found = store_of(jobs, index_url).listed(
        Query(
            search=" ".join(search),
            stages=tuple(Stage(name) for name in stages),
            order=Order(order),
            descending=not rising,
            most=most,
            skipped=skip,
        )
    )
    if as_json:
        from kerfwright.cli.output import put_json

        put_json(
            {
                "format": "kerfwright-jobs",
                "version": 1,
                "total": found.total,
                "by_stage": dict(found.by_stage),
                "jobs": [_shape(one) for one in found.enquiries],
                "unreadable": [
                    {"message": one.message, "where": one.where} for one in found.unreadable
                ],
            }
        )
        return 0
    from kerfwright.cli.output import Page
    from kerfwright.foundation.counts import counted

    page = Page()
    page.heading(counted(found.total, "job"))
    page.table(
        ("job", "stage", "customer", "material", "due", "pieces", "each"),
        [_row(one) for one in found.enquiries],
        left=(0, 1, 2, 3, 4),
        whole=(0,),
    )
    left = found.total - skip - len(found.enquiries)
    if left > 0:
        page.line(f"… and {left} more, see --most and --skip", indent=2)
    for one in found.unreadable:
        page.line(f"cannot be read: {one.message} ({one.where})", indent=2)
    return 0


def _row(one: Enquiry) -> tuple[str, ...]:
    each = one.outcome.get("each", "")
    return (
        one.id,
        one.stage.value,
        one.asked.get("customer", ""),
        one.asked.get("material", ""),
        one.asked.get("due", ""),
        one.outcome.get("quantity", one.asked.get("quantity", "")),
        f"{each} {one.outcome.get('currency', '')}".strip(),
    )


def _shape(one: Enquiry) -> dict[str, object]:
    return {
        "id": one.id,
        "title": one.title,
        "stage": one.stage.value,
        "added": one.added,
        "revision": one.revision,
        "asked": dict(one.asked),
        "outcome": dict(one.outcome),
    }


@command.command("index")
@store_options
@click.option("--rebuild", is_flag=True, help="Make the index anew from the folders of the jobs.")
@_json
def index(
    jobs: Path | None,
    index_url: str | None,
    rebuild: bool,  # noqa: FBT001 a flag of the command line
    as_json: bool,  # noqa: FBT001
) -> int:
    """Bring the index up to date with the folders of the jobs, and say what it took over.

    The folders hold everything; an index that is lost or damaged is built from them.
    """
    store = store_of(jobs, index_url)
    done = store.index.rebuild() if rebuild else store.index.catch_up()
    if as_json:
        from kerfwright.cli.output import put_json

        said = {"index": store.index.where, "read": done.read, "gone": done.gone}
        put_json({"format": "kerfwright-index", "version": 1, **said})
        return 0
    from kerfwright.foundation.counts import counted

    gone = f", {counted(done.gone, 'job')} gone" if done.gone else ""
    verb = "built anew" if rebuild else "up to date"
    click.echo(f"{store.index.where}\n{verb}: {counted(done.read, 'job folder')} read{gone}")
    return 0


for one in (
    *(removed.remove, removed.removed, removed.bring_back, removed.delete),
    *(sealed.seal, sealed.unseal, sealed.sealed),
):
    command.add_command(one)
