"""A comparison in words: what a variant saves and what that costs, and how its battery stands."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

from budget.answers.mains import LITTLE_KWH, and_mains
from budget.answers.warmth import Warmth, gained, held
from budget.moments import short
from budget.rounding import least, need
from budget.wording import least_percent, whole_percent

if TYPE_CHECKING:
    from budget.answers.compare import Variant

COLDER_TELLS_KH = 2.0  # kelvin-hours that somebody might notice; smaller differences are left unsaid
NO_KG = 0.05  # gas to a tenth of a kilogram


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
    return f"{least(variant.lowest_pipes_c)} °C with ice in them for {need(variant.pipes_ice_h)} h (up to {grams})"


def saving(variant: Variant, base: Variant) -> str:
    """What a variant saves against the first, and what that costs; first the warmth, where it holds another."""
    awake_kh, asleep_kh = variant.colder_awake_kelvin_hours, variant.colder_asleep_kelvin_hours
    colder = awake_kh + asleep_kh
    now, before = warmth_of(variant), warmth_of(base)
    other = gained(now, before, variant.warmer_kelvin_hours, colder)
    costs = _costs(variant, base)
    pipes = f"pipes down to {_pipes(variant)} instead of {_pipes(base)}"
    worse = variant.pipes_ice_h > base.pipes_ice_h or variant.lowest_pipes_c < base.lowest_pipes_c - 0.5
    if other:
        said = f"'{variant.name}' holds {'more' if other > 0 else 'less'} warmth than '{base.name}': "
        said += f"{held(now, before)}, {pipes}. {_for_it(variant, base, other)}"
    else:
        said = _gas(variant, base)
        if colder > COLDER_TELLS_KH and _told_by(variant, base)[0] > 0.0:
            said += f", and is colder for it: {awake_kh:.0f} K h while somebody is awake and {asleep_kh:.0f} K h while "
            said += "asleep"
        elif colder > COLDER_TELLS_KH:
            said += f", though it is colder by {colder:.0f} K h while somebody is in"
        costs = [*costs, pipes] if worse else costs
    return said + (f". Its price: {', '.join(costs)}." if costs else ".")


def warmth_of(variant: Variant) -> Warmth:
    """The warmth that a variant holds."""
    return Warmth(**{field.name: getattr(variant, field.name) for field in fields(Warmth)})


def _told_by(variant: Variant, base: Variant) -> tuple[float, float, float, str, str]:
    """What is saved and of how much, from what on it is told, unit and name: gas, or the mains where none burns."""
    if base.gas_kg <= 0.0 and variant.gas_kg <= 0.0 and base.mains_kwh > 0.0:
        return variant.mains_saved_kwh, base.mains_kwh, LITTLE_KWH, "kWh of the mains", "of the mains"
    return variant.saved_kg, base.gas_kg, NO_KG, "kg", "gas"


def _share(saved: float, of: float) -> str:
    """Of what the first takes, in brackets; nothing where it takes none."""
    return f" ({whole_percent(abs(saved) / of)})" if of > 0.0 else ""


def _amount(value: float, unit: str) -> str:
    return f"{value:.1f} {unit}" if unit == "kg" else f"{value:.0f} {unit}"


def _gas(variant: Variant, base: Variant) -> str:
    saved, of, little, unit, name = _told_by(variant, base)
    also = and_mains(variant.mains_saved_kwh) if unit == "kg" else ""
    if abs(saved) < little:
        return f"'{variant.name}' takes as much {name} as '{base.name}', {_amount(of - saved, unit.split()[0])}{also}"
    verb, more = ("saves", "") if saved >= 0.0 else ("takes", " more")
    return f"'{variant.name}' {verb} {_amount(abs(saved), unit)}{more}{_share(saved, of)} against '{base.name}'{also}"


def _for_it(variant: Variant, base: Variant, other: int) -> str:
    """The gas, or electricity, of another warmth."""
    saved, of, little, unit, name = _told_by(variant, base)
    also = and_mains(variant.mains_saved_kwh) if unit == "kg" else ""
    if abs(saved) < little:
        return f"This takes as much {name}, {_amount(of - saved, unit.split()[0])}{also}"
    amount, share = _amount(abs(saved), unit), _share(saved, of)
    if saved < 0.0:
        said = f"This warmth takes {amount} more{share}" if other > 0 else f"It takes {amount} more even so"
    else:
        said = f"It saves {amount} besides{share}" if other > 0 else f"It takes {amount} less for that"
    return f"{said}{also}"


def _costs(variant: Variant, base: Variant) -> list[str]:
    """What a variant costs elsewhere; pipes aside."""
    costs = []
    colder = variant.below_setpoint_kelvin_hours > base.below_setpoint_kelvin_hours
    if variant.mornings_never_warm > base.mornings_never_warm and colder:
        costs.append(
            f"comfort never reached on {variant.mornings_never_warm} of {variant.mornings} mornings"
            if variant.mornings_never_warm < variant.mornings
            else "comfort never reached in the morning"
        )
    elif variant.minutes_to_comfort_min is not None and variant.minutes_to_comfort_min > 5.0:
        if base.minutes_to_comfort_min is None:
            if not base.mornings_never_warm:
                costs.append(f"{variant.minutes_to_comfort_min:.0f} min to comfort in the morning")
        elif variant.minutes_to_comfort_min - base.minutes_to_comfort_min > 5.0:
            longer = variant.minutes_to_comfort_min - base.minutes_to_comfort_min
            costs.append(f"{longer:.0f} min longer to comfort in the morning")
    if variant.dumped_l > base.dumped_l + 0.5:
        costs.append(f"{variant.dumped_l:.0f} L of the boiler let go by the frost drain valve")
    if variant.wet_g > 1.1 * base.wet_g + 20.0:
        costs.append(f"up to {variant.wet_g:.0f} g of water on cold surfaces instead of {base.wet_g:.0f}")
    if variant.peak_kg_per_h > base.peak_kg_per_h + 0.02:
        costs.append(f"a peak of {need(variant.peak_kg_per_h, 2)} kg/h instead of {need(base.peak_kg_per_h, 2)}")
    return costs
