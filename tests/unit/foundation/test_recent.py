"""The last few results are kept, the one asked for longest ago goes first."""

from __future__ import annotations

from kerfwright.foundation.recent import Recent


def test_what_was_asked_for_last_is_kept() -> None:
    made: list[str] = []
    recent: Recent[str, str] = Recent(2)

    def ask(key: str) -> str:
        return recent.once(key, lambda: made.append(key) or key.upper())  # type: ignore[func-returns-value]

    assert [ask(key) for key in "abaca"] == ["A", "B", "A", "C", "A"]
    # Only once each: ``b`` went when ``c`` came, for ``a`` had been asked for since.
    assert made == ["a", "b", "c"]
    ask("b")
    assert made == ["a", "b", "c", "b"]
    recent.clear()
    ask("b")
    assert made[-2:] == ["b", "b"]
