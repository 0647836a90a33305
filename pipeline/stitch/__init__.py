"""Steps → Blocks: each part as needle points."""
