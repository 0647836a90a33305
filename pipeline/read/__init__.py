"""SVG file → Drawing: everything awkward is resolved here, so that no later room knows SVG."""
