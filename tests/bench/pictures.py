"""The pictures in README.md and DEVELOPERS.md, made anew.

    python tests/bench/pictures.py

Writes tests/pictures/: artwork beside its sewn picture, and one drawing a handover of the walk in DEVELOPERS.md.
"""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[1]))

from handovers import trace_svg
from reference import RENDER

from pipeline import check, flow
from pipeline.model import Finding
from pipeline.read.reading import read_drawing
from pipeline.regions.stack import stack
from pipeline.roles.assign import assign
from pipeline.settings import Settings
from pipeline.split.parts import split
from pipeline.steps.arrange import arrange
from pipeline.stitch.settings import StitchSettings
from pipeline.stitch.sew import sew
from pipeline.tie.join import join
from pipeline.write.picture import picture_bytes

PROJECT = Path(__file__).parents[2]
PICTURES = PROJECT / "tests" / "pictures"
SIDE = 560


def painted(svg: bytes, width: int) -> Image.Image:
    """An SVG as the reference renderer paints it, on white."""
    command = [sys.executable, "-c", RENDER, str(width), ""]
    done = subprocess.run(command, input=svg, capture_output=True, check=True)
    art = Image.open(io.BytesIO(done.stdout)).convert("RGBA")
    ground = Image.new("RGBA", art.size, "white")
    ground.alpha_composite(art)
    return ground.convert("RGB")


def beside(name: str) -> None:
    """Artwork on the left, sewn on the right."""
    path = PROJECT / "artwork" / f"{name}.svg"
    settings = Settings()
    art = painted(path.read_bytes(), SIDE)
    sewn = Image.open(io.BytesIO(picture_bytes(flow.convert(path, settings), settings.write))).convert("RGB")
    margin = round(settings.write.picture_margin_mm * settings.write.picture_px_per_mm)
    sewn = sewn.crop((margin, margin, sewn.width - margin, sewn.height - margin))
    sewn = sewn.resize((SIDE, round(SIDE * sewn.height / sewn.width)), Image.Resampling.LANCZOS)
    both = Image.new("RGB", (2 * SIDE + 20, max(art.height, sewn.height)), "white")
    both.paste(art, (0, 0))
    both.paste(sewn, (SIDE + 20, 0))
    both.quantize(200).save(PICTURES / f"{name}.png", optimize=True)


def walk(name: str) -> None:
    """Every handover of one design."""
    settings, found = Settings(), list[Finding]()
    drawing = read_drawing(PROJECT / "artwork" / f"{name}.svg", settings.read, found.append)
    layers = stack(drawing, settings.regions, found.append)
    surfaces = assign(layers, settings.roles, settings.craft, found.append)
    parts = split(surfaces, settings.split, settings.craft, found.append)
    order = arrange(parts, surfaces, settings.steps, settings.craft, found.append)
    kinds = StitchSettings(settings.tatami, settings.satin, settings.run)
    blocks = sew(order, kinds, settings.craft, found.append)
    sewing = join(blocks, settings.tie, settings.craft)
    check.sewing(sewing)
    handovers = {"read": drawing.shapes, "roles": surfaces, "split": parts, "steps": order, "tie": sewing.passes}
    for room, items in handovers.items():
        svg = trace_svg(room, items, drawing.width_mm, drawing.height_mm)
        painted(svg.encode(), SIDE).quantize(64).save(PICTURES / f"walk-{room}.png", optimize=True)


if __name__ == "__main__":
    PICTURES.mkdir(exist_ok=True)
    beside("lighthouse-patch")
    beside("kelp-and-crab")
    walk("tern")
