"""Plan → files: plan, machine file, sewn picture, operator's sheet; for a batch its summary and gallery."""
