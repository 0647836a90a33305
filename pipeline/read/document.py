"""From a file to a safe tree: size limits, svgz, and a parser that fetches and expands nothing from outside.

lxml (libxml2) keeps its own limits here: entity expansion is bounded, tokens end at 10 MB, nesting at 256
levels. Internal entities are expanded, because honest files use them; external ones are refused.
"""

from __future__ import annotations

import hashlib
import io
import re
import zlib
from dataclasses import dataclass
from pathlib import Path

from lxml import etree

from pipeline.errors import ArtworkError

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
SPACE = b" \t\r\n\x00"
PICTURES = {
    b"\x89PNG": "a PNG picture",
    b"\xff\xd8\xff": "a JPEG picture",
    b"GIF8": "a GIF picture",
    b"BM": "a BMP picture",
    b"II*\x00": "a TIFF picture",
    b"MM\x00*": "a TIFF picture",
    b"%PDF": "a PDF document",
    b"%!PS": "a PostScript document",
    b"PK\x03\x04": "a ZIP archive",
}
"""How files begin that are often renamed instead of exported. From memory."""


@dataclass(frozen=True, eq=False)
class Document:
    """A parsed file: its root element, its name without ending, and the hash of its bytes."""

    root: etree._Element
    name: str
    sha256: str


def load(path: Path, most_bytes: int) -> Document:
    """The tree of the SVG file at ``path``; raises ``ArtworkError`` where there is none to be had."""
    raw = _bytes(path, most_bytes)
    root = _tree(_unpacked(raw, most_bytes))
    if local(root) != "svg" or namespace(root) not in (SVG, ""):
        raise ArtworkError(
            f"The file is XML, but its outermost element is <{local(root)}>, not <svg>; send an SVG drawing."
        )
    return Document(root, path.stem, hashlib.sha256(raw).hexdigest())


def local(element: etree._Element) -> str:
    """The element's name without its namespace."""
    return str(element.tag).rpartition("}")[2]


def namespace(element: etree._Element) -> str:
    """The element's namespace, empty for none."""
    return str(element.tag).rpartition("}")[0].lstrip("{")


def _bytes(path: Path, most_bytes: int) -> bytes:
    try:
        with path.open("rb") as stream:
            raw = stream.read(most_bytes + 1)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise ArtworkError(
            f"The file cannot be read ({reason}); check that it exists and may be opened."
        ) from error
    if len(raw) > most_bytes:
        raise ArtworkError(
            f"The file is larger than {most_bytes / 1e6:g} MB; simplify it or raise read.most_megabytes."
        )
    if not raw.strip(SPACE):
        raise ArtworkError("The file is empty; export the drawing again.")
    for start, kind in PICTURES.items():
        if raw.startswith(start):
            raise ArtworkError(
                f"The file is {kind} whatever its name says; it holds no shapes; export the drawing as SVG."
            )
    return raw


def _unpacked(raw: bytes, most_bytes: int) -> bytes:
    """The bytes of an svgz, unpacked up to the limit; anything else as it is."""
    if not raw.startswith(b"\x1f\x8b"):
        return raw
    work = zlib.decompressobj(zlib.MAX_WBITS | 16)
    try:
        plain = work.decompress(raw, most_bytes + 1)
    except zlib.error as error:
        raise ArtworkError("The packed file (svgz) is damaged; export the drawing again.") from error
    if len(plain) > most_bytes:
        raise ArtworkError(
            f"The packed file holds more than {most_bytes / 1e6:g} MB; simplify it or raise read.most_megabytes."
        )
    if not work.eof:
        raise ArtworkError("The packed file (svgz) ends too early; send it again.")
    return plain


def _tree(plain: bytes) -> etree._Element:
    if re.search(rb"<!ENTITY\s+(?:%\s*)?[^\s>]+\s+(?:SYSTEM|PUBLIC)\b", plain[:100_000]):
        raise ArtworkError(
            "The file refers to an outside entity (<!ENTITY … SYSTEM), which is never fetched; embed its content."
        )
    parser = etree.XMLParser(
        resolve_entities="internal",  # type: ignore[arg-type]  # the stubs are older than the word
        no_network=True,
        load_dtd=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
    )
    try:
        root = etree.parse(io.BytesIO(plain), parser).getroot()
    except etree.XMLSyntaxError as error:
        raise ArtworkError(_plain_reason(error)) from error
    except (etree.LxmlError, ValueError, RecursionError, MemoryError) as error:
        raise ArtworkError(f"The file cannot be parsed as XML ({error}); export the drawing again.") from error
    if root is None:
        raise ArtworkError("The file holds no element at all; export the drawing again.")
    return root


def _plain_reason(error: etree.XMLSyntaxError) -> str:
    """One sentence for the sender, from the parser's own words."""
    words = str(error.msg or error)
    low = words.lower()
    if "depth" in low:
        return "The groups are nested more than 256 deep; ungroup the drawing and export it again."
    if "entity" in low and ("loop" in low or "amplification" in low or "expan" in low):
        return "The file's entities expand without end (an entity bomb); export the drawing without entities."
    if "huge" in low or "too long" in low or "too large" in low:
        return "One piece of text in the file is larger than 10 MB; link or leave out embedded pictures."
    if "encoding" in low:
        return f"The file's letters are not in the encoding that it names ({words}); save it as UTF-8."
    return f"The file is not well-formed XML ({words}); export the drawing again."
