"""Results as Parquet files, in drawing units, with their origin. Only this module uses pyarrow."""

import io
import json
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from engine.columns import BY_NAME, COLUMNS, Column, Results
from engine.errors import DamagedError
from engine.files import refuse_link
from engine.physics.arrays import is_repeated, repeated
from engine.run.seals import BLANK, DIGEST, is_sealed, sealed
from engine.run.words import coded

if TYPE_CHECKING:
    import pandas as pd

DIGITS = 12
"""Significant digits of a stored number, so that a gap of 0.3 mm is stored as 0.3."""

NUT, OF_NUT = "nut_clearance", ("shaft_diameter", "bearing")
"""Column that older runs lack, and those that it follows from."""

_TENS = np.array([float(f"1e{exponent}") for exponent in range(-308, 309)])


def stored(results: Mapping[str, NDArray[Any]]) -> Results:
    """Results as they are read back from a file: rounded in drawing units."""
    numbers = _drawn(results, in_si=True)
    return {
        key: numbers[key] if key in numbers else np.asarray(values, dtype=np.str_)
        for key, values in results.items()
    }


def joined(results: Iterable[Results]) -> Results:
    """Rows of several results, one after the other; the columns are those of the first."""
    each = list(results)
    return {key: _chained([one[key] for one in each]) for key in each[0]} if each else {}


def _chained(columns: Sequence[NDArray[Any]]) -> NDArray[Any]:
    """Join one column; what is the same in all rows stays held once."""
    if all(values.strides == (0,) and values.size for values in columns):
        first, *others = [values[0] for values in columns]
        if all(one == first or (one != one and first != first) for one in others):  # noqa: PLR0124
            return repeated(columns[0][:1], sum(map(len, columns)))
    return np.concatenate(columns)


def packed(results: Results, about: Mapping[str, Any]) -> bytes:
    """Parquet file of results, with columns in the order of `engine.columns` and with notes."""
    columns = [column for key, column in COLUMNS.items() if key in results]
    schema = pa.schema(
        [_field(column) for column in columns],
        metadata={
            key: value if isinstance(value, str) else json.dumps(value)
            for key, value in about.items()
        }
        | {DIGEST: BLANK},
    )
    drawing = _drawn({column.key: results[column.key] for column in columns})
    found = {**results, **drawing}
    arrays = [_array(column, found[column.key]) for column in columns]
    buffer = io.BytesIO()
    pq.write_table(
        pa.Table.from_arrays(arrays, schema=schema),
        buffer,
        compression="zstd",
        use_dictionary=[column.name for column in columns if column.is_text or column.is_count],
        use_byte_stream_split=[
            column.name for column in columns if not (column.is_text or column.is_count)
        ],
        write_page_checksum=True,
        write_statistics=False,  # nothing reads them
    )
    return sealed(buffer.getvalue())


def unpacked(path: Path, keys: Sequence[str] | None = None) -> Results:
    """Results of a file, SI by key; all columns or those of `keys`. Raises DamagedError."""
    names = None if keys is None else [COLUMNS[key].name for key in keys]
    with _opened(path) as file:
        table = file.read(columns=names)
    return _results(table)


def whole(path: Path, keys: Sequence[str] | None = None) -> Results:
    """Results as `unpacked` gives them, for readers: with what older runs did not store."""
    if keys is None:
        return completed(unpacked(path))
    if NUT not in keys:
        return unpacked(path, keys)
    found = completed(unpacked(path, tuple(dict.fromkeys((*keys, *OF_NUT)))))
    return {key: found[key] for key in keys if key in found}


def completed(results: Results) -> Results:
    """Add the room of the clamp nut, which runs of model version 16 and before did not store."""
    if NUT in results or not results.keys() >= set(OF_NUT):
        return results
    from engine.model.dimensions import room_of_nut  # noqa: PLC0415  such runs alone need it

    return results | {NUT: np.asarray(room_of_nut(results))}


def notes_about(path: Path) -> dict[str, str]:
    """Read only the notes of a file. Raises DamagedError."""
    with _opened(path) as file:
        notes = file.schema_arrow.metadata or {}
    return {key.decode(): value.decode() for key, value in notes.items()}


def count_rows(path: Path) -> int:
    """Count the rows of a file without reading them. Raises DamagedError."""
    with _opened(path) as file:
        return int(file.metadata.num_rows)


