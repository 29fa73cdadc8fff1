"""``kerfwright hooks``: what others are told of quoted and ordered jobs."""

from __future__ import annotations

import time
from pathlib import Path

import click

from kerfwright.cli.store_options import FOLDER, usual_jobs


@click.command("hooks")
@click.option("--jobs", type=FOLDER, help="Folder of the jobs; default: as serve keeps them.")
@click.option("--send", "is_sending", is_flag=True, help="Look what changed and tell it now.")
@click.option("--again", is_flag=True, help="Try everything again that was not told, with --send.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
def command(
    jobs: Path | None,
    is_sending: bool,  # noqa: FBT001 a flag of the command line
    again: bool,  # noqa: FBT001
    as_json: bool,  # noqa: FBT001
) -> int:
    """List who is told of jobs, and what was not told yet.

    The page tells by itself while it is served; --send does it once.  Exit code 1: something
    was not told.
    """
    from kerfwright.adapters.enquiry_folder import EnquiryFolder
    from kerfwright.adapters.hooks.outbox import deliver, notice, try_again, waiting
    from kerfwright.adapters.hooks.sending import send
    from kerfwright.adapters.hooks.settings import read_hooks
    from kerfwright.app.enquiries import Enquiry
    from kerfwright.cli.output import Page, put_json

    folder = usual_jobs() if jobs is None else jobs
    hooks = read_hooks(folder)
    told = 0
    if again:
        try_again(folder)
    if is_sending:
        every = [one for one in EnquiryFolder(folder=folder).all() if isinstance(one, Enquiry)]
        notice(folder, every, hooks)
        told, _ = deliver(folder, hooks, send)
    left = waiting(folder)
    if as_json:
        put_json(
            {
                "format": "kerfwright-hooks-state",
                "version": 1,
                "hooks": [
                    {"name": h.name, "on": sorted(h.stages), "to": h.url or str(h.folder)}
                    for h in hooks
                ],
                "told": told,
                "waiting": [
                    {
                        "hook": w.hook, "event": w.event, "job": w.job, "stage": w.stage,
                        "tries": w.tries, "why": w.why, "has_failed": w.has_failed,
                    }
                    for w in left
                ],
            }
        )  # fmt: skip
        return int(bool(left) and is_sending)
    page = Page()
    page.heading("Told of jobs")
    for hook in hooks:
        page.line(f"{hook.name}: {', '.join(sorted(hook.stages))}, {hook.url or hook.folder}",
                  indent=2)  # fmt: skip
    if not hooks:
        page.line("nobody: there is no hooks.toml among the jobs", indent=2)
    if told:
        page.line(f"{told} told now", indent=2)
    if left:
        page.heading("Not told yet")
    for one in left:
        minutes = max(0, round((one.due - time.time()) / 60))
        when = "tried no more" if one.has_failed else f"again in {minutes} min"
        page.line(f"{one.job} {one.stage} to {one.hook}: {one.why or 'not tried'}; {when}",
                  indent=2)  # fmt: skip
    return int(bool(left) and is_sending)
