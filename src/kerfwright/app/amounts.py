"""Amounts of money as people write them: the currency before or behind, by its mark or its code."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from kerfwright.foundation.errors import InputError

_CODES: Final = """
AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB BRL BSD BTN BWP BYN
BZD CAD CDF CHF CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL
GHS GIP GMD GNF GTQ GYD HKD HNL HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF
KPW KRW KWD KYD KZT LAK LBP LKR LRD LSL LYD MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN
MYR MZN NAD NGN NIO NOK NPR NZD OMR PAB PEN PGK PHP PKR PLN PYG QAR RON RSD RUB RWF SAR SBD
SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TND TOP TRY TTD TWD TZS UAH
UGX USD UYU UZS VES VND VUV WST XAF XCD XOF XPF YER ZAR ZMW ZWG
"""
CURRENCIES: Final = frozenset(_CODES.split())
"""Currencies of ISO 4217: from memory, so that another is asked about and not refused."""
_DOLLARS: Final = """
USD CAD AUD NZD SGD HKD TWD MXN BBD BMD BND BSD BZD FJD GYD JMD KYD LRD NAD SBD SRD TTD XCD ARS CLP
COP UYU
"""
_MARKS: Final[Mapping[str, frozenset[str]]] = {
    "€": frozenset({"EUR"}),
    "£": frozenset({"GBP", "EGP", "GIP", "FKP", "SHP", "LBP", "SYP"}),
    "$": frozenset(_DOLLARS.split()),
    "¥": frozenset({"JPY", "CNY"}),
    "₩": frozenset({"KRW", "KPW"}),
    "₹": frozenset({"INR"}),
    "₺": frozenset({"TRY"}),
    "₽": frozenset({"RUB"}),
    "₴": frozenset({"UAH"}),
    "₪": frozenset({"ILS"}),
    "₫": frozenset({"VND"}),
    "zł": frozenset({"PLN"}),
    "Kč": frozenset({"CZK"}),
    "Ft": frozenset({"HUF"}),
    "kr": frozenset({"SEK", "NOK", "DKK", "ISK"}),
    "Fr.": frozenset({"CHF"}),
    "R$": frozenset({"BRL"}),
}
"""Marks and the currencies that they may stand for: from memory."""
_MARK: Final = "|".join(
    (*(re.escape(one) for one in sorted(_MARKS, key=len, reverse=True)), r"[A-Za-z]{3}\b")
)
_BEFORE: Final = re.compile(rf"\s*([-+\N{{MINUS SIGN}}]?)\s*({_MARK})\s*(?=[\d.,-])")
_BEHIND: Final = re.compile(rf"(?<=[\d.,])\s*(?:{_MARK})(?=\s*(?:/|an?\s|$))")


def without_currency(text: str, unit_name: str, what: str) -> str:
    """Return an amount without its currency; any other text as it is.

    Parameters
    ----------
    text : str
    unit_name : str
        Of the value in its table, with the currency first where it is money.
    what : str
        Name of the value, for the message.

    Raises
    ------
    InputError
        Code ``other-currency``.

    Examples
    --------
    >>> without_currency("38.50 €/h", "EUR an hour", "bench")
    '38.50/h'
    >>> without_currency("USD 40", "USD", "minimum")
    '40'
    """
    currency = unit_name.partition(" ")[0]
    if len(currency) != _LETTERS or not currency.isupper():
        return text
    before, behind = _BEFORE.match(text), _BEHIND.search(text)
    for said in (before[2] if before else "", behind[0].strip() if behind else ""):
        if said and not _may_be(said, currency):
            known = said in _MARKS or said.upper() in CURRENCIES
            if not known:
                return text
            raise InputError(
                f"{what} {text.strip()!r} is in {said}, and this table is in {currency}",
                code="other-currency",
                remedy=f"Write a number, with {unit_name}. The currency of all amounts stands in "
                "the rates.",
            )
    bare = text if behind is None else text[: behind.start()] + text[behind.end() :]
    return bare if before is None else before[1] + bare[before.end() :]


_LETTERS: Final = 3


def _may_be(said: str, currency: str) -> bool:
    return currency in _MARKS.get(said, frozenset()) or said.upper() == currency
