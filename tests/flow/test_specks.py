"""Drawings of which nothing, or nothing cut out, is large enough to sew."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline import flow
from pipeline.batch.convert import convert_all
from pipeline.errors import ArtworkError
from pipeline.settings import Settings

PAGE = '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 40 40">{}</svg>'
SPECK = '<rect x="{}" y="9" width="0.2" height="1.1" fill="#c02020"/>'


@pytest.fixture
def specks(tmp_path: Path) -> Path:
    """Three specks of 0.22 mm²."""
    path = tmp_path / "specks.svg"
    path.write_text(PAGE.format("".join(SPECK.format(x) for x in (5, 15, 25))))
    return path


def test_a_drawing_of_specks_is_the_artworks_fault(specks: Path) -> None:
    with pytest.raises(ArtworkError, match=r"too small to sew: .* 0\.2 × 1\.1 mm; sew it larger with --width"):
        flow.convert(specks)


def test_a_comparison_of_specks_too(specks: Path) -> None:
    with pytest.raises(ArtworkError, match="too small to sew"):
        flow.compare(specks)


def test_the_batch_names_the_file_and_the_remedy(specks: Path, tmp_path: Path) -> None:
    report = convert_all([specks], tmp_path / "out", Settings())
    assert [(row.name, row.status) for row in report.rows] == [("specks.svg", "failed")]
    assert report.rows[0].reason.startswith("Everything in the drawing is too small to sew")
    assert not (tmp_path / "out" / "specks.error.txt").exists()


def test_enlarged_it_is_sewn(specks: Path) -> None:
    assert flow.convert(specks, None, 200.0).counts.stitches > 20


def test_cut_out_to_specks_the_layers_are_sewn_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "band.svg"
    band = '<rect x="5" y="5" width="0.28" height="1.2" fill="#c02020"/>'
    path.write_text(PAGE.format(band + '<rect x="5" y="5.4" width="0.28" height="0.4" fill="#20c0c0"/>'))
    plan = flow.convert(path)
    assert plan.counts.stitches > 0
    layered, puzzle = flow.compare(path)
    assert layered.plan.counts.stitches == plan.counts.stitches
    assert puzzle.plan.counts.stitches == 0
