"""Check skyline files, good and bad."""

import numpy as np
import pytest

from wherestood.errors import SkylineError
from wherestood.plate.skyline import read_skyline_csv, write_skyline_csv

A_THOUSANDTH_PX = 0.0005 + 1e-9


def rows(count=40):
    return [f"{10 * i + 0.5},{100 + i}" for i in range(count)]


def read(tmp_path, lines):
    path = tmp_path / "skyline.csv"
    path.write_text("\n".join(lines) + "\n")
    return read_skyline_csv(path, 1000, 800)


def test_empty_row_breaks_the_line_where_it_stands(tmp_path):
    lines = ["x_px,y_px", *rows()]
    lines.insert(11, "")
    skyline = read(tmp_path, lines)
    assert np.flatnonzero(skyline.break_after).tolist() == [9]
    assert skyline.x_px[10] == 100.5
    assert (skyline.sd_px >= 1.0).all()


def test_what_is_written_is_read_back(tmp_path):
    lines = ["x_px,y_px,sd_px", *(f"{row},0.75" for row in rows())]
    lines.insert(21, ",,")
    first = read(tmp_path, lines)
    path = tmp_path / "again.csv"
    write_skyline_csv(first, path)
    second = read_skyline_csv(path, 1000, 800)
    for name in ("x_px", "y_px", "sd_px"):
        off = np.abs(getattr(first, name) - getattr(second, name)).max()
        assert off < A_THOUSANDTH_PX
    assert (first.break_after == second.break_after).all()


@pytest.mark.parametrize(
    ("bad", "told"),
    [
        ("50.5,nan", "y_px on line 7 .* is 'nan'"),
        ("50.5,high", "y_px on line 7 .* is 'high'"),
        ("50.5", "y_px on line 7"),
        ("35.5,100", "x on line 7 .* must rise"),
        ("50.5,900", "line 7 .* outside the scan of 1000 x 800"),
        ("-3,100", "line 7 .* outside|x on line 7"),
    ],
)
def test_bad_row_is_refused_with_its_line(tmp_path, bad, told):
    lines = ["x_px,y_px", *rows()]
    lines[6] = bad
    with pytest.raises(SkylineError, match=told):
        read(tmp_path, lines)


def test_missing_heading_is_refused_with_the_layout(tmp_path):
    with pytest.raises(SkylineError, match="x_px,y_px"):
        read(tmp_path, rows())


def test_missing_empty_and_unreadable_files_are_told_apart(tmp_path):
    with pytest.raises(SkylineError, match=r"There is no skyline file '.*none\.csv'"):
        read_skyline_csv(tmp_path / "none.csv", 1000, 800)
    with pytest.raises(SkylineError, match="is empty"):
        read(tmp_path, [])
    (tmp_path / "scan.csv").write_bytes(bytes(range(256)))
    with pytest.raises(SkylineError, match="cannot be read as text"):
        read_skyline_csv(tmp_path / "scan.csv", 1000, 800)


def test_too_few_points_are_refused_with_their_number(tmp_path):
    with pytest.raises(SkylineError, match="has 5 points"):
        read(tmp_path, ["x_px,y_px", *rows(5)])
