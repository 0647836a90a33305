"""Surfaces to parts by local width: tatami, satin or run."""
