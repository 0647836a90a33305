"""Findings gathered while one file is read: each named once, long lists of the same kind cut short."""

from __future__ import annotations

from dataclasses import dataclass, field

from pipeline.model import Finding, Note, Severity, Spot

# More findings of one kind than this drown the others: the rest is told in one sentence.
SHOWN = 12


@dataclass
class Notes:
    """Collects findings; ``hand_over`` passes them on in the order in which their kinds first came up."""

    found: dict[str, list[tuple[str, Finding]]] = field(default_factory=dict)
    seen: set[tuple[str, str, str]] = field(default_factory=set)

    def add(self, code: str, severity: Severity, element: str, message: str, at: Spot | None = None) -> None:
        """Remember one finding; the same words about the same element are remembered once."""
        key = (code, element, message)
        if key not in self.seen:
            self.seen.add(key)
            self.found.setdefault(code, []).append((element, Finding(code, severity, message, at=at)))

    def take(self, finding: Finding) -> None:
        """Remember a finding that names its element first."""
        self.add(finding.code, finding.severity, finding.message.split(",")[0], finding.message, finding.at)

    def hand_over(self, note: Note) -> None:
        """Pass every finding on, long lists of one kind shortened to their first dozen and a count."""
        for code, entries in self.found.items():
            for _, finding in entries[:SHOWN]:
                note(finding)
            rest = entries[SHOWN:]
            if rest:
                names = ", ".join(element for element, _ in rest[:5])
                more = " and others" if len(rest) > 5 else ""
                note(Finding(code, rest[0][1].severity, f"{len(rest)} more of the same kind: {names}{more}."))
