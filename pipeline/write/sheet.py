"""The operator's sheet: one page that goes to the machine with the file. Opens from disk, needs no network."""

from __future__ import annotations

from base64 import b64encode
from itertools import pairwise

from pipeline.model import Checks, Finding, Plan
from pipeline.write.page import Html, badge, facts, html, page, table

CAUTIONS = (
    "Keep hands, hair and loose clothing away from the needles and the moving hoop.",
    "Stop the machine before threading, changing a needle or clearing a jam.",
    "Wear eye protection: a needle can break on dense stitching.",
)
DEFERENCE = (
    "Sew a test piece on the same fabric and stabilizer before the goods. Where this sheet and the machine's "
    "manual or the local workplace rules differ, follow those."
)


def sheet_bytes(plan: Plan, picture: bytes) -> bytes:
    """The sheet as HTML in UTF-8, with ``picture`` (PNG) inside it."""
    shown = b64encode(picture).decode("ascii")
    parts = [
        f"<h1>{html(plan.source.name)}</h1>",
        f'<p class="soft">Operator\'s sheet · artwork sha-256 <code>{html(plan.source.sha256[:16])}…</code></p>',
        '<div class="top">'
        f'<img alt="The sewing as planned" src="data:image/png;base64,{shown}">\n{_figures(plan)}</div>',
        _care(),
        "<h2>Set-up</h2>" + _set_up(plan),
        "<h2>Threads</h2>" + _threads(plan),
        "<h2>Colour sequence</h2>" + _sequence(plan),
        "<h2>Findings</h2>" + _findings(plan.findings),
        "<h2>Checks</h2>" + _checks(plan),
        "<h2>How the figures are reckoned</h2>" + _reckoning(plan),
    ]
    return page(f"{plan.source.name} · operator's sheet", "\n".join(parts), "sheet")


def _figures(plan: Plan) -> str:
    counts = plan.counts
    pairs = [
        ("Sewn size", f"{counts.width_mm:.1f} × {counts.height_mm:.1f} mm"),
        ("Viewport", f"{plan.source.width_mm:.1f} × {plan.source.height_mm:.1f} mm"),
        ("Stitches", f"{counts.stitches:,}"),
        ("Sewing time", f"{counts.minutes:.1f} min"),
        ("Colours", len(plan.spools)),
        ("Colour changes", counts.colour_changes),
        ("Trims", counts.trims),
        ("Uncut jumps", counts.jumps),
        ("Top thread", f"{counts.thread_m:.1f} m"),
        ("Bobbin thread", f"{counts.bobbin_m:.1f} m"),
        ("Price", f"{plan.price.amount:.2f}"),
        ("Stitches of", _split(plan)),
        (
            "Origin of the machine file",
            f"{plan.sewing.centre[0]:.2f}, {plan.sewing.centre[1]:.2f} mm from top left",
        ),
    ]
    return facts(pairs, wide=("Stitches of", "Origin of the machine file"))


def _split(plan: Plan) -> str:
    counts = plan.counts
    kinds = {"foundation": counts.foundation, "cover": counts.cover, "travel": counts.travel, "locks": counts.lock}
    return ", ".join(f"{name} {number:,}" for name, number in kinds.items())


def told(plan: Plan, group: str, key: str) -> str:
    """A value of the plan's settings as text; “not given” where the plan does not say."""
    values = plan.settings.get(group)
    value = values.get(key) if isinstance(values, dict) else None
    return "not given" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def _set_up(plan: Plan) -> str:
    pairs = [
        ("Fabric", told(plan, "fabric", "name")),
        ("Stabilizer", told(plan, "fabric", "stabilizer")),
        ("Thread", told(plan, "thread", "name")),
        ("Needle", told(plan, "thread", "needle")),
        ("Machine", told(plan, "machine", "name")),
        ("Hoop", f"{told(plan, 'machine', 'hoop_width_mm')} × {told(plan, 'machine', 'hoop_height_mm')} mm"),
    ]
    return facts(pairs)


def swatch(colour: str) -> Html:
    """A colour to look at."""
    return Html(f'<span class="swatch" style="background:{html(colour)}"></span>')


def _threads(plan: Plan) -> str:
    rows = [
        (number, swatch(spool.colour), spool.name, spool.colour, f"{spool.metres:.1f}")
        for number, spool in enumerate(plan.spools, start=1)
    ]
    return table(("No.", "Colour", "Name", "sRGB", "Metres"), rows, numeric=(4,))


def _sequence(plan: Plan) -> str:
    """One row a stop: what to thread, and how much is sewn until the next."""
    passes = plan.sewing.passes
    starts = [i for i, step in enumerate(passes) if i == 0 or step.approach == "colour"]
    rows = []
    for number, (first, past) in enumerate(pairwise([*starts, len(passes)]), start=1):
        spool = plan.spools[passes[first].thread]
        stitches = sum(len(step.points) for step in passes[first:past])
        trims = sum(step.approach == "trim" for step in passes[first:past])
        regions = list(dict.fromkeys(step.region for step in passes[first:past]))
        thread = f"{passes[first].thread + 1} · {spool.name}"
        rows.append((number, swatch(spool.colour), thread, _listed(regions), trims, f"{stitches:,}"))
    return table(("Stop", "Colour", "Thread", "Regions", "Trims", "Stitches"), rows, numeric=(4, 5))


