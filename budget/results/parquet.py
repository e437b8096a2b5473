"""The hourly table as Parquet, its units in the file's own schema."""

from __future__ import annotations

import json
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from budget.errors import InputFault
from budget.results.hourly_columns import hourly_columns

if TYPE_CHECKING:
    from budget.results.result import Result

WITHOUT_PYARROW = "Parquet needs the package pyarrow, which is not installed; pip install pyarrow."


def refuse_without_parquet() -> None:
    """InputFault where pyarrow, which writes Parquet, is not installed."""
    if find_spec("pyarrow") is None:
        raise InputFault(WITHOUT_PYARROW)


def write_parquet(result: Result, path: Path) -> None:
    """Write ``result.hourly``: the column ``time`` with the tour's time zone, then every column in full precision.

    Each column carries unit, kind (stock, flow or measure), sign and meaning; the file carries the title, the time
    zone, and the units of all columns as one JSON object. InputFault without pyarrow.
    """
    refuse_without_parquet()
    import pyarrow as pa
    from pyarrow import parquet

    columns, hourly = hourly_columns(result), result.hourly
    arrays = [pa.array(hourly.index), *(pa.array(hourly[column.name]) for column in columns)]
    said = [{"unit": "start of the hour", "meaning": "local time"}]
    said += [{"unit": c.unit, "kind": c.kind, "sign": c.sign, "meaning": c.meaning} for c in columns]
    fields = [
        pa.field(name, array.type, metadata=metadata)
        for name, array, metadata in zip(("time", *hourly.columns), arrays, said, strict=True)
    ]
    about = {
        "title": result.tour.title,
        "timezone": result.tour.timezone,
        "units": json.dumps({column.name: column.unit for column in columns}, ensure_ascii=False),
    }
    parquet.write_table(pa.table(arrays, schema=pa.schema(fields, metadata=about)), path)
