"""A comparison in words: what a variant saves and what that costs, and how its battery stands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from budget.moments import short
from budget.rounding import least, need
from budget.wording import least_percent, whole_percent

if TYPE_CHECKING:
    from budget.answers.compare import Variant

COLDER_TELLS_KH = 2.0  # kelvin-hours that somebody might notice; smaller differences are left unsaid


def as_it_stands(variant: Variant) -> str:
    """A variant's battery, not as if it lasted: its lowest charge, and for how long and since when it is cut out."""
    lowest = f"'{variant.name}' as it stands: lowest charge {least_percent(variant.lowest_charge_share)}, "
    if variant.cut_out_from is None:
        return f"{lowest}never cut out."
    return f"{lowest}cut out for {need(variant.cut_out_h)} h, first on {short(variant.cut_out_from)}."


def _pipes(variant: Variant) -> str:
    """Lowest temperature, or 0 °C with its ice: water stays there until it is frozen through."""
    if variant.pipes_ice_h <= 0.0:
        return f"{least(variant.lowest_pipes_c, 1)} °C"
    grams = f"{need(1000.0 * variant.pipes_ice_kg)} g"
    return f"{least(variant.lowest_pipes_c)} °C with ice in them for {need(variant.pipes_ice_h)} h, up to {grams}"


def saving(variant: Variant, base: Variant) -> str:
    """What a variant saves against the first, and what that costs."""
    saved = variant.saved_kg
    share = f" ({whole_percent(abs(saved) / base.gas_kg)})" if base.gas_kg > 0.0 else ""
    verb = "saves" if saved >= 0.0 else "takes"
    more = "" if saved >= 0.0 else " more"
    said = f"'{variant.name}' {verb} {abs(saved):.1f} kg{more}{share} against '{base.name}'"
    colder = variant.colder_awake_kelvin_hours + variant.colder_asleep_kelvin_hours
    if colder > COLDER_TELLS_KH and saved > 0.0:
        said += (
            f", and is colder for it: {variant.colder_awake_kelvin_hours:.0f} K h while somebody is awake and "
            f"{variant.colder_asleep_kelvin_hours:.0f} K h while asleep"
        )
    elif colder > COLDER_TELLS_KH:
        said += f", though it is colder by {colder:.0f} K h while somebody is in"
    costs = []
    if variant.minutes_to_comfort_min is not None and base.minutes_to_comfort_min is not None:
        longer = variant.minutes_to_comfort_min - base.minutes_to_comfort_min
        if longer > 5.0:
            costs.append(f"{longer:.0f} min longer to comfort in the morning")
    elif variant.minutes_to_comfort_min is not None and variant.minutes_to_comfort_min > 5.0:
        costs.append(f"{variant.minutes_to_comfort_min:.0f} min to comfort in the morning")
    if variant.pipes_ice_h > base.pipes_ice_h or variant.lowest_pipes_c < base.lowest_pipes_c - 0.5:
        iced = "," if variant.pipes_ice_h > 0.0 else ""
        costs.append(f"pipes down to {_pipes(variant)}{iced} instead of {_pipes(base)}")
    if variant.dumped_l > base.dumped_l + 0.5:
        costs.append(f"{variant.dumped_l:.0f} L of the boiler let go by the frost drain valve")
    if variant.wet_g > 1.1 * base.wet_g + 20.0:
        costs.append(f"up to {variant.wet_g:.0f} g of water on cold surfaces instead of {base.wet_g:.0f}")
    if variant.peak_kg_per_h > base.peak_kg_per_h + 0.02:
        costs.append(f"a peak of {need(variant.peak_kg_per_h, 2)} kg/h instead of {need(base.peak_kg_per_h, 2)}")
    return said + (f". Its price: {', '.join(costs)}." if costs else ".")
