"""Check skyline files, good and bad."""

import numpy as np
import pytest

from wherestood.errors import SkylineError
from wherestood.plate.skyline import (
    read_skyline_csv,
    read_traced_lines,
    write_skyline_csv,
)

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


def with_ridges(*ridges, heading="x_px,y_px,sd_px,line,trust"):
    return [heading, *(f"{row},,," for row in rows()), *ridges]


def read_both(tmp_path, lines):
    path = tmp_path / "lines.csv"
    path.write_text("\n".join(lines) + "\n")
    return read_traced_lines(path, 1000, 800)


def test_rows_with_a_name_belong_to_that_ridge_line(tmp_path):
    skyline, ridges = read_both(
        tmp_path,
        with_ridges(
            "10,300,2,spur,0.7", "60,310,2,spur,", "20,400,,dam,", "90,410,,dam,"
        ),
    )
    assert skyline.x_px.size == 40
    assert [(one.name, one.trust) for one in ridges] == [("spur", 0.7), ("dam", 0.9)]
    assert ridges[0].line.y_px.tolist() == [300.0, 310.0]
    assert ridges[0].line.sd_px.tolist() == [2.0, 2.0]
    assert (ridges[0].line.width_px, ridges[0].line.height_px) == (1000, 800)


def test_rows_named_skyline_or_not_at_all_are_the_skyline(tmp_path):
    lines = with_ridges("10,300,2,spur,0.7", "60,310,2,spur,0.7")
    lines[1:21] = [line.replace(",,,", ",,skyline,") for line in lines[1:21]]
    skyline, ridges = read_both(tmp_path, lines)
    assert skyline.x_px.size == 40
    assert len(ridges) == 1


def test_the_order_of_rows_of_different_lines_does_not_matter(tmp_path):
    lines = with_ridges()
    lines.insert(5, "60,310,2,spur,0.7")
    lines.insert(3, "10,300,2,spur,0.7")
    _, (ridge,) = read_both(tmp_path, lines)
    assert ridge.line.x_px.tolist() == [10.0, 60.0]


def test_a_reader_of_the_skyline_alone_passes_ridge_lines_over(tmp_path):
    path = tmp_path / "lines.csv"
    path.write_text("\n".join(with_ridges("10,300,2,spur,0.7", "60,310,2,spur,")))
    assert read_skyline_csv(path, 1000, 800).x_px.size == 40


def test_what_is_written_with_ridge_lines_is_read_back(tmp_path):
    lines = with_ridges(
        "10,300.1234,2,spur,0.7",
        "60,310,2,spur,0.7",
        "",
        "90,310,2,spur,0.7",
        '20,400,1,"dam, ""new""",0.4',
        '90,410,1,"dam, ""new""",0.4',
    )
    skyline, ridges = read_both(tmp_path, lines)
    write_skyline_csv(skyline, tmp_path / "again.csv", ridges)
    once_more, again = read_traced_lines(tmp_path / "again.csv", 1000, 800)
    np.testing.assert_array_equal(once_more.x_px, skyline.x_px)
    assert [one.name for one in again] == ["spur", 'dam, "new"']
    for one, other in zip(ridges, again, strict=True):
        assert one.trust == other.trust
        assert np.abs(one.line.y_px - other.line.y_px).max() < A_THOUSANDTH_PX
        assert (one.line.break_after == other.line.break_after).all()
    assert again[0].line.break_after.tolist() == [False, True, False]


@pytest.mark.parametrize(
    ("ridge", "told"),
    [
        (["10,300,2,spur,0"], "trust on line 42 .* is '0'"),
        (["10,300,2,spur,1"], "trust on line 42 .* is '1'"),
        (["10,300,2,spur,high"], "trust on line 42 .* between 0 and 1"),
        (["10,300,2,spur,nan"], "trust on line 42 .* is 'nan'"),
        (
            ["10,300,2,spur,"],
            "The ridge line 'spur' of the skyline file .* has 1 point",
        ),
        (["60,300,2,spur,", "60,310,2,spur,"], "x on line 43 .* is 60, after 60"),
        (["10,900,2,spur,"], "line 42 .* outside the scan of 1000 x 800"),
        (["10,300,0,spur,"], "sd_px on line 42 .* is 0"),
    ],
)
def test_a_bad_ridge_line_is_refused_by_its_line_or_name(tmp_path, ridge, told):
    with pytest.raises(SkylineError, match=told):
        read_both(tmp_path, with_ridges(*ridge))


def test_ridge_lines_alone_are_no_skyline(tmp_path):
    lines = ["x_px,y_px,line", "10,300,spur", "60,310,spur"]
    with pytest.raises(SkylineError, match=r"The skyline file .* has 0 points"):
        read_both(tmp_path, lines)
