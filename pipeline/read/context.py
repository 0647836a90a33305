"""What the walk hands down from element to element, and what all of it shares."""

from __future__ import annotations

from dataclasses import dataclass

from lxml import etree

from pipeline.errors import ArtworkError
from pipeline.read.document import XLINK
from pipeline.read.matrix import Matrix
from pipeline.read.notes import Notes
from pipeline.read.settings import ReadSettings
from pipeline.read.sizes import Measure
from pipeline.read.style import Cascade, Style

# References within references (use, clip paths, masks, patterns) deeper than this are an attack or a mistake.
MOST_NESTED = 24


@dataclass(frozen=True, eq=False)
class Context:
    """Where an element stands: ``matrix`` maps its user units to mm, ``chain`` the references being followed."""

    matrix: Matrix
    measure: Measure
    style: Style
    name: str
    label: str | None = None
    chain: tuple[etree._Element, ...] = ()
    copied: bool = False
    """Whether it is drawn through a reference."""
    outer: Style | None = None
    """The style of the shape that a marker belongs to, for context-fill and context-stroke."""


@dataclass(eq=False)
class Reading:
    """One file being read: its parts by id, the cascade, the findings, and the budgets left."""

    ids: dict[str, etree._Element]
    cascade: Cascade
    notes: Notes
    settings: ReadSettings
    mm_per_px: float = 1.0
    elements: int = 0
    copies: int = 0
    segments: int = 0

    def count_element(self, copied: bool) -> None:
        """Take one element off the budgets; ``ArtworkError`` when one is spent."""
        self.elements += 1
        self.copies += copied
        settings = self.settings
        if self.elements > settings.most_elements or self.copies > settings.most_copies:
            most, name = (
                (settings.most_copies, "most_copies")
                if self.copies > settings.most_copies
                else (settings.most_elements, "most_elements")
            )
            raise ArtworkError(
                f"The drawing has more than {most} elements {'drawn as copies (use)' if copied else 'in all'}; "
                f"simplify it or raise read.{name}."
            )

    def count_segments(self, number: int) -> None:
        """Take path segments off the budget; ``ArtworkError`` when it is spent."""
        self.segments += number
        if self.segments > self.settings.most_segments:
            raise ArtworkError(
                f"The drawing has more than {self.settings.most_segments} path segments once its copies (use) are "
                "drawn; simplify it or raise read.most_segments."
            )

    def find(self, ident: str, context: Context, what: str) -> etree._Element | None:
        """The element that ``what`` of ``context`` refers to; None, with a finding, where there is none."""
        target = self.ids.get(ident)
        if target is None:
            self.notes.add(
                "reference-missing",
                "warning",
                context.name,
                f"{context.name}: its {what} refers to “{ident[:40]}”, which the file doesn't have; it is ignored.",
            )
        return target

    def enters(self, target: etree._Element, context: Context, what: str) -> bool:
        """Whether a reference may be followed: no cycle, not too deep; a finding where it may not."""
        if target not in context.chain and len(context.chain) < MOST_NESTED:
            return True
        fault = "refers back to itself" if target in context.chain else "is nested too deeply"
        self.notes.add(
            "reference-cycle",
            "error",
            context.name,
            f"{context.name}: its {what} {fault}, so it is left out; draw the copy without the reference.",
        )
        return False


def href(element: etree._Element) -> str:
    """Where an element refers to, blanks removed; empty for nowhere."""
    return str(element.get("href") or element.get(f"{{{XLINK}}}href") or "").strip()
