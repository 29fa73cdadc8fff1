"""The order in which findings are read."""

from __future__ import annotations

from kerfwright.foundation.findings import Finding, Severity, rank


def test_a_doubt_of_the_unit_comes_before_any_refusal() -> None:
    found = [
        Finding(code="thin-web", severity=Severity.NOTE, message=""),
        Finding(code="slot-below-kerf", severity=Severity.REFUSAL, message=""),
        Finding(code="unit-contradicted", severity=Severity.WARNING, message=""),
        Finding(code="thin-web", severity=Severity.WARNING, message=""),
    ]
    order = [(f.code, f.severity.value) for f in sorted(found, key=rank)]
    assert order == [
        ("unit-contradicted", "warning"),
        ("slot-below-kerf", "refusal"),
        ("thin-web", "warning"),
        ("thin-web", "note"),
    ]