def frame_of(paths: Iterable[Path]) -> "pd.DataFrame":
    """Join files to one data frame in drawing units. Raises DamagedError."""
    tables = []
    for path in paths:
        with _opened(path) as file:
            tables.append(file.read())
    frame: pd.DataFrame = pa.concat_tables(tables).unify_dictionaries().to_pandas()
    return frame


def _drawn(results: Mapping[str, NDArray[Any]], *, in_si: bool = False) -> Results:
    """Numbers in their drawing units, by key, rounded to DIGITS significant digits.

    Then back in SI, where that is asked for.
    """
    from engine.run.rounding_kernel import round_rows  # noqa: PLC0415  (readers round nothing)

    keys = [key for key in results if not COLUMNS[key].is_text]
    count = len(results[keys[0]]) if keys else 0
    same = [key for key in keys if is_repeated(results[key])] if count else []
    varying = [key for key in keys if not is_repeated(results[key])] if count else keys
    found: Results = {}
    for some, n_rows in ((varying, count), (same, 1)):
        units = [COLUMNS[key].unit for key in some]
        both = np.array([[unit.si_offset, unit.si_factor] for unit in units]).reshape(-1, 2)
        rows = np.empty((len(some), n_rows))
        for row, key in zip(rows, some, strict=True):
            row[:] = results[key][:n_rows]
        round_rows(rows, both, _TENS, DIGITS, in_si)
        found |= dict(zip(some, rows, strict=True))
    return found | {key: repeated(found[key], count) for key in same}


def _field(column: Column) -> pa.Field:
    kind = (
        pa.dictionary(pa.int32(), pa.string())
        if column.is_text
        else (pa.int64() if column.is_count else pa.float64())
    )
    notes = {"unit": column.unit.symbol, "label": column.label, "description": column.meaning}
    return pa.field(column.name, kind, metadata=notes)


def _array(column: Column, values: NDArray[Any]) -> pa.Array:
    """Column of a file, made of buffers: `pa.array` would load pandas, which takes a while."""
    if column.is_text:
        return _text_array(values)
    if not column.is_count:
        return pa.Array.from_buffers(pa.float64(), len(values), [None, pa.py_buffer(values.copy())])
    known = np.isfinite(values)
    whole = np.where(known, values, 0).astype(np.int64)
    valid = None if known.all() else pa.py_buffer(np.packbits(known, bitorder="little"))
    return pa.Array.from_buffers(pa.int64(), len(values), [valid, pa.py_buffer(whole)])


def _text_array(values: NDArray[Any]) -> pa.Array:
    """Words by their place among the different ones, in the order in which they first occur."""
    words, where = coded(np.asarray(values, dtype=np.str_))
    texts = [word.encode() for word in words.tolist()]
    ends = np.cumsum([0, *map(len, texts)], dtype=np.int32)
    buffers = [None, pa.py_buffer(ends), pa.py_buffer(b"".join(texts))]
    return pa.DictionaryArray.from_arrays(
        pa.Array.from_buffers(pa.int32(), len(where), [None, pa.py_buffer(where)]),
        pa.Array.from_buffers(pa.string(), len(texts), buffers),
    )


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    refuse_link(path)
    try:
        if not is_sealed(path):
            raise pa.ArrowInvalid  # not as it was written
        with pq.ParquetFile(path, page_checksum_verification=True) as file:
            yield file
    except (OSError, pa.ArrowException) as error:
        why = os.strerror(error.errno) if isinstance(error, OSError) and error.errno else "damaged"
        msg = f"{path}: cannot be read ({why.lower()}); give the command of its run again: only"
        msg += " this file is made again"
        raise DamagedError(msg) from error


def _results(table: pa.Table) -> Results:
    results: Results = {}
    for name in table.column_names:
        column = BY_NAME[name]
        if column.is_text:
            # Words repeat, so each is converted to text only once.
            chunks = table[name].unify_dictionaries().chunks
            words = np.array(chunks[0].dictionary.to_pylist() if chunks else [], dtype=str)
            places = [chunk.indices.to_numpy() for chunk in chunks]
            results[column.key] = words[np.concatenate(places)] if len(words) else words
        else:
            drawing = table[name].cast(pa.float64()).to_numpy()
            results[column.key] = column.to_si(drawing)
    return results
