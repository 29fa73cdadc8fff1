"""What hours, consumables and wire breaks cost: ``rates.toml`` as records."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from types import MappingProxyType
from typing import TypeVar

from kerfwright.adapters.figures import Most, Node
from kerfwright.costing.rates import (
    BreakRates,
    ConsumableRates,
    HourRates,
    HumanMinutes,
    RateTable,
)
from kerfwright.process.technology import SmallHoleLaw

_Record = TypeVar("_Record")


def rate_table(node: Node, *, learning: Node, drilling: SmallHoleLaw) -> RateTable:
    """Read ``rates.toml``.

    Parameters
    ----------
    node : Node
    learning : Node
        The rules of learning, which hold how often the wire breaks.
    drilling : SmallHoleLaw

    Raises
    ------
    InputError
        Code ``table-value`` or ``table-key``.
    """
    node.only("currency", "hour", "minutes", "consumption", "breaks", "order", "at_most")
    currency = node.text("currency")
    if len(currency) != 3 or not (currency.isalpha() and currency.isupper()):
        node.fail("currency", currency, "three capital letters such as EUR or USD (ISO 4217)")
    most = node.table("at_most")
    most.only("rate_per_h", "price", "work_min")
    rate, price, work = (_most(most, name) for name in ("rate_per_h", "price", "work_min"))
    hour = _money(
        node.table("hour"),
        HourRates,
        rate,
        ("machine_unattended_per_h", "machine_attended_per_h", "programming_per_h", "bench_per_h"),
    )
    minutes = node.table("minutes")
    names = tuple(f for f in HumanMinutes.__dataclass_fields__ if f != "sources")
    minutes.only(*names)
    values, sources = minutes.record(*names, least=0, most=work)
    order = node.table("order")
    order.only("minimum", "same_price_share", "unmeasured_saving_share")
    minimum, source = order.number("minimum", least=0, most=price)
    same, same_source = order.number("same_price_share", least=0)
    if same >= 1:
        order.fail("same_price_share", same, "a share, 0 or more and below 1")
    of_order = {"minimum_order": source, "same_price_share": same_source}
    unmeasured = 0.0
    # Kept with a job before there was such a share: any saving counted.
    if "unmeasured_saving_share" in order.data:
        unmeasured, unmeasured_source = order.number("unmeasured_saving_share", least=0)
        of_order["unmeasured_saving_share"] = unmeasured_source
        if unmeasured >= 1:
            order.fail("unmeasured_saving_share", unmeasured, "a share, 0 or more and below 1")
    return RateTable(
        currency=currency,
        hour=hour,
        minutes=HumanMinutes(sources=MappingProxyType(sources), **values),
        consumption=_money(
            node.table("consumption"),
            ConsumableRates,
            price,
            ("electricity_per_kwh", "filter_price", "resin_price_per_l", "electrode_price_per_m"),
            plain=("filter_life_h", "resin_l_per_h"),
        ),
        drilling=drilling,
        minimum_order=Decimal(repr(minimum)),
        same_price_share=same,
        unmeasured_saving_share=unmeasured,
        sources=MappingProxyType(of_order),
        breaks=_break_rates(node.table("breaks"), learning),
    )


def _most(node: Node, name: str) -> Most:
    value, _ = node.number(name)
    return Most(name=f"{node.path}{name}", value=value)


def _money(
    node: Node,
    make: Callable[..., _Record],
    most: Most,
    prices: tuple[str, ...],
    plain: tuple[str, ...] = (),
) -> _Record:
    node.only(*prices, *plain)
    amounts, sources = node.record(*prices, least=0, most=most)
    values, value_sources = node.record(*plain)
    # repr gives the shortest decimal, which is what the file says.
    money = {name: Decimal(repr(amount)) for name, amount in amounts.items()}
    return make(sources=MappingProxyType(sources | value_sources), **money, **values)


def _break_rates(node: Node, learning: Node) -> BreakRates:
    names = ("machine_min", "help_min", "help_share")
    node.only(*names)
    values, sources = node.record(*names, least=0)
    if values["help_share"] > 1:
        node.fail("help_share", values["help_share"], "a share, at most 1")
    # One figure for what is expected and for what learning begins with.
    per_h, sources["per_h"] = learning.table("breaks").number("per_h")
    sigma_log, sources["sigma_log"] = learning.table("sigma").number("breaks_log")
    burst, sources["burst"] = learning.table("breaks").number("burst", least=0)
    return BreakRates(
        per_h=per_h,
        sigma_log=sigma_log,
        burst=burst,
        sources=MappingProxyType(sources),
        **values,
    )
