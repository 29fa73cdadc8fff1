"""Run one command and turn whatever happens into an exit code and a few plain words.

Exit codes: 0 done; 1 refused, with findings or with the place of the fault in a drawing or a
program; 2 wrong call or input that cannot be used; 70 a fault of ours (``EX_SOFTWARE`` of BSD
``sysexits.h``); 130 stopped by the person; 141 the reader of our output went away (as a shell
reports SIGPIPE).
"""

from __future__ import annotations

import os
import sys
import traceback

import click

from kerfwright.cli.commands import kerfwright
from kerfwright.cli.safe import safe
from kerfwright.foundation.errors import DrawingError, KerfwrightError, ProgramError

DONE, REFUSED, WRONG_CALL, OUR_FAULT, STOPPED, NO_READER = 0, 1, 2, 70, 130, 141
_DEBUG = "KERFWRIGHT_DEBUG"


def run(arguments: list[str]) -> int:
    """Return the exit code of one command line."""
    try:
        code = kerfwright.main(arguments, prog_name="kerfwright", standalone_mode=False)
        sys.stdout.flush()
    except click.exceptions.Exit as end:
        return end.exit_code
    except click.ClickException as fault:
        # click words usage errors itself, with the usage line.
        fault.show()
        _tell_json(arguments, code="wrong-call", message=fault.format_message())
        return WRONG_CALL
    except (click.Abort, KeyboardInterrupt):
        _say("stopped; files of earlier runs are as they were")
        return STOPPED
    except BrokenPipeError:
        _close_output()
        return NO_READER
    except KerfwrightError as fault:
        _say(_worded(fault))
        _tell_json(
            arguments,
            code=fault.code,
            message=fault.message,
            where=fault.where,
            remedy=fault.remedy,
        )
        # A drawing or a program that was read and found wanting is refused, not a wrong call.
        return REFUSED if isinstance(fault, DrawingError | ProgramError) else WRONG_CALL
    except Exception as fault:  # the last net: no traceback reaches a person unasked
        return _our_fault(fault, arguments)
    return code if isinstance(code, int) else DONE


def _our_fault(fault: Exception, arguments: list[str]) -> int:
    if os.environ.get(_DEBUG):
        traceback.print_exc()
    message = f"internal fault ({type(fault).__name__}); no earlier result was changed."
    _say(f"{message} Please report it with the drawing; {_DEBUG}=1 shows where.")
    _tell_json(arguments, code="internal-fault", message=message)
    return OUR_FAULT


def _worded(fault: KerfwrightError) -> str:
    place = f"\n  where: {fault.where}" if fault.where else ""
    remedy = f"\n  remedy: {fault.remedy}" if fault.remedy else ""
    return f"{fault.message}{place}{remedy}"


def _say(message: str) -> None:
    print(f"kerfwright: {safe(message, keep_breaks=True)}", file=sys.stderr)  # noqa: T201


def _tell_json(arguments: list[str], **fields: str) -> None:
    """With ``--json``, a failure is one JSON document too."""
    if "--json" in arguments:
        from kerfwright.cli.output import put_json

        put_json({"format": "kerfwright-error", "version": 1, **fields})


def _close_output() -> None:
    """Keep the interpreter from flushing into the closed pipe once more on its way out."""
    devnull = os.open(os.devnull, os.O_WRONLY)
    os.dup2(devnull, sys.stdout.fileno())
