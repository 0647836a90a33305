"""Artwork as the reference renderer paints it: resvg through PyPI ``resvg_py`` (MPL-2.0).

Without anti-aliasing, and in a process of its own since it aborts on some hostile files.
"""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

CRISP = "*{shape-rendering:crispEdges !important}"
RENDER = """
import sys, resvg_py
sys.stdout.buffer.write(resvg_py.svg_to_bytes(svg_string=sys.stdin.read(), dpi=96.0, width=int(sys.argv[1]),
    skip_system_fonts=True, style_sheet=sys.argv[2]))
"""


def rendered(svg: Path, width_px: int) -> NDArray[np.uint8]:
    """The file as the reference paints it, ``(h, w, 4)`` RGBA."""
    command = [sys.executable, "-c", RENDER, str(width_px), CRISP]
    done = subprocess.run(command, input=svg.read_bytes(), capture_output=True, timeout=60, check=True)
    return np.asarray(Image.open(io.BytesIO(done.stdout)).convert("RGBA"))
