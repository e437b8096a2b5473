"""Rows of numbers in the march, filled and copied by plain loops: a slice would bring a check of shapes to compile."""

from __future__ import annotations

from budget.compiled import jit


@jit
def fill(row, value):
    """Set every place of a row to a value."""
    for i in range(row.shape[0]):
        row[i] = value


@jit
def copy(row, into):
    """Copy a row to the front of another."""
    for i in range(row.shape[0]):
        into[i] = row[i]
