"""The stages of a run as functions of files: several files read as one, files that appear whole."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from suffice.cohort import stages
from suffice.errors import InputError

ROWS = pl.DataFrame(
    {
        "infant_id": ["a", "b", "a", "b", "c"],
        "age_h": [0.0, 0.0, 72.0, 80.0, 0.0],
        "weight_g": [3300.0, 3500.0, 3100.0, 3350.0, 3000.0],
    }
)


def folder_of(path: Path, *pieces: pl.DataFrame) -> Path:
    path.mkdir()
    for number, piece in enumerate(pieces):
        piece.write_parquet(path / f"{number}.parquet")
    return path


def test_a_folder_is_read_as_one_file_in_the_order_of_names(tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "cohort", ROWS.head(2), ROWS.tail(3))
    cohort = stages.cohort_of(folder)
    assert [file.name for file in cohort.files] == ["0.parquet", "1.parquet"]
    assert (cohort.rows_count, cohort.chunks_count, cohort.parts_count) == (5, 1, 1)


@pytest.mark.parametrize(
    "pieces", [(), (ROWS, ROWS.with_columns(site=pl.lit("hill")))], ids=["no file", "other columns"]
)
def test_files_that_do_not_go_together_are_refused(tmp_path: Path, pieces) -> None:
    with pytest.raises(InputError, match="BATCH-007"):
        stages.cohort_of(folder_of(tmp_path / "cohort", *pieces))


def test_all_rows_of_an_infant_come_to_one_part_whatever_the_chunks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stages, "CHUNK_ROWS", 2)
    monkeypatch.setattr(stages, "PART_ROWS", 2)
    cohort = stages.cohort_of(folder_of(tmp_path / "cohort", ROWS.head(3), ROWS.tail(2)))
    work = tmp_path / "work"
    work.mkdir()
    for number in range(cohort.chunks_count):
        split = stages.split_chunk(cohort, number, work)
        assert (split.rows_count, split.unattributed_rows_count) == (2 if number < 2 else 1, 0)
    rows = {folder.name: stages.rows_of(folder) for folder in stages.parts_of(work)}
    places = {one: name for name, part in rows.items() for one in part["infant_id"]}
    assert sorted(places) == ["a", "b", "c"]
    assert sum(len(part) for part in rows.values()) == len(ROWS)
    numbered = sorted(row for part in rows.values() for row in part["row"])
    assert numbered == [1, 2, 3, 4, 5]


def test_a_file_appears_whole_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "rows.parquet"
    stages.write_whole(ROWS, path)
    before = path.read_bytes()

    def half(rows: pl.DataFrame, made: Path) -> None:
        made.write_bytes(b"PAR1")
        raise OSError("disk full")

    monkeypatch.setattr(pl.DataFrame, "write_parquet", half)
    with pytest.raises(OSError, match="disk full"):
        stages.write_whole(ROWS, path)
    assert [file.name for file in tmp_path.iterdir()] == ["rows.parquet"]
    assert path.read_bytes() == before


def test_no_parts_make_a_result_with_all_columns(tmp_path: Path) -> None:
    stages.join([], tmp_path / "whole.parquet")
    whole = pl.read_parquet(tmp_path / "whole.parquet")
    assert len(whole) == 0
    assert {"infant_id", "cautions"} <= set(whole.columns)
