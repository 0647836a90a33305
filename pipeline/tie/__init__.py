"""Blocks → Sewing: moves between blocks, trims, locks, and the machine's grid."""
