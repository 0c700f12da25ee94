"""What a carpet or a curtain that a plan offers would cost: by a price of one's own, else by an example."""

from __future__ import annotations

from typing import Final

from treatment.materials.prices import Price, Prices, example_prices
from treatment.scene.model import Scene

#: How prices name what may be offered: so, or by how it begins, such as ``carpet``.
CARPET: Final = "carpet with its underlay"
CURTAIN: Final = "curtain"
#: Square metres in one unit of a price; one that says no unit is for 1 m2.
_AREA: Final = {"": 1.0, "m2": 1.0, "ft2": 0.3048**2, "sq ft": 0.3048**2}


def covering_price(item: str, area: float, scene: Scene, prices: Prices | None = None) -> str:
    """Say what covering an area costs.

    Parameters
    ----------
    item : str
        `CARPET` or `CURTAIN`.
    area : float
        Of the floor or window that is covered, m2.
    scene : Scene
        Its prices, where `prices` are not given, and the currency of its budget.
    prices : Prices, optional
        Of one's own.

    Returns
    -------
    str
        Such as ``about 430 EUR by example prices``. A price of one's own that is for no area is not used.
    """
    own = _found(prices or scene.prices, item)
    price, whose = own, "your price"
    if price is None:
        price, whose = _found(example_prices(), item), "example prices"
    if price is None:
        return "at a price that is not known"
    money = price.price / _AREA[price.unit.casefold()] * area
    currency = f" {scene.budget.currency}" if scene.budget and scene.budget.currency else ""
    return f"about {money:.0f}{currency} by {whose}"


def _found(prices: Prices | None, item: str) -> Price | None:
    """The price of an item, if it is one by area."""
    price = prices.find(item) if prices else None
    return price if price is not None and price.unit.casefold() in _AREA else None
