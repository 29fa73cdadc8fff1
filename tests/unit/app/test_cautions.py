"""What an offer brings that the job as asked has not is said with it."""

from __future__ import annotations

from kerfwright.app.cautions import cautions
from kerfwright.foundation.findings import Finding, Severity


def finding(code: str, severity: Severity = Severity.WARNING, message: str = "") -> Finding:
    return Finding(code=code, severity=severity, message=message)


DEEP = finding("hole-too-deep", message="A hole of 0.5 mm through 200 mm")
TALL = finding("height-beyond-data", Severity.NOTE)


def test_new_warnings_are_said_once_in_plain_words() -> None:
    said = cautions((DEEP, TALL, DEEP), asked=())
    assert said.count("deeper than is routine") == 1
    assert "figures are known for: a test cut first." in said
    assert "0.5 mm" not in said


def test_a_warning_without_words_of_its_own_is_quoted_in_its_first_sentence() -> None:
    thin = finding("wire-break-margin-thin", message="It runs at 0.95 of its current. More of it.")
    assert (
        cautions((thin,), asked=()) == " A warning comes with it: It runs at 0.95 of its current."
    )


def test_what_is_so_as_asked_is_no_news() -> None:
    assert "routine" not in cautions((DEEP, TALL), asked=(DEEP,))
    assert not cautions((DEEP, TALL), asked=(TALL, DEEP))


def test_notes_and_what_has_odds_of_its_own_are_left_to_others() -> None:
    note = finding("work-may-move", Severity.NOTE)
    missed = finding("finish-may-be-missed")
    assert not cautions((note, missed), asked=())
