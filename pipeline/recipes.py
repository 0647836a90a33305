"""What can be chosen by name: fabrics, threads, machines. Common practice, no source (handbook of the trade)."""

from __future__ import annotations

from pipeline.model import Fabric, Machine, Thread

FABRICS = (
    Fabric("firm woven", 0.15, 0.20, 0.40, "edge and rows", "tear-away or none", 1.0, bias=1.4),
    Fabric("light woven", 0.15, 0.21, 0.42, "edge and light rows", "light cut-away", 0.8, bias=1.5),
    Fabric("knit", 0.30, 0.20, 0.40, "edge and crossed rows", "cut-away", 1.0),
    Fabric("pile", 0.40, 0.19, 0.38, "edge and crossed rows", "cut-away, and a film on top", 1.5),
    Fabric("felt", 0.10, 0.22, 0.44, "edge", "tear-away", 1.2),
    Fabric("cap front", 0.30, 0.20, 0.40, "edge and rows", "cap backing", 1.2, centre_out=True, bias=1.3),
)
THREADS = (
    Thread("polyester 40", 27.0, 0.25, "75/11"),
    Thread("rayon 40", 27.0, 0.25, "75/11"),
    Thread("polyester 60", 17.0, 0.20, "65/9"),
)
MACHINES = (
    Machine("single head", 360.0, 200.0, 15, 800.0, 6.0, 12.0),
    Machine("small hoop", 130.0, 180.0, 6, 650.0, 6.0, 15.0),
    Machine("cap frame", 270.0, 70.0, 15, 650.0, 6.0, 12.0),
)
