"""How reading compares with a reference renderer and with the SVG library's own parse, over a whole set.

    python tests/bench/reading.py twemoji --count 500

Every file is read as it would be sewn at ``--width`` mm and painted flat at 8 px/mm beside the reference (PyPI
``resvg_py``); pixels within 1 px of an edge of the reference's picture are left out, colours closer than CIEDE2000
5 count as equal. In files with gradients the stops of each are first replaced by the mean of its ramp in linear
light, reckoned here and not by plystitch (such files are marked ``g``). Prints agreement, every file under 95 %
with what was found in it, exceptions, and the CPU of reading over that of ``svgelements.SVG.parse`` of the same
bytes, each the better of two, side by side in one process.
"""

from __future__ import annotations

import argparse
import contextlib
import gzip
import random
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import svgelements
from lxml import etree

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "read")]

from corpora import corpus
from read_pictures import agreement, painted, references

from pipeline.colour import linear
from pipeline.errors import ArtworkError
from pipeline.model import Drawing, Finding
from pipeline.read.colour import parse
from pipeline.read.reading import read_drawing
from pipeline.read.settings import ReadSettings

PX_PER_MM = 8
SETTINGS = ReadSettings(keep_page=True)
BATCH = 20
GRADIENTS = ("{*}linearGradient", "{*}radialGradient")


def levelled(data: bytes) -> tuple[bytes, bool]:
    """The document with every gradient's stops replaced by their mean, and whether it has any."""
    if b"Gradient" not in data:
        return data, False
    root = etree.fromstring(data, etree.XMLParser(resolve_entities="internal", no_network=True))
    found = False
    for gradient in root.iter(*GRADIENTS):
        stops = gradient.findall("{*}stop")
        if len(stops) > 1:
            found = True
            r, g, b, alpha = _mean(stops)
            for stop in stops[1:]:
                gradient.remove(stop)
            for name in ("style", "class"):
                stops[0].attrib.pop(name, None)
            stops[0].set("stop-color", f"#{r:02x}{g:02x}{b:02x}")
            stops[0].set("stop-opacity", f"{alpha:.4f}")
    return etree.tostring(root), found


def _mean(stops: list[etree._Element]) -> tuple[int, int, int, float]:
    """The mean of a ramp from its first to its last stop, in linear light."""
    places, colours = [], []
    for stop in stops:
        text = stop.get("style") or ""
        style = dict(tuple(map(str.strip, part.split(":", 1))) for part in text.split(";") if ":" in part)
        shade = parse(style.get("stop-color", stop.get("stop-color", "black"))) or (0.0, 0.0, 0.0, 1.0)
        alpha = _share(style.get("stop-opacity", stop.get("stop-opacity", "1")))
        places.append(max([_share(stop.get("offset") or "0"), *places[-1:]]))
        colours.append((*shade[:3], shade[3] * alpha))
    t = np.linspace(0, 1, 512)
    ramp = np.column_stack([np.interp(t, places, np.array(colours)[:, i]) for i in range(4)])
    alpha = float(ramp[:, 3].mean())
    light = (linear(ramp[:, :3]) * ramp[:, 3:]).mean(axis=0) / max(alpha, 1e-9)
    srgb = np.where(light <= 0.0031308, light * 12.92, 1.055 * np.maximum(light, 0) ** (1 / 2.4) - 0.055)
    r, g, b = (round(float(v) * 255) for v in np.clip(srgb, 0, 1))
    return r, g, b, alpha


def _share(text: str) -> float:
    try:
        value = float(text.rstrip("% ")) / (100 if text.strip().endswith("%") else 1)
    except ValueError:
        return 1.0
    return min(max(value, 0.0), 1.0)