def _listed(names: list[str], most: int = 12) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def _findings(findings: tuple[Finding, ...]) -> str:
    if not findings:
        return "<p>None.</p>"
    ranks = {"error": 0, "warning": 1, "note": 2}
    rows = []
    for f in sorted(findings, key=lambda f: ranks[f.severity]):
        at = "" if f.at is None else f"{f.at[0]:.1f}, {f.at[1]:.1f}"
        rows.append((badge(f.severity), f.message, f.region or "", at, f.code))
    return table(("Severity", "What to know", "Region", "At, mm", "Code"), rows, numeric=(3,))


INSPECTED = (
    '<p class="soft">Inspected from the needle points alone. The machine file, read back, gives the same points, '
    "cuts and colour changes; one that does not is not written.</p>"
)


def _checks(plan: Plan) -> str:
    if plan.cut_out is None:
        return table(("Figure", "As planned"), checked(plan.checks).items(), numeric=(1,)) + INSPECTED
    heads = ("Figure", "As planned, in layers", "If cut out puzzle-fashion")
    return table(heads, compared(plan.checks, plan.cut_out), numeric=(1, 2)) + INSPECTED


def compared(one: Checks, other: Checks) -> list[tuple[str, str, str]]:
    """The figures of both inspections side by side."""
    theirs = checked(other)
    return [(name, figure, theirs[name]) for name, figure in checked(one).items()]


def checked(checks: Checks) -> dict[str, str]:
    """An inspection's figures by their names, as text."""
    return {
        "Top thread has the artwork's colour": f"{checks.picture_agreement:.1%}",
        "Artwork covered by thread": f"{checks.covered:.1%}",
        "Thread outside the artwork": f"{checks.outside:.2%}",
        "Fabric that shows after pull": f"{checks.gap_mm2:.1f} mm²",
        "Longest gap after pull": f"{checks.longest_gap_mm:.1f} mm",
        "Thickest place": f"{checks.peak_layers:.1f} layers",
        "Area over the limit of layers": f"{checks.thick_mm2:.1f} mm²",
        "Most penetrations in 1 mm²": f"{checks.peak_penetrations_per_mm2:.0f}",
        "Area over the limit of penetrations": f"{checks.pierced_mm2:.1f} mm²",
        "Stitches": f"{checks.stitches:,}",
    }


def _reckoning(plan: Plan) -> str:
    """Each figure with its formula and the values that went into it."""
    through, tail = told(plan, "fabric", "thickness_mm"), told(plan, "measure", "cut_tail_mm")
    share, full = told(plan, "measure", "bobbin_share"), told(plan, "measure", "full_speed_stitch_mm")
    depth, speed = told(plan, "measure", "interlock"), told(plan, "machine", "stitches_per_minute")
    cut, change = told(plan, "machine", "trim_s"), told(plan, "machine", "colour_change_s")
    counts = plan.counts
    per_thousand = counts.thread_m / max(counts.stitches, 1) * 1000.0
    rows = [
        (
            "Top thread",
            f"Σ (L + 2 · {depth} · T) + uncut jumps + tail × (1 + trims + colour changes): L the stitch's length, "
            f"T the way through {through} mm of fabric and stabilizer and a thread's thickness for every full "
            f"layer that lies beneath, {depth} the depth at which the threads lock (0.5 the middle, 1 the "
            f"underside), tail {tail} mm; {per_thousand:.1f} m a thousand stitches",
        ),
        ("Bobbin thread", f"{share} × top thread = {counts.bobbin_m:.1f} m"),
        (
            "Sewing time",
            f"cycles ÷ {speed} a minute + {cut} s × {counts.trims} trims + {change} s × {counts.colour_changes} "
            f"colour changes; a stitch over {full} mm takes cycles in proportion to its length",
        ),
        ("Price", plan.price.formula),
        ("Stitches", "needle penetrations: the machine file's stitch records"),
        ("One layer", "5 mm of thread a mm²: rows 0.20 mm apart"),
        (
            "Fabric after pull",
            f"ends of rows and rungs move in by {told(plan, 'fabric', 'pull_mm')} mm "
            f"(× {told(plan, 'fabric', 'bias')} on the bias), sides out by {told(plan, 'measure', 'push_share')} "
            "of that; what fabric then shows counts",
        ),
    ]
    return table(("Figure", "Reckoned as"), rows)


def _care() -> str:
    items = "".join(f"<li>{html(line)}</li>" for line in CAUTIONS)
    return f'<div class="care"><h2>Safety</h2><ul>{items}</ul><p>{html(DEFERENCE)}</p></div>'
