"""The burner: values between its stages, output at altitude, part load."""

from __future__ import annotations

from budget.compiled import jit
from budget.physics.properties import Floats


@jit
def stage_value(output_w: float, outputs_w: Floats, values: Floats) -> float:
    """Efficiency, fan power or air flow at an output between the stages: linear, held beyond the ends.

    ``outputs_w`` rises; the value has the unit of ``values``.
    """
    last = outputs_w.shape[0] - 1
    if output_w <= outputs_w[0]:
        return float(values[0])
    for stage in range(1, last + 1):
        if output_w < outputs_w[stage]:
            share = (output_w - outputs_w[stage - 1]) / (outputs_w[stage] - outputs_w[stage - 1])
            return float(values[stage - 1] + share * (values[stage] - values[stage - 1]))
    return float(values[last])


@jit
def output_at_density(rated_w: float, density_ratio: float, compensated: bool) -> float:
    """Output left in thin air. [W]

    The mass of combustion air, and with it the heat, falls with density unless the burner compensates; air denser
    than at sea level adds nothing. Common practice, no source.
    """
    if compensated:
        return rated_w
    return rated_w * min(density_ratio, 1.0)


@jit
def part_load_factor(load_share: float, a: float, b: float, c: float, d: float) -> float:
    """Efficiency at part load over steady efficiency: a + b x + c x² + d x³ of the load share x. [–]

    The form of the furnace cases of ANSI/ASHRAE Standard 140; fuel = load / (efficiency * factor).
    """
    return a + load_share * (b + load_share * (c + load_share * d))
