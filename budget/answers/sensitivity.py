"""What matters most for gas and for charge, and what a measurement would be worth; all from the odds' own sample."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from budget.answers.ensemble import BAND_STEP_H
from budget.answers.indices import adjusted_share, ends, explained_share, terms
from budget.answers.odds import Odds
from budget.errors import InputFault
from budget.weather.air import Floats
from budget.wording import whole_percent

LEAST_SCENARIOS = 100
WEATHER = "weather"
SCALE_KG = 0.05  # common practice, no source: a hand-held scale reads to 0.1 kg
NIGHT_EDGES = 24 // BAND_STEP_H
MEASURED_AWAY_SHARE = 0.9  # of a range's variance, what a tape measure or a plate takes away (choice)
LEAST_KG, LEAST_CHARGE_SHARE = 0.1, 0.01  # an end to end effect below that matters to nobody (choice)
NAMES = {  # what is low and what is high: a loss, not an insulation, which is high where the loss is low
    "loss_factor": "loss through walls, roof and floor",
    "glazing_factor": "loss through windows and screens",
    "leakage_factor": "draughts",
    "capacity_factor": "thermal mass",
    "efficiency_factor": "heater's efficiency",
    "vapour_factor": "people's heat and hours inside",
    "hot_water_factor": "hot water used",
    "battery_capacity_factor": "what the battery still holds",
    "solar_factor": "what the panels yield",
    "loads_factor": "12 V loads",
    WEATHER: "weather",
}
LOW_HIGH = ("low", "high")
ENDS = {WEATHER: ("cold", "mild")}  # what low and high mean, where they are other words


@dataclass(frozen=True)
class Bar:
    """One input: share of the variance it explains alone, and the outcome where it is low (P10) and high (P90).

    The other inputs are the same at both ends; half-widths are those of 95 % intervals, winters that were not drawn
    counted in. ``by_chance``: what it moves is within its own half-width, or less than matters, so that another draw
    may show nothing of it.
    """

    name: str
    words: str
    share: float
    at_low: float
    at_high: float
    low_half_width: float
    high_half_width: float
    moves_half_width: float
    by_chance: bool = False

    @property
    def ends(self) -> tuple[str, str]:
        """Its low and its high end in a word each."""
        return ENDS.get(self.name, LOW_HIGH)

    @property
    def from_end_to_end(self) -> str:
        """Its words, and its ends where they are called neither low nor high."""
        return self.words if self.ends == LOW_HIGH else f"{self.words}, {self.ends[0]} to {self.ends[1]}"

    @property
    def moves(self) -> float:
        """By how much the outcome is greater at the high end."""
        return self.at_high - self.at_low


@dataclass(frozen=True)
class Worth:
    """What knowing something would do to the width of the band from P10 to P90."""

    what: str
    band_now: float
    band_then: float

    @property
    def narrower_share(self) -> float:
        """By how much of itself the band narrows."""
        return 1.0 - self.band_then / self.band_now if self.band_now > 0.0 else 0.0


@dataclass(frozen=True)
class Sensitivity:
    """Bars for gas [kg] and lowest charge [0–1], greatest first and those by chance last.

    ``unexplained`` is what no input explains alone, effects by chance left out.
    """

    scenarios: int
    gas: tuple[Bar, ...]
    charge: tuple[Bar, ...]
    gas_unexplained_share: float
    charge_unexplained_share: float
    worth: tuple[Worth, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready."""

        def listed(bars: tuple[Bar, ...], unit: str) -> list[dict[str, Any]]:
            return [
                {"input": b.name, "share": round(b.share, 4), f"at_low_{unit}": round(b.at_low, 4),
                 f"at_high_{unit}": round(b.at_high, 4), f"at_low_half_width_{unit}": round(b.low_half_width, 4),
                 f"at_high_half_width_{unit}": round(b.high_half_width, 4), f"moves_{unit}": round(b.moves, 4),
                 f"moves_half_width_{unit}": round(b.moves_half_width, 4),
                 "by_chance": b.by_chance}
                for b in bars
            ]  # fmt: skip

        return {
            "scenarios": self.scenarios,
            "gas": listed(self.gas, "kg"),
            "gas_unexplained_share": round(self.gas_unexplained_share, 4),
            "lowest_charge": listed(self.charge, "share"),
            "lowest_charge_unexplained_share": round(self.charge_unexplained_share, 4),
            "worth": [
                {"what": w.what, "band_now_kg": round(w.band_now, 3), "band_then_kg": round(w.band_then, 3),
                 "narrower_share": round(w.narrower_share, 4)}
                for w in self.worth
            ],
        }  # fmt: skip

    def sentences(self) -> list[str]:
        """In plain words."""
        most, charge = self.gas[0], self.charge[0]
        said = [
            f"Nothing that was varied moves the gas beyond chance: about {_about(self.gas):.1f} kg at either end of "
            "each."
            if most.by_chance
            else f"Gas depends most on {most.words}, which alone explains {whole_percent(most.share)} of its spread: "
            f"{most.at_low:.1f} kg where it is {most.ends[0]}, {most.at_high:.1f} kg where it is {most.ends[1]} and "
            f"all else is the same; that is {abs(most.moves):.1f} ± {most.moves_half_width:.1f} kg apart.",
            f"Nothing that was varied moves the lowest charge beyond chance: about "
            f"{whole_percent(_about(self.charge))} at either end of each."
            if charge.by_chance
            else f"The lowest charge depends most on {charge.words} ({whole_percent(charge.share)} of its spread).",
        ]
        for worth in self.worth[:2]:
            if worth.narrower_share > 0.005:
                said.append(
                    f"{worth.what[0].upper()}{worth.what[1:]} would narrow the band of gas "
                    f"by {whole_percent(worth.narrower_share)}, from {worth.band_now:.1f} to {worth.band_then:.1f} kg."
                )
        return said


