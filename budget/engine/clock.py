"""The spans at which the parts of the march are renewed."""

from __future__ import annotations

QUARTER_S = 900.0  # heater limits, bottles, battery, frost
HALF_S = 1800.0  # loads, air exchange, vapour
HOUR_S = 3600.0  # sun, people, wind, all conductances but those of air exchange
