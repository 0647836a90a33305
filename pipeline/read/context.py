"""What the walk hands down from element to element, and what all of it shares."""

from __future__ import annotations

from dataclasses import dataclass

from lxml import etree

from pipeline.errors import ArtworkError
from pipeline.model import Severity
from pipeline.read.document import XLINK, local
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

    def tell(self, code: str, severity: Severity, context: Context, words: str) -> None:
        """A finding about the element of ``context``; its name comes first."""
        self.notes.add(code, severity, context.name, f"{context.name}: {words}")

    def broken(self, context: Context, fault: object) -> None:
        """A finding for an element that is left out."""
        words = f"it cannot be drawn, because {fault}; correct it in the drawing."
        self.tell("element-broken", "error", context, words)

    def ignored(self, context: Context, prop: str, fault: object) -> None:
        """A finding for a value that is left aside."""
        self.tell("value-ignored", "warning", context, f"its {prop} is ignored, because {fault}.")

    def count_element(self, copied: bool) -> None:
        """Take one element off the budgets; ``ArtworkError`` when one is spent."""
        self.elements += 1
        self.copies += copied
        for name, count in (("most_copies", self.copies), ("most_elements", self.elements)):
            most = getattr(self.settings, name)
            if count > most:
                kind = "drawn as copies (use)" if copied else "in all"
                remedy = f"simplify it or raise read.{name}."
                raise ArtworkError(f"The drawing has more than {most} elements {kind}; {remedy}")

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
            words = f"its {what} refers to “{ident[:40]}”, which the file doesn't have; it is ignored."
            self.tell("reference-missing", "warning", context, words)
        return target

    def enters(self, target: etree._Element, context: Context, what: str) -> bool:
        """Whether a reference may be followed: no cycle, not too deep; a finding where it may not."""
        if target not in context.chain and len(context.chain) < MOST_NESTED:
            return True
        fault = "refers back to itself" if target in context.chain else "is nested too deeply"
        words = f"its {what} {fault}, so it is left out; draw the copy without the reference."
        self.tell("reference-cycle", "error", context, words)
        return False

    def family(self, server: etree._Element, *kinds: str) -> list[etree._Element]:
        """A paint server and those of the same ``kinds`` whose attributes it takes over, nearest first."""
        chain = [server]
        while href(chain[-1]).startswith("#") and len(chain) < 16:
            after = self.ids.get(href(chain[-1])[1:])
            if after is None or after in chain or local(after) not in kinds:
                break
            chain.append(after)
        return chain


def href(element: etree._Element) -> str:
    """Where an element refers to, blanks removed; empty for nowhere."""
    return str(element.get("href") or element.get(f"{{{XLINK}}}href") or "").strip()


def attribute(family: list[etree._Element], name: str, default: str) -> str:
    """The attribute of the nearest of a ``family`` that has it."""
    return next((str(member.get(name)) for member in family if member.get(name) is not None), default)