def answer(odds: Odds) -> Sensitivity:
    """What matters most, from the scenarios of ``odds``; InputFault for fewer than 100 of them."""
    if odds.scenarios < LEAST_SCENARIOS:
        raise InputFault(
            f"what matters most needs at least {LEAST_SCENARIOS} scenarios, got {odds.scenarios}; raise --scenarios."
        )
    groups = _groups(odds)
    gas, charge = odds.kept.need_kg, odds.kept.lowest_charge_share
    gas_bars, charge_bars = _bars(groups, gas, LEAST_KG), _bars(groups, charge, LEAST_CHARGE_SHARE)
    return Sensitivity(
        scenarios=odds.scenarios,
        gas=gas_bars,
        charge=charge_bars,
        gas_unexplained_share=max(0.0, 1.0 - sum(bar.share for bar in gas_bars if not bar.by_chance)),
        charge_unexplained_share=max(0.0, 1.0 - sum(bar.share for bar in charge_bars if not bar.by_chance)),
        worth=_worth(odds, groups, {bar.name: bar.share for bar in gas_bars if not bar.by_chance}),
    )


def _groups(odds: Odds) -> dict[str, Floats]:
    groups = {name: np.log(values) for name, values in odds.samples.items() if float(np.std(values)) > 0.0}
    kept = odds.kept
    weather = np.stack([kept.mean_outdoor_c, kept.mean_wind_m_per_s, kept.panel_wh], axis=1)
    if float(weather.std(axis=0).max()) > 1e-9:
        groups[WEATHER] = weather
    if not groups:
        raise InputFault("what matters most needs something that varies, got neither weather nor a van's ranges.")
    return groups


def _about(bars: tuple[Bar, ...]) -> float:
    """The middle of all ends."""
    return sum(bar.at_low + bar.at_high for bar in bars) / (2.0 * len(bars))


def _bars(groups: Mapping[str, Floats], outcome: Floats, least: float) -> tuple[Bar, ...]:
    """Bars by share, those by chance last; weather is low when it is cold."""
    shares, stands = explained_share(groups, outcome), ends(groups, outcome, (WEATHER,))
    bars = [Bar(name, NAMES.get(name, name), shares[name], **asdict(stands[name])) for name in groups]
    bars = [replace(bar, by_chance=not abs(bar.moves) > max(bar.moves_half_width, least)) for bar in bars]
    return tuple(sorted(bars, key=lambda bar: (not bar.by_chance, bar.share), reverse=True))


def _worth(odds: Odds, groups: Mapping[str, Floats], shares: Mapping[str, float]) -> tuple[Worth, ...]:
    """Bands after measuring each input, and after weighing the bottle when a night is over; narrowest first."""
    band = odds.gas.p90 - odds.gas.p10
    found = [
        Worth(f"measuring {NAMES.get(name, name)}", band, band * float(np.sqrt(1.0 - MEASURED_AWAY_SHARE * share)))
        for name, share in shares.items()
        if name != WEATHER
    ]
    weighed = weighing_share(odds, groups)
    if weighed is not None:
        found.append(Worth("weighing the bottle after the first night", band, band * float(np.sqrt(1.0 - weighed))))
    return tuple(sorted(found, key=lambda worth: worth.band_then))


def weighing_share(odds: Odds, groups: Mapping[str, Floats]) -> float | None:
    """Share of the variance of gas that the first day's weighed use takes away beyond what the weather tells.

    The use of the first 24 h, with the scale's error, is added to a regression on the weather. None for a shorter tour.
    """
    if odds.kept.used_band_kg.shape[1] <= NIGHT_EDGES:
        return None
    rng = np.random.default_rng(np.random.SeedSequence(odds.seed, spawn_key=(3,)))
    seen = odds.kept.used_band_kg[:, NIGHT_EDGES] + SCALE_KG * rng.standard_normal(odds.scenarios)
    weighed = terms(seen)
    outcome = odds.kept.need_kg
    if WEATHER not in groups:
        return adjusted_share(weighed, outcome)
    weather = terms(groups[WEATHER])
    together = adjusted_share(np.concatenate([weather, weighed], axis=1), outcome)
    return max(0.0, together - adjusted_share(weather, outcome))