class Row:
    """What became of one file."""

    def __init__(self, path: Path, width: float) -> None:
        raw = path.read_bytes()
        self.name, self.ratio, self.error, self.agreement = path.name, 0.0, "", -1.0
        self.findings: list[Finding] = []
        self.drawing: Drawing | None = None
        self.data, self.levelled = raw, False
        with contextlib.suppress(etree.LxmlError, ValueError):
            self.data, self.levelled = levelled(gzip.decompress(raw) if raw[:2] == b"\x1f\x8b" else raw)
        mine = _cpu(lambda: read_drawing(path, SETTINGS, lambda _: None, width))
        theirs = _cpu(lambda: svgelements.SVG.parse(str(path)))
        self.mine, self.ratio = mine, mine / theirs if mine and theirs else 0.0
        with tempfile.TemporaryDirectory() as place:
            copy = Path(place) / path.name
            copy.write_bytes(self.data)
            try:
                self.drawing = read_drawing(copy, SETTINGS, self.findings.append, width)
            except ArtworkError as error:
                self.error = f"refused: {error}"
            except Exception as error:
                self.error = f"EXCEPTION {type(error).__name__}: {error}"


def _cpu(work: Callable[[], object]) -> float:
    """CPU seconds, the better of two; 0 where it raises."""
    best = 0.0
    for _ in range(2):
        began = time.process_time()
        try:
            work()
        except Exception:
            return 0.0
        took = time.process_time() - began
        best = min(best or took, took)
    return best


def judged(rows: list[Row], fonts: bool) -> None:
    """Compare those of ``rows`` that were read with the reference's pictures."""
    read = [row for row in rows if row.drawing is not None]
    files = [(row.data, round(row.drawing.width_mm * PX_PER_MM)) for row in read if row.drawing is not None]
    for row, picture in zip(read, references(files, fonts), strict=True):
        if picture is not None and row.drawing is not None:
            row.agreement = agreement(painted(row.drawing, picture.shape), picture)
        row.drawing = None


def report(rows: list[Row]) -> None:
    """The figures for people."""
    told = [row for row in rows if row.error]
    broken = [row for row in told if row.error.startswith("EXCEPTION")]
    print(
        f"files {len(rows)}, read {len(rows) - len(told)}, refused {len(told) - len(broken)}, broken {len(broken)}"
    )
    for row in told:
        print(f"  {row.name}: {row.error[:150]}")
    seen = sorted((row for row in rows if row.agreement >= 0), key=lambda row: row.agreement)
    unseen = [row.name for row in rows if row.agreement < 0 and not row.error]
    print(f"the reference fails on {len(unseen)}: {', '.join(unseen[:10])}")
    values = np.array([row.agreement for row in seen])
    print(f"judged {len(seen)} ({sum(row.levelled for row in seen)} levelled), agreement median "
          f"{np.median(values):.4%}, 5th percentile {np.percentile(values, 5):.4%}")  # fmt: skip
    for row in seen:
        if row.agreement < 0.95:
            codes = ", ".join(sorted({finding.code for finding in row.findings})) or "NO FINDING"
            print(f"  {row.agreement:.3%} {'g' if row.levelled else ' '} {row.name}: {codes}")
    ratios = np.array([row.ratio for row in rows if row.ratio])
    print(f"CPU over the library's parse: median {np.median(ratios):.2f}, 95th percentile "
          f"{np.percentile(ratios, 95):.2f} (of {len(ratios)}); whole reading "
          f"{sum(row.mine for row in rows):.1f} s, slowest {max(row.mine for row in rows):.2f} s")  # fmt: skip


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("set", choices=["twemoji", "flags", "openclipart"])
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--width", type=float, default=80.0)
    parser.add_argument("--only", default="", help="only files with this in their name")
    args = parser.parse_args()
    files = corpus(args.set)
    chosen = random.Random(20261125).sample(files, min(args.count, len(files)))
    chosen = [path for path in chosen if args.only in path.name]
    rows: list[Row] = []
    for start in range(0, len(chosen), BATCH):
        batch = [Row(path, args.width) for path in chosen[start : start + BATCH]]
        judged(batch, True)
        rows += batch
        low = [f"{row.agreement:.2%} {row.name}" for row in batch if 0 <= row.agreement < 0.95]
        print(f"{len(rows)} of {len(chosen)}", *low, sep=", ", file=sys.stderr, flush=True)
    report(rows)


if __name__ == "__main__":
    main()
