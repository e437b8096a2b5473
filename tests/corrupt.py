"""How the books answer when a flow or a stock of one hour is made wrong."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from budget.results.balance import Account

Floats = np.ndarray


def least(family: str) -> float:
    """Amounts below are rounding: joules come in thousands, the rest in ones."""
    return 1e-2 if family.endswith("_j") else 1e-6


def of_hour(account: Account, hour: int) -> Account:
    known = None if account.known is None else account.known[hour : hour + 1]
    return Account(account.book, account.name, account.stocks, account.flows, known)


def residual_of_wrong_flow(accounts: Sequence[Account], stocks: Floats, rows: Floats, column: int) -> float:
    """The flow's greatest hour made 1 % larger: the largest residual of the accounts that it is in."""
    hour = int(np.argmax(np.abs(rows[:, column])))
    wrong = rows[hour : hour + 1].copy()
    wrong[0, column] *= 1.01
    found = [
        float(of_hour(account, hour).residual_fraction(stocks[hour : hour + 2], wrong)[0])
        for account in accounts
        if column in {index for index, _ in account.flows}
    ]
    return max(found, default=0.0)
