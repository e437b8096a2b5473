"""What every page says, whatever the numbers."""

from __future__ import annotations

CAUTIONS = (
    "This is a planning aid. It approves nothing in gas, electrical or medical matters; gas work belongs to a "
    "competent registered person under the rules of the country you are in.",
    "Carbon-monoxide and gas alarms: fitted, working and in date.",
    "Never heat with the hob, the oven or any flame without a flue, and never sleep with one lit.",
    "Fixed vents and the drop vents of the gas locker stay open. No answer on this page may be read as a reason to go "
    "below them.",
    "Look at the flue every night and keep it clear of snow.",
    "Bottles stand upright and strapped. Never warm one with a flame or with hot water.",
    "Keep a reserve: in the cold, gas can stop flowing while liquid is still in the bottle.",
    "If the heater stops, it gets cold fast. Children and pets are not left to it.",
    "18 °C is the usual least for health; babies and old people need more.",
    "Below 5 °C at the water pipes: heat or drain.",
    "At the pitch: mind the rating of the pillar, roll the cable out fully, and have a tested residual-current device.",
    "The block that keeps a lithium battery from charging in the cold is there for a reason and is not to be defeated.",
    "Water at 60 °C scalds. Water kept lukewarm breeds legionella.",
    "Emergency exits stay clear of screens and kit.",
    "Above about 1,000 m some burners need attention: read the rating plate.",
)
NO_ODDS = (
    "One run on one weather: no odds were worked out for this page, and one in ten plans like this uses noticeably "
    "more gas. Before you count on the last bottle, add --odds 200 to the run: then this page says how likely it is "
    "to last, what to do tonight, and what to measure."
)
