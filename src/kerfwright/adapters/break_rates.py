"""How often the wire breaks and how long that takes, from two tables."""

from __future__ import annotations

from types import MappingProxyType

from kerfwright.adapters.figures import Node
from kerfwright.costing.rates import BreakRates


def break_rates(node: Node, learning: Node) -> BreakRates:
    """Read the minutes of a break from ``rates.toml`` and its rate from ``learning.toml``.

    Parameters
    ----------
    node : Node
        Table ``breaks`` of the rates.
    learning : Node
        The rules of learning.

    Raises
    ------
    InputError
        Code ``table-value`` or ``table-key``.
    """
    names = ("machine_min", "help_min", "help_share")
    node.only(*names)
    values, sources = node.record(*names, least=0)
    if values["help_share"] > 1:
        node.fail("help_share", values["help_share"], "a share, at most 1")
    # One figure for what is expected and for what learning begins with.
    per_h, sources["per_h"] = learning.table("breaks").number("per_h")
    sigma_log, sources["sigma_log"] = learning.table("sigma").number("breaks_log")
    return BreakRates(per_h=per_h, sigma_log=sigma_log, sources=MappingProxyType(sources), **values)
